//! What earlier runs found out about documents that have not changed.

use std::sync::atomic::{AtomicU64, Ordering};

use super::one::Checked;
use crate::inputs::Group;
use crate::store::Store;
use crate::store::key::{Identity, Keys};
use crate::store::record::{Known, Record};
use crate::store::stamp::{self, Key, Stamp};

/// The store of results as a run uses it.
pub struct Memory {
    store: Store,
    keys: Keys,
    recalled: AtomicU64,
}

impl Memory {
    /// Names by `keys` in a store.
    pub fn new(store: Store, keys: Keys) -> Memory {
        Memory {
            store,
            keys,
            recalled: AtomicU64::new(0),
        }
    }

    /// The same for checks against other records: their names and contents. `None` if one of them cannot be known.
    pub fn beside<'g>(mut self, others: impl Iterator<Item = &'g Group>) -> Option<Memory> {
        let mut records = Vec::new();
        for group in others {
            records.extend_from_slice(&self.identity(group)?.key);
            records.extend_from_slice(group.name.as_bytes());
            records.push(0);
        }
        self.keys = self.keys.judged_by(&records);
        Some(self)
    }

    /// What a document is by its content; `None` if that cannot be known, so that it is checked in any case.
    pub fn identity(&self, group: &Group) -> Option<Identity> {
        if group.is_stdin() || group.trouble.is_some() {
            return None;
        }
        let before = Stamp::of(&group.files)?;
        let place = self.keys.place(group)?;
        let kept: Option<(Key, Key)> = self.store.get(&place);
        let content = match kept {
            Some((stamp, content)) if stamp == before.digest => content,
            _ => {
                let content = stamp::content(&group.files, &before)?;
                if Stamp::of(&group.files)?.digest != before.digest {
                    return None;
                }
                if before.proves() {
                    self.store.put(&place, &(before.digest, content));
                }
                content
            }
        };
        Some(self.keys.identity(group, &content, before))
    }

    /// What was found out about a document before it was checked.
    pub fn known(&self, identity: &Identity) -> Option<Known> {
        self.store.get(&identity.key)
    }

    /// Keeps that.
    pub fn learn(&self, identity: &Identity, known: &Known) {
        self.store.put(&identity.key, known);
    }

    /// Puts the result of an earlier check into `checked`, if there is one.
    pub fn recall(&self, identity: &Identity, found: Option<&Key>, checked: &mut Checked) -> bool {
        let key = self.keys.result(identity, found);
        let record: Option<Record> = self.store.get(&key);
        let recalled = record.and_then(|record| record.put(checked)).is_some();
        self.recalled.fetch_add(recalled.into(), Ordering::Relaxed);
        recalled
    }

    /// Keeps the result of a check, if the files were the same all the while.
    pub fn keep(&self, group: &Group, identity: &Identity, found: Option<&Key>, checked: &Checked) {
        let Some(record) = Record::of(checked) else {
            return;
        };
        if Stamp::of(&group.files).is_some_and(|now| now.digest == identity.stamp.digest) {
            self.store.put(&self.keys.result(identity, found), &record);
        }
    }

    /// How many documents were not checked anew.
    pub fn recalled(&self) -> u64 {
        self.recalled.load(Ordering::Relaxed)
    }

    /// Writes what is not written yet; what went wrong, in a line for people.
    pub fn close(self) -> Option<String> {
        self.store.close()
    }
}
