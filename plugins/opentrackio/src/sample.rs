//! One sample as a list of its leaves, each with the place it stands at.
//!
//! Samples of a file are alike, so the places are kept from sample to sample: a key is first
//! compared with the one that followed last time, and only a new place costs more.

mod json;

use std::collections::BTreeMap;

use serde::de::DeserializeSeed;

use self::json::ValueSeed;
use crate::aside::{CHANNELS, PRIVATE, Private};
use crate::path;

/// Different places in one file. A sample of the standard has about 150.
const MAX_PLACES: usize = 16_384;

/// Keys that come twice in one sample are told up to this many.
const MAX_TOLD: usize = 100;

/// Leaves looked at for keys that come twice in one sample, before it is given up.
const MAX_DUPLICATE_WORK: usize = 4_000_000;

/// Members that are looked up one by one; beyond, by a map.
const FEW: usize = 24;

/// The sample itself.
pub const ROOT: u32 = 0;

/// The step from a place to one inside it.
#[derive(Debug)]
enum Step {
    Key(Box<str>),
    Index(usize),
}

#[derive(Debug)]
struct PlaceNode {
    parent: u32,
    step: Step,
    members: Vec<u32>,
    by_key: BTreeMap<Box<str>, u32>,
    elements: Vec<u32>,
    /// Number of the sample that had it last.
    seen: u64,
}

/// A value that holds no others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value<'a> {
    /// A number.
    Number(f64),
    /// A string.
    Text(&'a str),
    /// `true`, `false`, `null`, `{}`, `[]`, or an integer that a double does not hold exactly.
    Json(&'a str),
}

#[derive(Debug, Clone, Copy)]
enum Stored {
    Number(f64),
    Text(u32, u32),
    Json(u32, u32),
}

/// What is wrong with a sample, and where.
#[derive(Debug, PartialEq)]
pub struct Damage {
    /// Byte in the sample.
    pub at: usize,
    /// What is wrong.
    pub message: String,
    /// What to do about it.
    pub help: &'static str,
}

/// The sample read last, and all places seen so far.
pub struct Sample {
    nodes: Vec<PlaceNode>,
    leaves: Vec<(u32, Stored)>,
    text: String,
    number: u64,
    /// The private part, if the sample has one.
    pub private: Option<Box<Private>>,
    duplicates: Vec<u32>,
    duplicate_work: usize,
    huge: bool,
}

impl Sample {
    /// Nothing read yet.
    pub fn new() -> Self {
        Sample {
            nodes: vec![PlaceNode {
                parent: ROOT,
                step: Step::Index(0),
                members: Vec::new(),
                by_key: BTreeMap::new(),
                elements: Vec::new(),
                seen: 0,
            }],
            leaves: Vec::new(),
            text: String::new(),
            number: 0,
            private: None,
            duplicates: Vec::new(),
            duplicate_work: 0,
            huge: false,
        }
    }

    /// Reads a sample in place of the one before.
    pub fn read(&mut self, bytes: &[u8]) -> Result<(), Damage> {
        self.leaves.clear();
        self.text.clear();
        self.duplicates.clear();
        self.duplicate_work = 0;
        self.private = None;
        self.huge = false;
        self.number += 1;
        let text = std::str::from_utf8(bytes).map_err(|error| {
            let at = error.valid_up_to();
            Damage {
                at,
                message: format!(
                    "the byte {:02X} is no UTF-8 text",
                    bytes.get(at).copied().unwrap_or_default()
                ),
                help: "JSON is UTF-8: save the file as UTF-8 or repair the text",
            }
        })?;
        let mut json = serde_json::Deserializer::from_str(text);
        ValueSeed {
            sample: self,
            node: ROOT,
        }
        .deserialize(&mut json)
        .and_then(|()| json.end())
        .map_err(|error| damage(text, &error))
    }

    /// Places seen so far; numbers below are valid.
    pub fn places(&self) -> usize {
        self.nodes.len()
    }

    /// How many leaves the sample has.
    pub fn len(&self) -> usize {
        self.leaves.len()
    }

    /// The place and value of a leaf.
    pub fn leaf(&self, index: usize) -> (u32, Value<'_>) {
        let Some((node, stored)) = self.leaves.get(index) else {
            return (ROOT, Value::Json("null"));
        };
        let text = |start: u32, end: u32| {
            self.text
                .get(start as usize..end as usize)
                .unwrap_or_default()
        };
        let value = match *stored {
            Stored::Number(number) => Value::Number(number),
            Stored::Text(start, end) => Value::Text(text(start, end)),
            Stored::Json(start, end) => Value::Json(text(start, end)),
        };
        (*node, value)
    }

    /// The value at a place in this sample.
    pub fn value_at(&self, place: &str) -> Option<Value<'_>> {
        (0..self.leaves.len())
            .map(|index| self.leaf(index))
            .find(|(node, _)| self.path(*node) == place)
            .map(|(_, value)| value)
    }

    /// Keys at the top of the sample.
    pub fn top_keys(&self) -> impl Iterator<Item = &str> {
        self.nodes[ROOT as usize].members.iter().filter_map(|node| {
            match &self.nodes[*node as usize] {
                PlaceNode {
                    step: Step::Key(key),
                    seen,
                    ..
                } if *seen == self.number => Some(&**key),
                _ => None,
            }
        })
    }

    /// Places of keys that came twice; the last value was kept.
    pub fn duplicates(&self) -> &[u32] {
        &self.duplicates
    }

    /// Offset of an integer with more digits than can be kept, if the sample has one.
    pub fn long_integer(&self, bytes: &[u8]) -> Option<usize> {
        if !self.huge {
            return None;
        }
        let mut start = 0;
        // Digits behind a point or an exponent belong to a fraction, which is no integer.
        let mut fraction = false;
        for (at, byte) in bytes.iter().enumerate() {
            match byte {
                b'0'..=b'9' => continue,
                b'.' | b'e' | b'E' | b'+' | b'-' if fraction || at > start => fraction = true,
                _ if !fraction && at - start >= 20 => return Some(start),
                _ => fraction = false,
            }
            start = at + 1;
        }
        None
    }

    /// Name of a place, `lens.fStop`.
    pub fn path(&self, node: u32) -> String {
        let mut chain = Vec::new();
        let mut at = node;
        while at != ROOT {
            chain.push(at);
            at = self.nodes[at as usize].parent;
        }
        let mut path = String::new();
        for node in chain.into_iter().rev() {
            match &self.nodes[node as usize].step {
                Step::Key(key) => path::push_key(&mut path, key),
                Step::Index(index) => path::push_index(&mut path, *index),
            }
        }
        path
    }

    /// The channel name, if the place is a channel of the private part.
    pub fn private_channel(&self, node: u32) -> Option<&str> {
        let channels = self.nodes[node as usize].parent;
        let part = self.nodes[channels as usize].parent;
        let key = |node: u32| match &self.nodes[node as usize].step {
            Step::Key(key) if node != ROOT => Some(&**key),
            _ => None,
        };
        (self.nodes[part as usize].parent == ROOT
            && key(part) == Some(PRIVATE)
            && key(channels) == Some(CHANNELS))
        .then(|| key(node))
        .flatten()
    }

    fn add_node(&mut self, parent: u32, step: Step) -> Option<u32> {
        if self.nodes.len() >= MAX_PLACES {
            return None;
        }
        let node = self.nodes.len() as u32;
        self.nodes.push(PlaceNode {
            parent,
            step,
            members: Vec::new(),
            by_key: BTreeMap::new(),
            elements: Vec::new(),
            seen: 0,
        });
        Some(node)
    }

    /// The member `key` of `parent`. `next` is where it stood last time.
    fn member(&mut self, parent: u32, key: &str, next: &mut usize) -> Option<u32> {
        let found = |nodes: &[PlaceNode], node: u32| matches!(&nodes[node as usize].step, Step::Key(k) if **k == *key);
        let members = &self.nodes[parent as usize].members;
        if let Some(&node) = members.get(*next)
            && found(&self.nodes, node)
        {
            *next += 1;
            return Some(node);
        }
        if members.len() <= FEW {
            if let Some(at) = members.iter().position(|node| found(&self.nodes, *node)) {
                *next = at + 1;
                return Some(members[at]);
            }
        } else if let Some(&node) = self.nodes[parent as usize].by_key.get(key) {
            return Some(node);
        }
        let node = self.add_node(parent, Step::Key(key.into()))?;
        let entry = &mut self.nodes[parent as usize];
        entry.members.push(node);
        entry.by_key.insert(key.into(), node);
        *next = entry.members.len();
        Some(node)
    }

    fn element(&mut self, parent: u32, index: usize) -> Option<u32> {
        if let Some(&node) = self.nodes[parent as usize].elements.get(index) {
            return Some(node);
        }
        let node = self.add_node(parent, Step::Index(index))?;
        self.nodes[parent as usize].elements.push(node);
        Some(node)
    }

    /// Notes that a key came twice: what was read for it is forgotten. `None` if it happens too often.
    fn duplicate(&mut self, node: u32) -> Option<()> {
        self.duplicate_work += self.leaves.len() + 1;
        if self.duplicate_work > MAX_DUPLICATE_WORK {
            return None;
        }
        let mut leaves = std::mem::take(&mut self.leaves);
        leaves.retain(|(leaf, _)| !self.is_inside(*leaf, node));
        self.leaves = leaves;
        let known = self.duplicates.iter().any(|d| self.is_inside(node, *d));
        if !known && self.duplicates.len() < MAX_TOLD {
            self.duplicates.push(node);
        }
        Some(())
    }

    fn is_inside(&self, mut node: u32, outer: u32) -> bool {
        while node != outer {
            if node == ROOT {
                return false;
            }
            node = self.nodes[node as usize].parent;
        }
        true
    }

    fn store(&mut self, text: &str) -> (u32, u32) {
        let start = self.text.len() as u32;
        self.text.push_str(text);
        (start, self.text.len() as u32)
    }
}

fn damage(text: &str, error: &serde_json::Error) -> Damage {
    let line_start = text
        .split_inclusive('\n')
        .take(error.line().saturating_sub(1))
        .map(str::len)
        .sum::<usize>();
    let at = (line_start + error.column().saturating_sub(1)).min(text.len());
    let full = error.to_string();
    let what = match full.rsplit_once(" at line ") {
        Some((what, _)) => what.to_owned(),
        None => full,
    };
    let after: String = text
        .get(at..)
        .unwrap_or_default()
        .chars()
        .take_while(|c| !c.is_whitespace() && !matches!(c, ',' | '}' | ']'))
        .take(12)
        .collect();
    let (message, help) = match what.as_str() {
        "number out of range" => (
            format!("{what}: a double reaches to 1.8e308"),
            "correct the number, or leave the key out where nothing was recorded",
        ),
        "expected value" if matches!(after.as_str(), "NaN" | "nan" | "Infinity" | "-Infinity") => (
            format!("`{after}` is no JSON value"),
            "leave the key out where nothing was recorded; JSON has no NaN and no infinity",
        ),
        _ if error.is_data() => (what, "the file is damaged, or no OpenTrackIO"),
        _ if after.is_empty() => (
            format!("broken JSON: {what}"),
            "repair the sample or remove it",
        ),
        _ => (
            format!("broken JSON: {what}, found `{after}`"),
            "repair the sample or remove it",
        ),
    };
    Damage { at, message, help }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn leaves(sample: &Sample) -> Vec<(String, String)> {
        (0..sample.len())
            .map(|i| {
                let (node, value) = sample.leaf(i);
                (sample.path(node), format!("{value:?}"))
            })
            .collect()
    }

    fn read(text: &str) -> Result<Vec<(String, String)>, Damage> {
        let mut sample = Sample::new();
        sample.read(text.as_bytes()).map(|()| leaves(&sample))
    }

    #[test]
    fn leaves_with_their_places() {
        let found =
            read(r#"{"a":{"b":[1,{"c":"x"}],"0":true},"e":{},"n":9007199254740993,"z":-0.0}"#)
                .unwrap();
        let expected = [
            ("a.b.0", "Number(1.0)"),
            ("a.b.1.c", "Text(\"x\")"),
            ("a.\\0", "Json(\"true\")"),
            ("e", "Json(\"{}\")"),
            ("n", "Json(\"9007199254740993\")"),
            ("z", "Number(-0.0)"),
        ];
        assert_eq!(found, expected.map(|(a, b)| (a.to_owned(), b.to_owned())));
    }

    #[test]
    fn places_are_the_same_in_every_sample() {
        let mut sample = Sample::new();
        sample.read(br#"{"a":1,"b":2}"#).unwrap();
        let first: Vec<u32> = (0..2).map(|i| sample.leaf(i).0).collect();
        sample.read(br#"{"b":2,"c":3,"a":1}"#).unwrap();
        let second: Vec<u32> = (0..3).map(|i| sample.leaf(i).0).collect();
        assert_eq!([second[2], second[0]], [first[0], first[1]]);
        assert_eq!(sample.top_keys().collect::<Vec<_>>(), ["a", "b", "c"]);
        sample.read(br#"{"c":3}"#).unwrap();
        assert_eq!(sample.top_keys().collect::<Vec<_>>(), ["c"]);
    }

    #[test]
    fn the_last_of_two_equal_keys_is_kept_and_told() {
        let mut sample = Sample::new();
        sample
            .read(br#"{"a":{"x":1,"y":2},"b":1,"a":{"y":3}}"#)
            .unwrap();
        assert_eq!(
            leaves(&sample),
            [
                ("b".to_owned(), "Number(1.0)".to_owned()),
                ("a.y".to_owned(), "Number(3.0)".to_owned())
            ]
        );
        let told: Vec<String> = sample
            .duplicates()
            .iter()
            .map(|n| sample.path(*n))
            .collect();
        assert_eq!(told, ["a"]);
    }

    #[test]
    fn damage_has_its_byte() {
        for (text, at, says) in [
            ("{\"a\":NaN}", 5, "`NaN` is no JSON value"),
            ("{\"a\":1,\n \"b\":tru}", 16, "broken JSON"),
            ("{\"a\":1e999}", 9, "number out of range"),
            ("{\"a\" 1}", 5, "broken JSON: expected `:`"),
            ("{\"a\":1,}", 7, "broken JSON"),
            ("{\"a\":[1}]", 7, "broken JSON"),
        ] {
            let damage = read(text).unwrap_err();
            assert_eq!(damage.at, at, "{text}: {}", damage.message);
            assert!(damage.message.contains(says), "{text}: {}", damage.message);
        }
        let mut sample = Sample::new();
        let damage = sample.read(b"{\"a\":\"\xff\"}").unwrap_err();
        assert_eq!(
            (damage.at, damage.message.as_str()),
            (6, "the byte FF is no UTF-8 text")
        );
    }

    #[test]
    fn many_different_keys_end_in_an_error() {
        let mut text = String::from("{");
        for n in 0..MAX_PLACES {
            text.push_str(&format!("\"k{n}\":1,"));
        }
        text.push_str("\"k\":1}");
        assert!(read(&text).unwrap_err().message.contains("different keys"));
        let many = format!("{{{}\"a\":1}}", "\"a\":1,".repeat(20_000));
        let twice = read(&many).unwrap();
        assert_eq!(twice.len(), 1);
    }

    #[test]
    fn integers_beyond_64_bits_are_noticed() {
        let mut sample = Sample::new();
        for (text, found) in [
            ("{\"a\":123456789012345678901}", Some(5)),
            ("{\"a\":1e30}", None),
            ("{\"a\":1.0}", None),
            ("{\"a\":0.00025186438827396574,\"b\":1e300}", None),
            ("{\"a\":-1.5e-7,\"b\":-123456789012345678901}", Some(18)),
        ] {
            sample.read(text.as_bytes()).unwrap();
            assert_eq!(sample.long_integer(text.as_bytes()), found, "{text}");
        }
    }
}
