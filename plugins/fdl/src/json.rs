//! Values of a JSON text that know where they stand.

use std::collections::HashMap;
use std::fmt;
use std::ops::Range;
use std::rc::Rc;

use ringmark_sdk::{Failure, Place, failure};
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_json::value::RawValue;

/// A value: part of the text, and how it is reached.
#[derive(Clone)]
pub struct Node {
    text: Rc<str>,
    range: Range<usize>,
    /// Bytes of the file before the text.
    skipped: usize,
    path: String,
}

/// What a value is, in the words of a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// `{…}`
    Object,
    /// `[…]`
    List,
    /// `"…"`
    Text,
    /// A number.
    Number,
    /// `true` or `false`.
    Truth,
    /// `null`: as if the member were not there.
    Null,
}

impl Kind {
    /// With its article.
    pub const fn name(self) -> &'static str {
        match self {
            Kind::Object => "an object",
            Kind::List => "a list",
            Kind::Text => "a text",
            Kind::Number => "a number",
            Kind::Truth => "true or false",
            Kind::Null => "null",
        }
    }
}

/// Members of an object.
pub struct Members {
    by_key: HashMap<String, Node>,
    repeated: Vec<Node>,
}

impl Members {
    fn of(found: impl Iterator<Item = (String, Node)>) -> Self {
        let mut members = Members {
            by_key: HashMap::new(),
            repeated: Vec::new(),
        };
        for (key, node) in found {
            members.repeated.extend(members.by_key.insert(key, node));
        }
        members
    }

    /// The member called `key`; the last one if there are several.
    pub fn get(&self, key: &str) -> Option<&Node> {
        self.by_key.get(key)
    }

    /// Members that another one of their name follows.
    pub fn repeated(&self) -> &[Node] {
        &self.repeated
    }
}

impl Node {
    /// The whole of `text`, which stands in the file after `skipped` bytes.
    pub fn whole(text: &str, skipped: usize) -> Result<Node, Failure> {
        let raw: &RawValue = serde_json::from_str(text).map_err(|error| {
            let offset = (skipped + offset_of(text, &error)) as u64;
            let place = Place {
                input: 0,
                offset,
                length: 0,
                field: String::new(),
            };
            let (what, help) = if is_cut(text, &error) {
                (
                    "the file ends within the list: it was cut off".to_owned(),
                    "get a whole copy of the file",
                )
            } else {
                (
                    format!("this is no JSON: {}", reason(&error)),
                    "correct it here, or write the list again",
                )
            };
            failure(what, help, Some(place))
        })?;
        let range = part(text, raw.get());
        Ok(Node {
            text: Rc::from(text),
            range,
            skipped,
            path: String::new(),
        })
    }

    /// What it is.
    pub fn kind(&self) -> Kind {
        match self.raw().as_bytes().first() {
            Some(b'{') => Kind::Object,
            Some(b'[') => Kind::List,
            Some(b'"') => Kind::Text,
            Some(b't' | b'f') => Kind::Truth,
            Some(b'n') => Kind::Null,
            _ => Kind::Number,
        }
    }

    /// As it stands in the file.
    pub fn raw(&self) -> &str {
        self.text.get(self.range.clone()).unwrap_or_default()
    }

    /// How it is reached, as `contexts[0].label`; empty for the whole.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Where it stands.
    pub fn place(&self) -> Place {
        Place {
            input: 0,
            offset: (self.skipped + self.range.start) as u64,
            length: self.range.len() as u64,
            field: self.path.clone(),
        }
    }

    /// Its members; `None` if it is no object.
    pub fn members(&self) -> Option<Members> {
        let List(found) = serde_json::from_str::<List<Keyed>>(self.raw()).ok()?;
        let member = |Keyed(key, raw): Keyed| {
            let path = match self.path.as_str() {
                "" => key.clone(),
                path => format!("{path}.{key}"),
            };
            let node = self.child(raw, path);
            (key, node)
        };
        Some(Members::of(found.into_iter().map(member)))
    }

    /// What it lists; `None` if it is no list.
    pub fn elements(&self) -> Option<Vec<Node>> {
        let List(found) = serde_json::from_str::<List<&RawValue>>(self.raw()).ok()?;
        let element = |(index, raw)| self.child(raw, format!("{}[{index}]", self.path));
        Some(found.into_iter().enumerate().map(element).collect())
    }

    /// The number; `None` if it is none, or too large for one.
    pub fn number(&self) -> Option<f64> {
        serde_json::from_str(self.raw()).ok()
    }

    /// The text; `None` if it is none.
    pub fn text(&self) -> Option<String> {
        serde_json::from_str(self.raw()).ok()
    }

    fn child(&self, raw: &RawValue, path: String) -> Node {
        let range = part(self.raw(), raw.get());
        Node {
            text: Rc::clone(&self.text),
            range: self.range.start + range.start..self.range.start + range.end,
            skipped: self.skipped,
            path,
        }
    }
}

/// Which bytes of `text` the slice `part` of it is.
fn part(text: &str, part: &str) -> Range<usize> {
    let start = (part.as_ptr() as usize).saturating_sub(text.as_ptr() as usize);
    start..start + part.len()
}

/// Byte of `text` at which the parser stopped.
fn offset_of(text: &str, error: &serde_json::Error) -> usize {
    let before: usize = text
        .split_inclusive('\n')
        .take(error.line().saturating_sub(1))
        .map(str::len)
        .sum();
    // Columns count from 1; at the end of the text the column is that of its last byte.
    let at_end = usize::from(is_cut(text, error));
    (before + error.column().saturating_sub(1) + at_end).min(text.len())
}

/// Whether the text ends too early; within a number the parser does not call it so.
fn is_cut(text: &str, error: &serde_json::Error) -> bool {
    let in_number = text.ends_with(['-', '+', '.', 'e', 'E']);
    error.is_eof() || (in_number && error.to_string().starts_with("invalid number"))
}

/// The parser's reason without its line and column: the place says that.
fn reason(error: &serde_json::Error) -> String {
    let text = error.to_string();
    match text.rfind(" at line ") {
        Some(end) => text.get(..end).unwrap_or(&text).to_owned(),
        None => text,
    }
}

struct Keyed<'a>(String, &'a RawValue);

/// Elements of a list, or members of an object including repeated ones.
struct List<T>(Vec<T>);

impl<'de: 'a, 'a> Deserialize<'de> for List<&'a RawValue> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Elements;
        impl<'de> Visitor<'de> for Elements {
            type Value = Vec<&'de RawValue>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list")
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut from: A) -> Result<Self::Value, A::Error> {
                let mut found = Vec::new();
                while let Some(element) = from.next_element()? {
                    found.push(element);
                }
                Ok(found)
            }
        }
        from.deserialize_seq(Elements).map(List)
    }
}

impl<'de: 'a, 'a> Deserialize<'de> for List<Keyed<'a>> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Pairs;
        impl<'de> Visitor<'de> for Pairs {
            type Value = Vec<Keyed<'de>>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut from: A) -> Result<Self::Value, A::Error> {
                let mut found = Vec::new();
                while let Some((key, value)) = from.next_entry()? {
                    found.push(Keyed(key, value));
                }
                Ok(found)
            }
        }
        from.deserialize_map(Pairs).map(List)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn values_know_their_place() {
        let text = "\n {\"a\": [1, {\"b\": \"x\\n\"}], \"a\": 2.5e1}";
        let whole = Node::whole(text, 3).unwrap();
        assert_eq!((whole.kind(), whole.place().offset), (Kind::Object, 5));
        let members = whole.members().unwrap();
        assert_eq!(members.get("a").unwrap().number(), Some(25.0));
        let first = members.repeated();
        assert_eq!(first.len(), 1);
        let elements = first[0].elements().unwrap();
        let inner = elements[1].members().unwrap();
        let b = inner.get("b").unwrap();
        assert_eq!(b.path(), "a[1].b");
        assert_eq!(b.text().unwrap(), "x\n");
        let at = b.place();
        let start = at.offset as usize - 3;
        assert_eq!(&text[start..start + at.length as usize], "\"x\\n\"");
    }

    #[test]
    fn what_is_none_is_none() {
        let of = |text: &str| Node::whole(text, 0).unwrap();
        assert!(of("[]").members().is_none() && of("{}").elements().is_none());
        assert!(of("\"1\"").number().is_none() && of("1").text().is_none());
        assert!(of("1e999").number().is_none() && of("null").number().is_none());
        assert!(of("3").members().is_none() && of("true").elements().is_none());
    }

    #[test]
    fn damage_names_its_byte() {
        for (text, offset, cut) in [
            ("", 0, true),
            ("{\"a\": 1", 7, true),
            ("{\"a\": 1.", 8, true),
            ("{\"a\": -", 7, true),
            ("{\"a\": 1,\n\"b\": x}", 14, false),
            ("{} {}", 3, false),
        ] {
            let failure = Node::whole(text, 0).err().unwrap();
            assert_eq!(failure.at.unwrap().offset, offset, "{text:?}");
            assert_eq!(failure.message.contains("cut off"), cut, "{text:?}");
        }
    }
}
