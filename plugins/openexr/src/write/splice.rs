//! The headers of a template with changed attributes.

use std::collections::BTreeMap;

use super::changes::Change;
use crate::fields::FIELDS;
use crate::header::{Entry, Part};
use crate::private::PREFIX;
use crate::source::HeaderSource;
use crate::version::{LONG_NAMES, START};

/// Longest name without the flag for long ones.
const SHORT: usize = 31;

/// All headers, from the magic number on. `changes` has those of each part, in the order of the parts.
pub fn splice(source: &HeaderSource, changes: &[&BTreeMap<String, Change>]) -> Vec<u8> {
    let HeaderSource { header, bytes, .. } = source;
    let start = bytes.get(..START).unwrap_or_default();
    let mut out = Vec::with_capacity(header.length + 1024);
    out.extend_from_slice(start);
    let mut long = false;
    let none = BTreeMap::new();
    for (number, part) in header.parts.iter().enumerate() {
        let changes = changes.get(number).copied().unwrap_or(&none);
        let mut left: Vec<(&String, &Change)> = changes.iter().collect();
        let entries = header.entries.get(part.entries.clone()).unwrap_or_default();
        for (at, entry) in entries.iter().enumerate() {
            let name = source.keys.get(entry.key).shown();
            let counts = is_last(source, part, at, entry);
            match changes.get(name).filter(|_| counts) {
                Some(Change::Set { kind, value }) => {
                    let key = source.keys.get(entry.key);
                    let raw = key.bytes().get(..key.name_length()).unwrap_or_default();
                    long |= put(&mut out, raw, kind, value);
                }
                Some(Change::Remove) => {}
                None => {
                    let end = (entry.value + entry.size) as usize;
                    out.extend(bytes.get(entry.at as usize..end).unwrap_or_default());
                }
            }
            if counts {
                left.retain(|(changed, _)| *changed != name);
            }
        }
        left.sort_by_cached_key(|(name, _)| order(name));
        for (name, change) in left {
            if let Change::Set { kind, value } = change {
                long |= put(&mut out, name.as_bytes(), kind, value);
            }
        }
        out.push(0);
    }
    if header.multi_part {
        out.push(0);
    }
    if long && let Some(flags) = out.get_mut(5) {
        *flags |= (LONG_NAMES >> 8) as u8;
    }
    out
}

/// Whether the attribute is the last one of its name in the part, which is the one that counts.
fn is_last(source: &HeaderSource, part: &Part, at: usize, entry: &Entry) -> bool {
    let header = &source.header;
    if header.repeated.is_empty() {
        return true;
    }
    let entries = header.entries.get(part.entries.clone()).unwrap_or_default();
    let name = source.keys.get(entry.key).shown();
    let later = entries.get(at + 1..).unwrap_or_default();
    later
        .iter()
        .all(|other| source.keys.get(other.key).shown() != name)
}

/// New attributes come in the order of the table, then custom ones, then private ones.
fn order(name: &str) -> (usize, bool, String) {
    let place = FIELDS.iter().position(|field| field.name == name);
    (
        place.unwrap_or(FIELDS.len()),
        name.starts_with(PREFIX),
        name.to_owned(),
    )
}

/// Writes an attribute; whether its name or type is a long one.
fn put(out: &mut Vec<u8>, name: &[u8], kind: &str, value: &[u8]) -> bool {
    out.extend_from_slice(name);
    out.push(0);
    out.extend_from_slice(kind.as_bytes());
    out.push(0);
    out.extend_from_slice(&(value.len() as u32).to_le_bytes());
    out.extend_from_slice(value);
    name.len() > SHORT || kind.len() > SHORT
}
