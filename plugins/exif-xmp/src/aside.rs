//! Our own part of a sidecar: properties in the namespace [`OWN`], which other programs pass over.
//! It holds what the model carries and no standard property gives back exactly.
//!
//! | property | holds |
//! |---|---|
//! | `Version` | version of this layout |
//! | `Channels` | values of the frame: a list of items |
//! | `TakeFacts`, `LensFacts` | facts of the take and of the lens: lists of items |
//! | `Lenses`, `Lens` | facts of each lens and which one took the still, where it is not simply one |
//! | `Absent` | what the standard properties seem to state, and the source did not: `channel NAME`, `take NAME`, `lens NAME` |
//!
//! An item has a `name`, a `number` or `text` (`escaped`: a JSON string, where XML cannot hold the
//! text), `unit`, `reference` and `form`. `exact` marks a number that stands beside a standard
//! property which holds nearly the same: if that was changed since, the property counts.

use ringmark_sdk::{Datum, Fact, Place};

use crate::node::{Name, Node, OWN, Order, Value, is_xml};
use crate::remarks::{self, Remarks};
use crate::values::{Number, Text};

const VERSION: &str = "1";

/// An item.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// Channel or fact.
    pub name: String,
    /// The value.
    pub value: Datum,
    /// Unit.
    pub unit: String,
    /// What distances are measured from.
    pub reference: String,
    /// Form of a text; empty for `text`.
    pub form: String,
    /// Whether it is the exact number beside a property.
    pub exact: bool,
}

/// See the module.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Aside {
    /// Values of the frame.
    pub channels: Vec<Kept>,
    /// Facts of the take.
    pub take: Vec<Kept>,
    /// Facts of the lens.
    pub lens: Vec<Kept>,
    /// Facts of all lenses, and the index of the one that took the still.
    pub lenses: Option<(Vec<Vec<Kept>>, Option<u32>)>,
    /// What is not there.
    pub absent: Vec<String>,
}

impl Kept {
    /// The item for a number of a channel.
    pub fn number(number: &Number, exact: bool) -> Self {
        Kept {
            name: number.channel.clone(),
            value: Datum::Number(number.value),
            unit: number.unit.clone(),
            reference: number.reference.clone(),
            form: String::new(),
            exact,
        }
    }

    /// The item for a text of a channel.
    pub fn text(text: &Text) -> Self {
        let form = if text.form == "text" { "" } else { &text.form };
        Kept {
            name: text.channel.clone(),
            value: Datum::Text(text.text.clone()),
            unit: String::new(),
            reference: String::new(),
            form: form.to_owned(),
            exact: false,
        }
    }

    /// The item for a fact.
    pub fn fact(fact: &Fact, exact: bool) -> Self {
        Kept {
            name: fact.name.clone(),
            value: fact.value.clone(),
            unit: fact.unit.clone(),
            reference: String::new(),
            form: String::new(),
            exact,
        }
    }

    /// The fact that the item says.
    pub fn to_fact(&self, at: Option<Place>) -> Fact {
        Fact {
            name: self.name.clone(),
            value: self.value.clone(),
            unit: self.unit.clone(),
            at,
        }
    }

    fn to_node(&self) -> Node {
        let mut fields = Vec::new();
        let mut put = |local: &str, text: &str| {
            if !text.is_empty() {
                fields.push((own(local), Node::text(text)));
            }
        };
        put_text(&mut put, "name", &self.name);
        match &self.value {
            Datum::Number(number) => put("number", &format!("{number:?}")),
            // An empty text is still a text.
            Datum::Text(text) if text.is_empty() => put("escaped", "\"\""),
            Datum::Text(text) => put_text(&mut put, "text", text),
        }
        put_text(&mut put, "unit", &self.unit);
        put_text(&mut put, "reference", &self.reference);
        put_text(&mut put, "form", &self.form);
        put("exact", if self.exact { "True" } else { "" });
        Value::Struct(fields).into()
    }

    fn of_node(node: &Node) -> Option<Kept> {
        let Value::Struct(fields) = &node.value else {
            return None;
        };
        let mut kept = Kept {
            name: String::new(),
            value: Datum::Text(String::new()),
            unit: String::new(),
            reference: String::new(),
            form: String::new(),
            exact: false,
        };
        let mut valued = false;
        for (name, node) in fields {
            let text = node.as_text().filter(|_| name.uri == OWN)?;
            let (local, text) = match name.local.strip_prefix("escaped-") {
                Some(local) => (local, serde_json::from_str(text).ok()?),
                None => (name.local.as_str(), text.to_owned()),
            };
            match local {
                "name" => kept.name = text,
                "number" => {
                    let number: f64 = text.parse().ok()?;
                    valued = !number.is_nan();
                    kept.value = Datum::Number(number);
                }
                "text" => {
                    valued = true;
                    kept.value = Datum::Text(text);
                }
                "escaped" => {
                    valued = true;
                    kept.value = Datum::Text(serde_json::from_str(&text).ok()?);
                }
                "unit" => kept.unit = text,
                "reference" => kept.reference = text,
                "form" => kept.form = text,
                "exact" => kept.exact = text == "True",
                _ => return None,
            }
        }
        (valued && !kept.name.is_empty()).then_some(kept)
    }
}

fn own(local: &str) -> Name {
    Name::new(OWN, local)
}

/// Puts a text, escaped where XML cannot hold it or programs would change it.
fn put_text(put: &mut impl FnMut(&str, &str), local: &str, text: &str) {
    let blank = text.trim().is_empty();
    if text.is_empty() || (is_xml(text) && !blank) {
        return put(local, text);
    }
    let mut json = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                json.push('\\');
                json.push(c);
            }
            c if c < ' ' || c == '\u{fffe}' || c == '\u{ffff}' => {
                json.push_str(&format!("\\u{:04x}", c as u32));
            }
            c => json.push(c),
        }
    }
    json.push('"');
    let name = if local == "text" {
        "escaped".to_owned()
    } else {
        format!("escaped-{local}")
    };
    put(&name, &json);
}

impl Aside {
    /// Whether there is nothing to keep.
    pub fn is_empty(&self) -> bool {
        *self == Aside::default()
    }

    /// The properties that hold it.
    pub fn properties(&self) -> Vec<(Name, Node)> {
        let mut properties = Vec::new();
        if self.is_empty() {
            return properties;
        }
        properties.push((own("Version"), Node::text(VERSION)));
        let list = |kept: &[Kept]| -> Node {
            Value::Array(Order::Seq, kept.iter().map(Kept::to_node).collect()).into()
        };
        for (local, kept) in [
            ("Channels", &self.channels),
            ("TakeFacts", &self.take),
            ("LensFacts", &self.lens),
        ] {
            if !kept.is_empty() {
                properties.push((own(local), list(kept)));
            }
        }
        if let Some((lenses, lens)) = &self.lenses {
            let facts =
                |kept: &Vec<Kept>| Node::from(Value::Struct(vec![(own("facts"), list(kept))]));
            let lenses = lenses.iter().map(facts).collect();
            properties.push((own("Lenses"), Value::Array(Order::Seq, lenses).into()));
            if let Some(lens) = lens {
                properties.push((own("Lens"), Node::text(lens.to_string())));
            }
        }
        if !self.absent.is_empty() {
            let names = self.absent.iter().map(Node::text).collect();
            properties.push((own("Absent"), Value::Array(Order::Bag, names).into()));
        }
        properties
    }

    /// Reads the properties of the namespace; nothing with a remark if they are not ours.
    pub fn read(properties: &[(Name, Node, Place)], remarks: &mut Remarks) -> Aside {
        let Some((_, _, place)) = properties.first() else {
            return Aside::default();
        };
        let mut aside = Aside::default();
        let mut version = None;
        let mut lens = None;
        let mut at = place;
        let mut wrong = None;
        for (name, node, place) in properties {
            at = place;
            let fits = match name.local.as_str() {
                "Version" => {
                    version = node.as_text();
                    version == Some(VERSION)
                }
                "Channels" => fill(&mut aside.channels, items(node)),
                "TakeFacts" => fill(&mut aside.take, items(node)),
                "LensFacts" => fill(&mut aside.lens, items(node)),
                "Lenses" => match lenses(node) {
                    Some(lenses) => {
                        aside.lenses = Some((lenses, None));
                        true
                    }
                    None => false,
                },
                "Lens" => {
                    lens = node.as_text().and_then(|text| text.parse().ok());
                    lens.is_some()
                }
                "Absent" => {
                    let names = node.texts();
                    let names = names.map(|names| names.into_iter().map(str::to_owned).collect());
                    fill(&mut aside.absent, names)
                }
                _ => false,
            };
            if !fits {
                wrong = Some(match name.local.as_str() {
                    "Version" => format!(
                        "its version is {}, this program knows {VERSION}",
                        version.unwrap_or("no text")
                    ),
                    local => format!("{local} is not what this program writes"),
                });
                break;
            }
        }
        if let Some((lenses, index)) = &mut aside.lenses {
            *index = lens.filter(|lens| (*lens as usize) < lenses.len());
        }
        if wrong.is_none() && version.is_none() {
            wrong = Some("it has no version".to_owned());
        }
        match wrong {
            None => aside,
            Some(why) => {
                let at = Place {
                    field: "XMP private part".to_owned(),
                    ..at.clone()
                };
                remarks.report(&remarks::PRIVATE_PART, at, || {
                    format!("private part: {why}")
                });
                Aside::default()
            }
        }
    }

    /// Whether something is said to be absent.
    pub fn lacks(&self, owner: &str, name: &str) -> bool {
        let mut absent = self.absent.iter();
        absent.any(|text| text.split_once(' ') == Some((owner, name)))
    }
}

fn fill<T>(target: &mut Vec<T>, found: Option<Vec<T>>) -> bool {
    match found {
        Some(found) => {
            *target = found;
            true
        }
        None => false,
    }
}

fn items(node: &Node) -> Option<Vec<Kept>> {
    match &node.value {
        Value::Array(_, items) => items.iter().map(Kept::of_node).collect(),
        _ => None,
    }
}

fn lenses(node: &Node) -> Option<Vec<Vec<Kept>>> {
    let Value::Array(_, lenses) = &node.value else {
        return None;
    };
    let facts = |lens: &Node| match &lens.value {
        Value::Struct(fields) => match fields.as_slice() {
            [(name, facts)] if *name == own("facts") => items(facts),
            _ => None,
        },
        _ => None,
    };
    lenses.iter().map(facts).collect()
}
