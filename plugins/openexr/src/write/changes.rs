//! What becomes of the attributes of a template's parts.

use std::collections::BTreeMap;

use super::old::Old;
use crate::private::{self, Described, Descriptions};
use crate::take::extra::MOST_KEPT;

/// What becomes of an attribute.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// It has this type and value.
    Set {
        /// Name of the type.
        kind: String,
        /// Bytes of the value.
        value: Vec<u8>,
    },
    /// A private one that holds no longer.
    Remove,
}

/// Changes by the names of attributes, and the descriptions that belong to them.
pub struct Changes<'a> {
    /// What the template says.
    pub old: &'a Old<'a>,
    map: BTreeMap<String, Change>,
    before: Descriptions,
    descriptions: Descriptions,
}

impl<'a> Changes<'a> {
    /// No changes of what `old` says.
    pub fn new(old: &'a Old<'a>) -> Self {
        let described = old.value(private::COLUMNS, "string");
        // Damaged descriptions are none, as in reading.
        let before = described.and_then(|value| private::parse::<Descriptions>(value).ok());
        let before = before.unwrap_or_default();
        Changes {
            old,
            map: BTreeMap::new(),
            descriptions: before.clone(),
            before,
        }
    }

    /// Gives an attribute a value, unless it has it.
    pub fn set(&mut self, name: &str, kind: &str, value: &[u8]) -> Result<(), String> {
        if value.len() > MOST_KEPT {
            return Err(format!(
                "{name} has {} bytes, at most {MOST_KEPT} are read back",
                value.len()
            ));
        }
        if self.old.value(name, kind) == Some(value) {
            self.map.remove(name);
            return Ok(());
        }
        let change = Change::Set {
            kind: kind.to_owned(),
            value: value.to_vec(),
        };
        self.map.insert(name.to_owned(), change);
        Ok(())
    }

    /// Says what name and type of an attribute do not; `None` if they say all.
    pub fn describe(&mut self, name: &str, said: Option<Described>) {
        match said.filter(|said| *said != Described::default()) {
            Some(said) => self.descriptions.insert(name.to_owned(), said),
            None => self.descriptions.remove(name),
        };
    }

    /// Removes a private attribute, if the template has it.
    pub fn remove(&mut self, name: &str) {
        self.descriptions.remove(name);
        if self.old.find(name).is_some() {
            self.map.insert(name.to_owned(), Change::Remove);
        } else {
            self.map.remove(name);
        }
    }

    /// Gives a text, unless the attribute reads as that.
    pub fn set_text(&mut self, name: &str, text: &str) -> Result<(), String> {
        match self.old.value(name, "string") {
            Some(old) if String::from_utf8_lossy(old) == text => {
                self.map.remove(name);
                Ok(())
            }
            _ => self.set(name, "string", text.as_bytes()),
        }
    }

    /// The value that the attribute will have, if it has this type.
    pub fn value(&self, name: &str, kind: &str) -> Option<&[u8]> {
        match self.map.get(name) {
            Some(Change::Set { kind: new, value }) => (new == kind).then_some(value.as_slice()),
            Some(Change::Remove) => None,
            None => self.old.value(name, kind),
        }
    }

    /// All changes.
    pub fn finish(mut self) -> Result<BTreeMap<String, Change>, String> {
        if self.descriptions != self.before {
            if self.descriptions.is_empty() {
                self.remove(private::COLUMNS);
            } else {
                let text = private::text(&self.descriptions);
                self.set(private::COLUMNS, "string", &text)?;
            }
        }
        Ok(self.map)
    }
}
