//! What the parts of a template say.

use crate::attribute::Kind;
use crate::keys::Keys;
use crate::source::HeaderSource;

/// An attribute of a template.
#[derive(Debug, Clone, Copy)]
pub struct OldAttribute<'a> {
    /// Name as channels show it.
    pub name: &'a str,
    /// `name NUL type NUL`.
    key: &'a [u8],
    name_length: usize,
    /// Layout of the value.
    pub layout: Kind,
    /// Bytes of the value.
    pub value: &'a [u8],
}

impl<'a> OldAttribute<'a> {
    /// Name of the type.
    pub fn kind(&self) -> &'a [u8] {
        let end = self.key.len().saturating_sub(1);
        self.key.get(self.name_length + 1..end).unwrap_or_default()
    }

    /// The only number, if there is one number.
    pub fn number(&self) -> Option<f64> {
        match self.layout {
            Kind::Numbers(_, 1) => self.layout.numbers(self.value).next(),
            _ => None,
        }
    }
}

/// The attributes of parts that a take reads as one: the first part that has one counts, and in a
/// part the last one of a name.
#[derive(Debug, Default)]
pub struct Old<'a> {
    list: Vec<OldAttribute<'a>>,
}

impl<'a> Old<'a> {
    /// The attributes of `parts`.
    pub fn new(source: &'a HeaderSource, parts: &[usize]) -> Self {
        let HeaderSource {
            keys,
            header,
            bytes,
            ..
        } = source;
        let mut list: Vec<OldAttribute<'a>> = Vec::new();
        for part in parts.iter().filter_map(|&part| header.parts.get(part)) {
            let before = list.len();
            let entries = header.entries.get(part.entries.clone());
            for entry in entries.unwrap_or_default() {
                let found = attribute(keys, entry.key, entry.value(bytes));
                let has = |known: &OldAttribute<'_>| known.name == found.name;
                match list.iter().position(has) {
                    Some(at) if at >= before => list[at] = found,
                    Some(_) => {}
                    None => list.push(found),
                }
            }
        }
        Old { list }
    }

    /// The attribute of this name.
    pub fn find(&self, name: &str) -> Option<&OldAttribute<'a>> {
        self.list.iter().find(|old| old.name == name)
    }

    /// The value of the attribute of this name, if it has this type.
    pub fn value(&self, name: &str, kind: &str) -> Option<&'a [u8]> {
        let old = self.find(name)?;
        (old.kind() == kind.as_bytes()).then_some(old.value)
    }
}

fn attribute<'a>(keys: &'a Keys, id: crate::keys::KeyId, value: &'a [u8]) -> OldAttribute<'a> {
    let key = keys.get(id);
    OldAttribute {
        name: key.shown(),
        key: key.bytes(),
        name_length: key.name_length(),
        layout: key.kind,
        value,
    }
}
