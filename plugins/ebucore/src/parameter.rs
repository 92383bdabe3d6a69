//! From a parameter's name and unit to the column its values go to.

use std::collections::HashMap;
use std::rc::Rc;

use ringmark_sdk::Failure;

use crate::columns::{Columns, Head};
use crate::escape::{self, from_item};
use crate::fields::{self, Form, Holds};
use crate::private::{Kind, PREFIX, Private};
use crate::remarks::{Remarks, Severity, Spot, shown};
use crate::units;

/// Different parameters of a file.
pub const MAX_PARAMETERS: usize = 4096;

/// How the items of a parameter are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Decode {
    /// Numbers.
    Number(Form),
    /// Texts as the standard has them.
    Plain,
    /// Texts with escapes of ours.
    Escaped,
}

/// Where values of a parameter go.
#[derive(Debug)]
pub struct Target {
    /// Name of the parameter.
    pub parameter: Rc<str>,
    /// Its column, see [`Columns`].
    pub slot: usize,
    /// What its values are.
    pub head: Head,
    /// How they are read.
    pub decode: Decode,
}

/// Name, unit attribute, whether the distance from the front is the focus distance's companion, and
/// what the focus distance is said to be measured from.
type Key = (String, Option<String>, bool, Option<String>);

/// Parameters seen so far.
#[derive(Default)]
pub struct Parameters {
    known: HashMap<Key, Option<Rc<Target>>>,
}

/// What else is known where a parameter stands.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Around {
    /// The distance from the image plane is there too.
    pub image_plane: bool,
    /// What the focus distance is measured from, if the segment says so.
    pub reference: Option<String>,
}

/// Names the columns of facts, which only [`crate::take`] sees.
pub const FACT_COLUMN: &str = "fact/";

impl Parameters {
    /// Where values of `parameter` go; `None` if nowhere, and a remark was made.
    pub fn target(
        &mut self,
        parameter: &str,
        unit: Option<&str>,
        around: &Around,
        columns: &mut Columns,
        remarks: &mut Remarks,
        spot: &Spot,
    ) -> Result<Option<Rc<Target>>, Failure> {
        let companion = parameter == fields::FRONT_VERTEX && around.image_plane;
        let reference = match parameter {
            fields::IMAGE_PLANE => around.reference.clone(),
            _ => None,
        };
        let key = (
            parameter.to_owned(),
            unit.map(str::to_owned),
            companion,
            reference,
        );
        if let Some(known) = self.known.get(&key) {
            return Ok(known.clone());
        }
        if self.known.len() >= MAX_PARAMETERS {
            return Err(spot.failure(
                format!("there are more than {MAX_PARAMETERS} different parameters"),
                "no document has so many; the file may be damaged",
            ));
        }
        let target = match head(parameter, unit, companion, key.3.as_deref(), spot)? {
            None => {
                remarks.add(
                    Severity::Warning,
                    "parameter-unknown",
                    parameter,
                    || {
                        format!(
                            "the parameter '{}' has a name of ringmark, which this version does not know",
                            shown(parameter)
                        )
                    },
                    "it was not read; a newer version may read it",
                    spot,
                );
                None
            }
            Some((head, decode)) => match columns.slot(&head.channel, &head.kind) {
                Some(slot) => Some(Rc::new(Target {
                    parameter: parameter.into(),
                    slot,
                    head,
                    decode,
                })),
                None => {
                    remarks.add(
                        Severity::Error,
                        "wrong-type",
                        parameter,
                        || {
                            format!(
                                "'{}' holds numbers in one place and texts in another",
                                shown(parameter)
                            )
                        },
                        "what came first was read; give it one kind of values",
                        spot,
                    );
                    None
                }
            },
        };
        self.known.insert(key, target.clone());
        Ok(target)
    }
}

/// What a parameter holds; `None` for names that only a newer version of this program has.
fn head(
    parameter: &str,
    unit: Option<&str>,
    companion: bool,
    reference: Option<&str>,
    spot: &Spot,
) -> Result<Option<(Head, Decode)>, Failure> {
    if parameter.starts_with(PREFIX) {
        let Some(Private::Channel(channel, kind)) = Private::from_name(parameter) else {
            return Ok(None);
        };
        let decode = match kind {
            Kind::Number(_) => Decode::Number(Form::Plain),
            Kind::Label(_) => Decode::Escaped,
        };
        let unit = unit.map(from_item).unwrap_or_default();
        let head = Head {
            channel,
            kind,
            unit,
        };
        return Ok(Some((head, decode)));
    }
    let extra = |kind, unit: &str| Head {
        channel: format!("extra/{parameter}"),
        kind,
        unit: unit.to_owned(),
    };
    let Some(field) = fields::field(parameter) else {
        // Only a unit says that the values are numbers: a text of digits, a serial number for
        // example, must not lose its zeros.
        return Ok(Some(match unit {
            Some(unit) => (
                extra(Kind::Number(String::new()), unit),
                Decode::Number(Form::Plain),
            ),
            None => (extra(Kind::Label("text"), ""), Decode::Plain),
        }));
    };
    let stated = units::stated(unit, field.unit).ok_or_else(|| unknown_unit(field, unit, spot))?;
    let number = |name: &str, from: &str, form, unit: &str| {
        let head = Head {
            channel: name.to_owned(),
            kind: Kind::Number(from.to_owned()),
            unit: unit.to_owned(),
        };
        (head, Decode::Number(form))
    };
    let apart = if stated == field.unit { "" } else { stated };
    Ok(Some(match field.holds {
        Holds::Channel(_, _, form) if companion => (
            extra(Kind::Number(String::new()), apart),
            Decode::Number(form),
        ),
        Holds::Channel(name, from, form) => number(name, reference.unwrap_or(from), form, stated),
        Holds::Fact(name) => number(&format!("{FACT_COLUMN}{name}"), "", Form::Plain, stated),
        Holds::Extra(form) => (
            extra(Kind::Number(String::new()), apart),
            Decode::Number(form),
        ),
        Holds::TextChannel(name) => {
            let head = Head {
                channel: name.to_owned(),
                kind: Kind::Label("text"),
                unit: String::new(),
            };
            (head, Decode::Plain)
        }
        Holds::TextExtra => (extra(Kind::Label("text"), ""), Decode::Plain),
    }))
}

fn unknown_unit(field: &fields::Field, unit: Option<&str>, spot: &Spot) -> Failure {
    let found = shown(unit.unwrap_or_default());
    let expected = match field.unit_word() {
        Some(word) => format!("a unit such as '{word}', or none"),
        None => "none".to_owned(),
    };
    spot.failure(
        format!(
            "the unit '{found}' of {} is not known; expected {expected}",
            field.parameter
        ),
        "correct the unit attribute: the values mean nothing without it",
    )
}

impl Target {
    /// The text of an item; `None` is 'not recorded'.
    pub fn text(&self, item: &str) -> Option<String> {
        if item == escape::ABSENT {
            return None;
        }
        Some(match self.decode {
            Decode::Escaped => from_item(item),
            _ => escape::from_plain(item),
        })
    }
}
