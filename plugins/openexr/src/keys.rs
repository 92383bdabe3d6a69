//! Names and types of attributes, looked up once and known by a number from then on.

use std::collections::BTreeMap;

use crate::attribute::Kind;
use crate::fields::{FIELDS, Field, REQUIRED_FIELDS, Required, Role, field};
use crate::private;

/// Different attributes in a sequence; more are refused.
const MOST_KEYS: usize = 4096;

/// Number of a key.
pub type KeyId = u32;

/// A name with a type.
#[derive(Debug, Clone)]
pub struct Key {
    /// `name NUL type NUL`, as it stands in headers.
    bytes: Box<[u8]>,
    name_length: usize,
    /// The name as messages and channels show it.
    shown: String,
    /// Number of the name: the same for every type it comes with.
    pub name_id: u32,
    /// Layout of the values.
    pub kind: Kind,
    /// The only size a value may have.
    pub size: Option<usize>,
    /// The row of the table, whatever the type here.
    pub field: Option<&'static Field>,
    /// What becomes of it; `None` if the type is not the one of the table.
    pub role: Option<Role>,
    /// Length of the name or the type, whichever is longer.
    pub longest: usize,
    /// Bit of this attribute in a set of required ones; 0 for others and for another type.
    pub required_bit: u32,
}

impl Key {
    /// `name NUL type NUL`.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Bytes of the name.
    pub fn name_length(&self) -> usize {
        self.name_length
    }

    /// Name for messages and channels.
    pub fn name(&self) -> String {
        self.shown.clone()
    }

    /// The same, lent.
    pub fn shown(&self) -> &str {
        &self.shown
    }

    /// Type for messages and channels.
    pub fn type_name(&self) -> String {
        let end = self.bytes.len().saturating_sub(1);
        printable(
            self.bytes
                .get(self.name_length + 1..end)
                .unwrap_or_default(),
        )
    }

    /// Whether it becomes anything: what describes the storage of pixels does not.
    pub fn is_delivered(&self) -> bool {
        !matches!(
            self.role,
            Some(Role::Structural | Role::View | Role::PartName | Role::PartType)
        )
    }

    /// When a header must have it.
    pub fn required(&self) -> Required {
        self.field.map_or(Required::No, |field| field.required)
    }
}

/// All keys seen so far.
#[derive(Debug, Default)]
pub struct Keys {
    list: Vec<Key>,
    by_bytes: BTreeMap<Box<[u8]>, KeyId>,
    by_name: BTreeMap<Box<[u8]>, u32>,
}

impl Keys {
    /// The key with this number, which came from [`Keys::intern`].
    pub fn get(&self, id: KeyId) -> &Key {
        &self.list[id as usize]
    }

    /// The number of the key that `bytes` (`name NUL type NUL`) spell. `None` if there are too many.
    pub fn intern(&mut self, bytes: &[u8], name_length: usize) -> Option<KeyId> {
        if let Some(&id) = self.by_bytes.get(bytes) {
            return Some(id);
        }
        if self.list.len() == MOST_KEYS {
            return None;
        }
        let name = bytes.get(..name_length).unwrap_or_default();
        let kind_name = bytes
            .get(name_length + 1..bytes.len().saturating_sub(1))
            .unwrap_or_default();
        let next_name = self.by_name.len() as u32;
        let name_id = *self.by_name.entry(name.into()).or_insert(next_name);
        let kind = Kind::of(kind_name);
        let field = field(name);
        let right_type = field.is_none_or(|field| field.kind.as_bytes() == kind_name);
        let place = FIELDS
            .iter()
            .take(REQUIRED_FIELDS)
            .position(|row| right_type && row.name.as_bytes() == name);
        let id = self.list.len() as KeyId;
        self.list.push(Key {
            bytes: bytes.into(),
            name_length,
            shown: printable(name),
            name_id,
            kind,
            size: kind.fixed_size(),
            field,
            role: match field {
                Some(field) => right_type.then_some(field.role),
                None => Some(private::role(name, kind_name).unwrap_or(Role::Extra(""))),
            },
            longest: name.len().max(kind_name.len()),
            required_bit: place.map_or(0, |place| 1 << place),
        });
        self.by_bytes.insert(bytes.into(), id);
        Some(id)
    }
}

/// A name as text: control characters escaped, bytes outside UTF-8 replaced.
pub fn printable(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len());
    for character in String::from_utf8_lossy(bytes).chars() {
        if character.is_control() {
            text.extend(character.escape_default());
        } else {
            text.push(character);
        }
    }
    text
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_name_with_another_type_is_another_key_of_the_same_name() {
        let mut keys = Keys::default();
        let float = keys.intern(b"focus\0float\0", 5).unwrap();
        let text = keys.intern(b"focus\0string\0", 5).unwrap();
        assert_eq!(keys.intern(b"focus\0float\0", 5), Some(float));
        assert_ne!(float, text);
        let (float, text) = (keys.get(float), keys.get(text));
        assert_eq!(float.name_id, text.name_id);
        assert!(float.role.is_some() && text.role.is_none());
        assert_eq!(
            (text.name(), text.type_name()),
            ("focus".to_owned(), "string".to_owned())
        );
    }

    #[test]
    fn the_count_of_keys_is_limited() {
        let mut keys = Keys::default();
        let ids = (0..5000).filter_map(|n| {
            let name = format!("a{n}");
            keys.intern(format!("{name}\0int\0").as_bytes(), name.len())
        });
        assert_eq!(ids.count(), MOST_KEYS);
    }

    #[test]
    fn names_are_printable() {
        assert_eq!(printable(b"a\x1b[1m\xff"), "a\\u{1b}[1m\u{fffd}");
    }
}
