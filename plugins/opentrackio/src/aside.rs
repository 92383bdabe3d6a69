//! The private part of a sample: the top-level key [`PRIVATE`], which other programs pass over.
//! It holds what the model carries and the standard has no place for.
//!
//! | member | in | holds |
//! |---|---|---|
//! | `version` | the first sample that has a part | version of this layout |
//! | `facts` | first sample | facts of the take |
//! | `lenses`, `lens` | first sample | facts of each lens, and which one the take uses |
//! | `absent` | where first needed | facts that keys of the standard seem to state, and the source did not |
//! | `columns` | where a column starts | name, form, unit and reference of columns that the standard's keys do not define |
//! | `channels` | every sample | values by channel; `"inf"` is infinity, `null` not recorded |

use std::fmt;

use ringmark_sdk::{Datum, Fact};
use serde::de::{Deserializer, Error, MapAccess, Visitor};
use serde::{Deserialize, Serialize, Serializer};

/// Top-level key of the private part.
pub const PRIVATE: &str = "ringmark";

/// Member with the values of a frame.
pub const CHANNELS: &str = "channels";

/// Version of the layout.
const VERSION: u64 = 1;

/// The private part of one sample, without its channels.
#[derive(Debug, Default, PartialEq, Serialize)]
pub struct Private {
    #[serde(skip_serializing_if = "Option::is_none")]
    version: Option<u64>,
    /// Facts of the take.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub facts: Vec<KeptFact>,
    /// Facts of each lens, where there is more to say than the standard's keys do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lenses: Option<Vec<Vec<KeptFact>>>,
    /// Which of [`Private::lenses`] the take uses.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lens: Option<u32>,
    /// Facts that must not be concluded from the standard's keys.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub absent: Vec<String>,
    /// Columns that start here.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub columns: Vec<Declared>,
}

impl Private {
    /// Whether there is nothing to say.
    pub fn is_empty(&self) -> bool {
        *self == Private::default()
    }

    /// Marks the layout's version; done once a file.
    pub fn stamp(&mut self) {
        self.version = Some(VERSION);
    }

    /// Reads the value of the member `key`.
    pub fn read_member<'de, A: MapAccess<'de>>(
        &mut self,
        key: &str,
        map: &mut A,
    ) -> Result<(), A::Error> {
        match key {
            "version" => {
                let version: u64 = map.next_value()?;
                if version != VERSION {
                    return Err(A::Error::custom(format!(
                        "the private part `{PRIVATE}` has version {version}, this program knows {VERSION}"
                    )));
                }
            }
            "facts" => self.facts = map.next_value()?,
            "lenses" => self.lenses = Some(map.next_value()?),
            "lens" => self.lens = Some(map.next_value()?),
            "absent" => self.absent = map.next_value()?,
            "columns" => self.columns = map.next_value()?,
            _ => {
                return Err(A::Error::custom(format!(
                    "the private part `{PRIVATE}` has no member `{key}`: remove it"
                )));
            }
        }
        Ok(())
    }
}

/// A column and what its values are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Declared {
    /// Channel, or `extra/NAME`.
    pub name: String,
    /// What its values are.
    pub form: ColumnForm,
    /// Unit; empty for texts and pure numbers.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// What distances are measured from.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reference: String,
}

/// What the values of a column are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ColumnForm {
    /// Numbers.
    Number,
    /// Plain texts.
    Text,
    /// JSON texts.
    Json,
    /// Bytes as hexadecimal text.
    Hex,
}

impl ColumnForm {
    /// Name of a text form in the contract.
    pub fn name(self) -> &'static str {
        match self {
            ColumnForm::Number => "number",
            ColumnForm::Text => "text",
            ColumnForm::Json => "json",
            ColumnForm::Hex => "hex",
        }
    }

    /// The form of labels; `None` for a form the contract does not have.
    pub fn of_labels(form: &str) -> Option<Self> {
        [ColumnForm::Text, ColumnForm::Json, ColumnForm::Hex]
            .into_iter()
            .find(|f| f.name() == form)
    }
}

/// A fact as the contract has it, without its place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptFact {
    name: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    number: Option<Real>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    text: Option<String>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    unit: String,
}

impl From<&Fact> for KeptFact {
    fn from(fact: &Fact) -> Self {
        let (number, text) = match &fact.value {
            Datum::Number(number) => (Some(Real(*number)), None),
            Datum::Text(text) => (None, Some(text.clone())),
        };
        KeptFact {
            name: fact.name.clone(),
            number,
            text,
            unit: fact.unit.clone(),
        }
    }
}

impl From<KeptFact> for Fact {
    fn from(kept: KeptFact) -> Self {
        let value = match (kept.number, kept.text) {
            (Some(Real(number)), _) => Datum::Number(number),
            (None, text) => Datum::Text(text.unwrap_or_default()),
        };
        Fact {
            name: kept.name,
            value,
            unit: kept.unit,
            at: None,
        }
    }
}

/// A number that may be infinite or missing, which JSON numbers cannot be.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Real(f64);

/// Text of a number that is none in JSON.
pub fn special_text(value: f64) -> &'static str {
    if value.is_nan() {
        "nan"
    } else if value > 0.0 {
        "inf"
    } else {
        "-inf"
    }
}

/// The number of a [`special_text`].
pub fn special_number(text: &str) -> Option<f64> {
    match text {
        "inf" => Some(f64::INFINITY),
        "-inf" => Some(f64::NEG_INFINITY),
        "nan" => Some(f64::NAN),
        _ => None,
    }
}

impl Serialize for Real {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.0.is_finite() {
            serializer.serialize_f64(self.0)
        } else {
            serializer.serialize_str(special_text(self.0))
        }
    }
}

impl<'de> Deserialize<'de> for Real {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(RealVisitor)
    }
}

struct RealVisitor;

impl Visitor<'_> for RealVisitor {
    type Value = Real;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a number, \"inf\", \"-inf\" or \"nan\"")
    }

    fn visit_f64<E>(self, value: f64) -> Result<Real, E> {
        Ok(Real(value))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Real, E> {
        Ok(Real(value as f64))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Real, E> {
        Ok(Real(value as f64))
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Real, E> {
        special_number(text)
            .map(Real)
            .ok_or_else(|| E::invalid_value(serde::de::Unexpected::Str(text), &self))
    }
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
            let text = serde_json::to_string(&KeptFact::from(&fact)).unwrap();
            let back: Fact = serde_json::from_str::<KeptFact>(&text).unwrap().into();
            assert_eq!(format!("{back:?}"), format!("{fact:?}"));
        }
    }

    #[test]
    fn a_private_part_from_elsewhere_is_refused() {
        let mut sample = crate::sample::Sample::new();
        for (text, says) in [
            ("{\"ringmark\":{\"version\":2}}", "version 2"),
            ("{\"ringmark\":{\"new\":1}}", "no member `new`"),
            ("{\"ringmark\":5}", "invalid type"),
        ] {
            let damage = sample.read(text.as_bytes()).unwrap_err();
            assert!(damage.message.contains(says), "{}", damage.message);
        }
    }
}
