//! What an XMP packet says: items of the table, other properties, and our own part.

use crate::aside::Aside;
use crate::fields::{self, Field, Key, Kind};
use crate::node::{Name, Node, OWN};
use crate::rational::{Ratio, integer};
use crate::rdf::Property;
use crate::record::{Found, Number, Raw, Record, place};
use crate::remarks::{self, Remarks};
use ringmark_sdk::Place;

/// Properties beside the table that are kept of one file.
const MOST_OTHERS: usize = 2000;
/// Largest property that is kept.
const MOST_TEXT: usize = 1 << 20;

/// A property that is kept under its own name.
#[derive(Debug, Clone, PartialEq)]
pub struct Other {
    /// Its name.
    pub name: Name,
    /// Its value.
    pub node: Node,
}

/// What a packet says.
#[derive(Debug, Default)]
pub struct Packet {
    /// Items of the table.
    pub record: Record,
    /// Other properties.
    pub others: Vec<Other>,
    /// Our own part.
    pub aside: Aside,
}

/// Where the text of a packet starts.
#[derive(Debug, Clone, Copy)]
pub struct Origin {
    /// Index of the file.
    pub input: u32,
    /// Offset of the packet in the file; `None` where offsets in the text are none in the file.
    pub start: Option<u64>,
}

impl Origin {
    /// The place of a part of the text.
    pub fn place(self, at: (usize, usize), field: impl Into<String>) -> Place {
        match self.start {
            Some(start) => place(self.input, start + at.0 as u64, at.1 as u64, field),
            None => place(self.input, 0, 0, field),
        }
    }
}

/// Sorts the properties of a packet.
pub fn packet(properties: Vec<Property>, origin: Origin, remarks: &mut Remarks) -> Packet {
    let mut packet = Packet::default();
    let mut own = Vec::new();
    let mut older = Vec::new();
    for Property { name, node, at } in properties {
        let place = origin.place(at, format!("XMP {name}"));
        let node = match node {
            Ok(node) => node,
            Err(why) => {
                remarks.report(&remarks::XMP_UNSUPPORTED, place, || {
                    format!("{name}: {why}")
                });
                continue;
            }
        };
        if name.uri == OWN {
            own.push((name, node, place));
            continue;
        }
        match fields::of_property(&name.uri, &name.local) {
            Some((field, false)) => match raw(field, &node, &place, remarks) {
                Read::Value(raw) => {
                    let found = Found {
                        raw,
                        place: place.clone(),
                    };
                    if packet.record.set(field.key, found).is_some() {
                        repeated(&name, place, remarks);
                    }
                }
                Read::Nothing => {}
                Read::OtherForm => packet.keep(name, node, place, remarks),
            },
            Some((field, true)) => older.push((field, name, node, place)),
            None => packet.keep(name, node, place, remarks),
        }
    }
    for (field, name, node, place) in older {
        if packet.record.get(field.key).is_some() {
            packet.keep(name, node, place, remarks);
            continue;
        }
        match raw(field, &node, &place, remarks) {
            Read::Value(raw) => {
                packet.record.set(field.key, Found { raw, place });
            }
            Read::Nothing => {}
            Read::OtherForm => packet.keep(name, node, place, remarks),
        }
    }
    packet.aside = Aside::read(&own, remarks);
    packet
}

fn repeated(name: &Name, place: Place, remarks: &mut Remarks) {
    remarks.report(&remarks::REPEATED, place, || {
        format!("{name} stands twice in one packet")
    });
}

impl Packet {
    fn keep(&mut self, name: Name, node: Node, place: Place, remarks: &mut Remarks) {
        if size(&node) > MOST_TEXT {
            remarks.report(&remarks::TOO_LARGE, place, || {
                format!("{name} has over {MOST_TEXT} bytes, which is not kept")
            });
            return;
        }
        if let Some(known) = self.others.iter_mut().find(|other| other.name == name) {
            repeated(&name, place, remarks);
            known.node = node;
        } else if self.others.len() < MOST_OTHERS {
            self.others.push(Other { name, node });
        } else {
            let at = Place {
                field: "XMP".to_owned(),
                ..place
            };
            remarks.report(&remarks::TOO_MANY, at, || {
                format!("more than {MOST_OTHERS} properties, {name} is the first above")
            });
        }
    }
}

fn size(node: &Node) -> usize {
    use crate::node::Value;
    match &node.value {
        Value::Text(text) | Value::Uri(text) => text.len(),
        Value::Array(_, items) => items.iter().map(|item| 8 + size(item)).sum(),
        Value::Struct(fields) => {
            let fields = fields.iter();
            fields
                .map(|(name, node)| name.uri.len() + name.local.len() + size(node))
                .sum()
        }
    }
}

/// How a value was read.
enum Read {
    /// As the table has it.
    Value(Raw),
    /// It says nothing; a remark was made if that is wrong.
    Nothing,
    /// It has another form than the table says and is kept as it stands.
    OtherForm,
}

fn raw(field: &Field, node: &Node, place: &Place, remarks: &mut Remarks) -> Read {
    let name = field.property.1;
    let texts = match (field.kind, node.as_text()) {
        (Kind::Text | Kind::Date | Kind::Version, Some(text)) => {
            if text.trim().is_empty() && field.role != fields::Role::Extra {
                remarks.report(&remarks::TEXT_EMPTY, place.clone(), || {
                    format!("{name} is empty")
                });
                return Read::Nothing;
            }
            return Read::Value(Raw::Text(text.to_owned()));
        }
        (Kind::Text | Kind::Date | Kind::Version, None) => return Read::OtherForm,
        // Older files have the four numbers in one text.
        (Kind::Four, Some(text)) => text.split([' ', ',']).filter(|t| !t.is_empty()).collect(),
        (_, Some(text)) => vec![text],
        // One number may be the only item of a list, and several sensitivities are allowed.
        (Kind::Four | Kind::Sensitivity, None) => match node.texts() {
            Some(texts) => texts,
            None => return Read::OtherForm,
        },
        (_, None) => return Read::OtherForm,
    };
    let wanted = if field.kind == Kind::Four { 4 } else { 1 };
    if texts.len() < wanted || (texts.len() > wanted && field.kind != Kind::Sensitivity) {
        remarks.report(&remarks::TAG_COUNT, place.clone(), || {
            format!(
                "{name} has {} values, must have {wanted}: taken as not recorded",
                texts.len()
            )
        });
        return Read::Nothing;
    }
    let numbers = texts.iter().take(wanted);
    let numbers = numbers.map(|text| number(field, text.trim(), place, remarks));
    let numbers: Vec<Option<Number>> = numbers.collect();
    // One wrong number of four spoils only itself: 0/0 is 'unknown'.
    let unknown = Number::Ratio(Ratio { n: 0, d: 0 });
    match numbers.iter().all(Option::is_none) {
        true => Read::Nothing,
        false => {
            let numbers = numbers.into_iter().map(|n| n.unwrap_or(unknown));
            Read::Value(Raw::Numbers(numbers.collect()))
        }
    }
}

fn number(field: &Field, text: &str, place: &Place, remarks: &mut Remarks) -> Option<Number> {
    let name = field.property.1;
    let whole = matches!(field.kind, Kind::Integer(_) | Kind::Sensitivity);
    let found = match whole {
        true => integer(text).map(|n| Ratio { n, d: 1 }),
        false => Ratio::parse(text),
    };
    if let Some(ratio) = found {
        return Some(Number::Ratio(ratio));
    }
    let decimal = text
        .bytes()
        .all(|b| b.is_ascii_digit() || b"+-.eE".contains(&b));
    let decimal = text
        .parse()
        .ok()
        .filter(|value: &f64| decimal && !whole && value.is_finite());
    if let Some(value) = decimal {
        remarks.report(&remarks::DECIMAL, place.clone(), || {
            format!("{name} is “{text}”, must be a rational")
        });
        return Some(Number::Decimal(value));
    }
    let kind = if whole { "whole number" } else { "rational" };
    remarks.report(&remarks::NOT_A_NUMBER, place.clone(), || {
        format!("{name} is “{}”, which is no {kind}", text.escape_debug())
    });
    None
}

/// The text of a number for a property.
pub fn text_of(key: Key, number: Ratio) -> String {
    match key.field().kind {
        Kind::Integer(_) | Kind::Sensitivity => number.n.to_string(),
        _ => number.to_string(),
    }
}
