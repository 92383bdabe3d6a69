//! Private attributes: what the model carries and the standard has no attribute for. Other programs
//! pass over them.
//!
//! | attribute | type | holds |
//! |---|---|---|
//! | `ringmark:CHANNEL` | `double` or `string` | the value of a channel |
//! | `ringmark:extra.NAME` | `double` or `string` | an extra that the attribute `NAME` cannot hold |
//! | `ringmark:odd.HASH` | `double` or `string` | an extra whose name no attribute can have |
//! | `ringmark:frame`, `ringmark:source-file` | `double`, `string` | frame number and file name of the take, where the file has others |
//! | `ringmark:columns` | `string`, JSON | unit, reference, form and name of attributes, where their own name and type do not say them |
//! | `ringmark:take-facts`, `ringmark:lens-facts` | `string`, JSON | facts of the take and of its lens |
//! | `ringmark:other-lenses` | `string`, JSON | facts of lenses that the take does not use |

use std::collections::BTreeMap;

use ringmark_sdk::{Datum, Fact};
use serde::{Deserialize, Serialize};

use crate::fields::{Private, Role, field_number};
use crate::registry::{OTHER_TEXTS, other_number};

/// Every private attribute starts so.
pub const PREFIX: &str = "ringmark:";
/// Descriptions of other attributes.
pub const COLUMNS: &str = "ringmark:columns";
/// Facts of the take.
pub const TAKE_FACTS: &str = "ringmark:take-facts";
/// Facts of the take's lens.
pub const LENS_FACTS: &str = "ringmark:lens-facts";
/// Facts of other lenses.
pub const OTHER_LENSES: &str = "ringmark:other-lenses";
/// Frame number of the take.
pub const FRAME: &str = "ringmark:frame";
/// File that the frame came from.
pub const SOURCE_FILE: &str = "ringmark:source-file";

/// Names of extras in the contract.
pub const EXTRA: &str = "extra/";
const PRIVATE_EXTRA: &str = "extra.";
const ODD: &str = "odd.";

/// Extra of a take that says the view of its parts.
pub const VIEW: &str = "extra/view";

/// Extra of a take that says the types of attributes whose values do not show them.
pub const TYPES: &str = "extra/attribute-types";

/// What the attribute called `name` of type `kind` holds, if it is a private one.
pub fn role(name: &[u8], kind: &[u8]) -> Option<Role> {
    let name = std::str::from_utf8(name).ok()?;
    let what = match (name, kind) {
        (COLUMNS, b"string") => Private::Columns,
        (TAKE_FACTS, b"string") => Private::TakeFacts,
        (LENS_FACTS, b"string") => Private::LensFacts,
        (OTHER_LENSES, b"string") => Private::OtherLenses,
        (FRAME, b"double") => Private::Frame,
        (SOURCE_FILE, b"string") => Private::SourceFile,
        (_, b"double" | b"string") => {
            let short = name.strip_prefix(PREFIX)?;
            let is_known = match kind {
                b"double" => other_number(short).is_some() || field_number(short).is_some(),
                _ => OTHER_TEXTS.contains(&short),
            };
            if !is_known && !short.starts_with(PRIVATE_EXTRA) && !short.starts_with(ODD) {
                return None;
            }
            Private::Value
        }
        _ => return None,
    };
    Some(Role::Private(what))
}

/// The channel whose values stand in the private attribute `name`, if its name says it.
pub fn channel(name: &str) -> String {
    let short = name.strip_prefix(PREFIX).unwrap_or(name);
    match short.strip_prefix(PRIVATE_EXTRA) {
        Some(extra) => format!("{EXTRA}{extra}"),
        None if short.starts_with(ODD) => format!("{EXTRA}{name}"),
        None => short.to_owned(),
    }
}

/// The private attribute for the values of a channel or extra; the second is true if the
/// description has to say the name.
pub fn attribute(channel: &str) -> (String, bool) {
    let name = match channel.strip_prefix(EXTRA) {
        Some(extra) => format!("{PREFIX}{PRIVATE_EXTRA}{extra}"),
        None => format!("{PREFIX}{channel}"),
    };
    if is_legal(&name) {
        return (name, false);
    }
    // FNV-1a: the same name in every file.
    let hash = channel
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
    (format!("{PREFIX}{ODD}{hash:016x}"), true)
}

/// Whether an attribute can have this name, and messages and channels show it as it is.
pub fn is_legal(name: &str) -> bool {
    (1..=255).contains(&name.len()) && !name.chars().any(char::is_control)
}

/// What name and type of an attribute do not say of its values.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Described {
    /// Channel, where it is not the one of the name.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub channel: String,
    /// Unit of numbers.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// What a distance is measured from.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reference: String,
    /// `json` or `hex`, where it is no plain text.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub form: String,
}

/// The value of `ringmark:columns`: by the names of attributes.
pub type Descriptions = BTreeMap<String, Described>;

/// A fact as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptFact {
    /// Name of the fact.
    pub name: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    number: Option<Real>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    text: Option<String>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    unit: String,
}

/// A number; JSON has none for infinity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
enum Real {
    Finite(f64),
    Special(Special),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
enum Special {
    #[serde(rename = "inf")]
    Infinite,
    #[serde(rename = "-inf")]
    MinusInfinite,
    #[serde(rename = "nan")]
    NotRecorded,
}

impl From<&Fact> for KeptFact {
    fn from(fact: &Fact) -> Self {
        let (number, text) = match &fact.value {
            Datum::Text(text) => (None, Some(text.clone())),
            Datum::Number(number) => {
                let real = match *number {
                    number if number.is_nan() => Real::Special(Special::NotRecorded),
                    f64::INFINITY => Real::Special(Special::Infinite),
                    f64::NEG_INFINITY => Real::Special(Special::MinusInfinite),
                    number => Real::Finite(number),
                };
                (Some(real), None)
            }
        };
        KeptFact {
            name: fact.name.clone(),
            number,
            text,
            unit: fact.unit.clone(),
        }
    }
}

impl KeptFact {
    /// The fact, without a place.
    pub fn fact(self) -> Fact {
        let value = match (self.number, self.text) {
            (Some(Real::Finite(number)), _) => Datum::Number(number),
            (Some(Real::Special(Special::Infinite)), _) => Datum::Number(f64::INFINITY),
            (Some(Real::Special(Special::MinusInfinite)), _) => Datum::Number(f64::NEG_INFINITY),
            (Some(Real::Special(Special::NotRecorded)), _) => Datum::Number(f64::NAN),
            (None, text) => Datum::Text(text.unwrap_or_default()),
        };
        Fact {
            name: self.name,
            value,
            unit: self.unit,
            at: None,
        }
    }
}

/// The value of `ringmark:other-lenses`: lenses in front of the take's own one, and behind it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OtherLenses {
    /// In front.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub before: Vec<Vec<KeptFact>>,
    /// Behind.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub after: Vec<Vec<KeptFact>>,
}

/// Reads the JSON of a private attribute; the error says what is wrong with it.
pub fn parse<'a, T: Deserialize<'a>>(value: &'a [u8]) -> Result<T, String> {
    serde_json::from_slice(value).map_err(|error| error.to_string())
}

/// Writes the JSON of a private attribute.
pub fn text<T: Serialize>(value: &T) -> Vec<u8> {
    // Only maps with keys that are no texts could fail.
    serde_json::to_vec(value).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn facts_lead_back_exactly() {
        for (value, unit) in [
            (Datum::Number(0.1 + 0.2), "m"),
            (Datum::Number(f64::INFINITY), "m"),
            (Datum::Number(f64::NEG_INFINITY), ""),
            (Datum::Number(f64::NAN), ""),
            (Datum::Number(-0.0), ""),
            (Datum::Text("inf".into()), ""),
            (Datum::Text("\u{0}\"ä".into()), "json"),
        ] {
            let fact = Fact {
                name: "extra/x".into(),
                value,
                unit: unit.into(),
                at: None,
            };
            let json = text(&KeptFact::from(&fact));
            let back = parse::<KeptFact>(&json).unwrap().fact();
            assert_eq!(format!("{back:?}"), format!("{fact:?}"));
        }
    }

    #[test]
    fn channels_lead_to_attributes_and_back() {
        for name in [
            "focus-ring",
            "extra/WhiteBalance",
            "extra/extra.x",
            "timecode",
        ] {
            let (private, odd) = attribute(name);
            assert_eq!((channel(&private), odd), (name.to_owned(), false));
        }
        for name in [
            format!("extra/{}", "n".repeat(250)),
            "extra/a\u{1}".to_owned(),
        ] {
            let (private, odd) = attribute(&name);
            assert!(odd && is_legal(&private) && private.len() < 32, "{private}");
        }
    }

    #[test]
    fn roles_need_the_right_type() {
        let value = Some(Role::Private(Private::Value));
        assert_eq!(role(b"ringmark:focus-ring", b"double"), value);
        assert_eq!(role(b"ringmark:focus-ring", b"string"), None);
        assert_eq!(role(b"ringmark:lens", b"string"), value);
        assert_eq!(role(b"ringmark:lens", b"double"), None);
        assert_eq!(role(b"ringmark:extra.x", b"double"), value);
        assert_eq!(role(b"ringmark:t-stop", b"double"), value);
        assert_eq!(role(b"ringmark:t-number", b"double"), None);
        assert_eq!(role(b"ringmark:columns", b"int"), None);
        assert_eq!(role(b"focus-ring", b"double"), None);
    }
}
