//! What one part of a file (Exif or XMP) says: a value for each item of the table.

use ringmark_sdk::{Failure, Place, failure};

use crate::fields::{FIELDS, Field, Key};
use crate::rational::Ratio;

/// Numerator that says infinity in SubjectDistance.
pub const INFINITY: i64 = 0xffff_ffff;
/// The same cut to 31 bits, as a widely used writer does.
pub const INFINITY_CLAMPED: Ratio = Ratio {
    n: 0x7fff_ffff,
    d: 1,
};

/// A number as it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Number {
    /// A rational, or a whole number over 1.
    Ratio(Ratio),
    /// A decimal, which XMP does not have for rationals.
    Decimal(f64),
}

impl Number {
    /// A whole number.
    pub fn whole(n: u32) -> Number {
        Number::Ratio(Ratio {
            n: i64::from(n),
            d: 1,
        })
    }

    /// The number; `None` where the denominator is 0.
    pub fn value(self) -> Option<f64> {
        match self {
            Number::Ratio(ratio) => ratio.value(),
            Number::Decimal(value) => Some(value),
        }
    }
}

impl std::fmt::Display for Number {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Number::Ratio(Ratio { n, d: 1 }) => write!(f, "{n}"),
            Number::Ratio(ratio) => write!(f, "{ratio}"),
            Number::Decimal(value) => write!(f, "{value}"),
        }
    }
}

/// A value as it stands.
#[derive(Debug, Clone, PartialEq)]
pub enum Raw {
    /// One number, or four of a lens specification.
    Numbers(Vec<Number>),
    /// A text.
    Text(String),
}

impl Raw {
    /// The first number.
    pub fn number(&self) -> Option<Number> {
        match self {
            Raw::Numbers(numbers) => numbers.first().copied(),
            Raw::Text(_) => None,
        }
    }

    /// As people read it.
    pub fn show(&self) -> String {
        match self {
            Raw::Numbers(numbers) => {
                let numbers: Vec<String> = numbers.iter().map(Number::to_string).collect();
                numbers.join(" ")
            }
            Raw::Text(text) => format!("“{}”", text.escape_debug()),
        }
    }
}

/// A value with its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The value.
    pub raw: Raw,
    /// Where it stands.
    pub place: Place,
}

/// The values of a part, by item.
#[derive(Debug, Clone, PartialEq)]
pub struct Record(Vec<Option<Found>>);

impl Default for Record {
    fn default() -> Self {
        Record(vec![None; FIELDS.len()])
    }
}

impl Record {
    /// The value of an item.
    pub fn get(&self, key: Key) -> Option<&Found> {
        self.0.get(key as usize)?.as_ref()
    }

    /// Sets the value of an item; gives the one before.
    pub fn set(&mut self, key: Key, found: Found) -> Option<Found> {
        self.0.get_mut(key as usize)?.replace(found)
    }

    /// All values with their rows, in the order of the table.
    pub fn iter(&self) -> impl Iterator<Item = (&'static Field, &Found)> {
        let rows = FIELDS.iter().zip(&self.0);
        rows.filter_map(|(field, found)| Some((field, found.as_ref()?)))
    }
}

/// Where in a file something is.
pub fn place(input: u32, offset: u64, length: u64, field: impl Into<String>) -> Place {
    Place {
        input,
        offset,
        length,
        field: field.into(),
    }
}

/// A file that cannot be read.
pub fn refuse(message: impl Into<String>, help: &str, at: Place) -> Failure {
    let message = message.into();
    let message = match at.field.as_str() {
        "" => message,
        field => format!("{field}: {message}"),
    };
    failure(message, help, Some(at))
}
