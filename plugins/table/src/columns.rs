//! What each column of a take is, by its header and the mapping.

use ringmark_sdk::quantity::parse::DecimalMark;
use ringmark_sdk::quantity::{DistanceReference, Unit};
use ringmark_sdk::{Failure, Place, failure};

use crate::cells::Reading;
use crate::fields::{self, Field, Holds, Quantity};
use crate::header::{shown, split_unit};
use crate::keys::EXTRA;
use crate::mapping::{MappedColumn, mapping_failure, reference};
use crate::records::Cell;
use crate::say::quoted;

/// A column of a take.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its header, for messages.
    pub header: String,
    /// Where the header stands.
    pub at: Option<Place>,
    /// What it holds.
    pub target: Target,
    /// Whether the registry knows it.
    pub known: bool,
    /// Whether it holds raw positions of a ring that the header calls by its normalised name.
    pub needs_range: bool,
    /// Ring positions at both ends, from the mapping.
    pub range: Option<[f64; 2]>,
}

/// Where the cells of a column go.
#[derive(Debug, Clone, PartialEq)]
pub enum Target {
    /// Numbers.
    Numbers {
        /// Channel or extra.
        channel: String,
        /// Symbol of the unit.
        unit: String,
        /// What distances are measured from; empty for others.
        reference: &'static str,
        /// How its cells are read.
        reading: Reading,
    },
    /// Texts.
    Texts {
        /// Channel or extra.
        channel: String,
        /// `text`, `json` or `hex`.
        form: &'static str,
    },
    /// Nowhere.
    Ignored,
    /// Nowhere: the header ends with a delimiter, and so must the rows.
    Nameless,
}

/// What holds for all columns of a file.
#[derive(Debug, Clone, Copy)]
pub struct Context {
    /// Decimal mark.
    pub mark: DecimalMark,
    /// What distances are measured from, where the column does not say it.
    pub measured_from: DistanceReference,
}

/// The columns of a take. Fails on columns that are there twice, and on known ones without a unit
/// or with one that does not fit.
pub fn resolve(
    header: &[Cell],
    mapped: &[Option<&MappedColumn>],
    context: Context,
) -> Result<Vec<Column>, Failure> {
    let mut columns: Vec<Column> = Vec::with_capacity(header.len());
    let mut seen = std::collections::HashMap::new();
    for (index, cell) in header.iter().enumerate() {
        let entry = mapped.get(index).copied().flatten();
        let last = index > 0 && index + 1 == header.len();
        let column = column(cell, entry, last, context).map_err(|error| Failure {
            at: error.at.or_else(|| cell.at.clone()),
            ..error
        })?;
        let key = match &column.target {
            Target::Numbers { channel, .. } => Some((channel.clone(), false)),
            Target::Texts { channel, .. } => Some((channel.clone(), true)),
            Target::Ignored | Target::Nameless => None,
        };
        if let Some(key) = key
            && let Some(other) = seen.insert(key.clone(), index)
        {
            return Err(failure(
                format!(
                    "columns {} and {} are both {}",
                    other + 1,
                    index + 1,
                    quoted(&key.0)
                ),
                "rename one of them, or leave one out with channel = \"ignore\" in a mapping file",
                cell.at.clone(),
            ));
        }
        columns.push(column);
    }
    Ok(columns)
}

fn column(
    cell: &Cell,
    entry: Option<&MappedColumn>,
    last: bool,
    context: Context,
) -> Result<Column, Failure> {
    let header = shown(cell);
    let unit_entry = entry.and_then(|entry| entry.unit.as_deref());
    let channel = entry.and_then(|entry| entry.channel.as_deref());
    let (trimmed, unit) = split_unit(cell.text.trim());
    let unit = unit_entry.or(unit);
    let (target, field) = match channel {
        Some("ignore") => (Target::Ignored, None),
        Some("extra") => (extra(header, unit_entry, context)?, None),
        Some(name) => {
            let field = fields::by_channel(name).ok_or_else(|| {
                mapping_failure(
                    format!("there is no channel {}", quoted(name)),
                    "`ringmark formats` lists the channels; `extra` keeps a column under its own name, `ignore` leaves it out",
                )
            })?;
            (
                known_column(header, field, unit, entry, context)?,
                Some(field),
            )
        }
        None => match fields::by_header(trimmed) {
            Some(field) => (
                known_column(header, field, unit, entry, context)?,
                Some(field),
            ),
            None if header.is_empty() && last => (Target::Nameless, None),
            None if header.is_empty() => {
                return Err(failure(
                    "a column has no name",
                    "name it in the header, or leave it out in a mapping file: index = its number, channel = \"ignore\"",
                    None,
                ));
            }
            None => (extra(header, unit_entry, context)?, None),
        },
    };
    Ok(Column {
        header: header.to_owned(),
        at: cell.at.clone(),
        needs_range: match (&target, field) {
            (Target::Numbers { channel, .. }, Some(field)) => channel != field.channel,
            _ => false,
        },
        known: field.is_some(),
        target,
        range: entry.and_then(|entry| entry.range),
    })
}

/// A column of the registry.
fn known_column(
    header: &str,
    field: &Field,
    unit: Option<&str>,
    entry: Option<&MappedColumn>,
    context: Context,
) -> Result<Target, Failure> {
    let quantity = match field.holds {
        Holds::Number(quantity) => quantity,
        Holds::Text => return known_text(header, field, unit),
    };
    let (symbol, from) = match unit {
        Some(unit) => match unit.split_once(" from ") {
            Some((symbol, from)) => (Some(symbol), Some(from)),
            None => (Some(unit), None),
        },
        None => (None, None),
    };
    let unit = match symbol {
        Some(symbol) => Unit::from_symbol(symbol)
            .filter(|unit| quantity.takes(*unit) || raw_of(quantity, *unit))
            .ok_or_else(|| wrong_unit(header, symbol, quantity))?,
        None => quantity
            .unsaid()
            .ok_or_else(|| no_unit(header, field, quantity))?,
    };
    let stated = entry.and_then(|entry| entry.reference.as_deref()).or(from);
    let reference = match (quantity, stated) {
        (Quantity::Distance, Some(name)) => reference(name)?.name(),
        (Quantity::Distance, None) => context.measured_from.name(),
        (_, Some(_)) => {
            return Err(failure(
                format!(
                    "column {} is no distance: it is measured from nothing",
                    quoted(header)
                ),
                "leave out what it is measured from",
                None,
            ));
        }
        (_, None) => "",
    };
    let raw = raw_of(quantity, unit);
    Ok(Target::Numbers {
        channel: format!("{}{}", field.channel, if raw { "-raw" } else { "" }),
        unit: unit.symbol().to_owned(),
        reference,
        reading: Reading {
            quantity: if raw { Quantity::RawPosition } else { quantity },
            unit,
            mark: context.mark,
        },
    })
}

/// Whether a column of ring positions in that unit is one of raw positions.
fn raw_of(quantity: Quantity, unit: Unit) -> bool {
    quantity == Quantity::Position && Quantity::RawPosition.takes(unit)
}

fn known_text(header: &str, field: &Field, form: Option<&str>) -> Result<Target, Failure> {
    let form = match form {
        None => "text",
        Some(form) => text_form(form).ok_or_else(|| {
            failure(
                format!(
                    "column {} holds texts, which have no unit {}",
                    quoted(header),
                    quoted(form)
                ),
                "write the header without brackets",
                None,
            )
        })?,
    };
    Ok(Target::Texts {
        channel: field.channel.to_owned(),
        form,
    })
}

/// Any other column, under its own name: numbers where the header has a unit, else texts.
fn extra(header: &str, unit_entry: Option<&str>, context: Context) -> Result<Target, Failure> {
    let (name, unit) = split_unit(header);
    let unit = unit_entry.or(unit);
    let name = name.strip_prefix(EXTRA).unwrap_or(name);
    let channel = format!("{EXTRA}{name}");
    Ok(match unit {
        None => Target::Texts {
            channel,
            form: "text",
        },
        Some(unit) => match text_form(unit) {
            Some(form) => Target::Texts { channel, form },
            None => Target::Numbers {
                channel,
                unit: unit.to_owned(),
                reference: "",
                reading: Reading {
                    quantity: Quantity::Pure,
                    unit: Unit::One,
                    mark: context.mark,
                },
            },
        },
    })
}

/// The words that stand in place of a unit behind a column of texts.
fn text_form(unit: &str) -> Option<&'static str> {
    ["text", "json", "hex"]
        .into_iter()
        .find(|form| *form == unit)
}

#[cold]
fn no_unit(header: &str, field: &Field, quantity: Quantity) -> Failure {
    failure(
        format!("column {} has no unit", quoted(header)),
        format!(
            "write the unit behind the name, for example `{} [{}]`, or say it in a mapping file: header = {}, unit = \"{}\"; known units: {}",
            field.title,
            quantity.example(),
            serde_json::Value::from(header),
            quantity.example(),
            quantity.units()
        ),
        None,
    )
}

#[cold]
fn wrong_unit(header: &str, symbol: &str, quantity: Quantity) -> Failure {
    failure(
        format!("column {} cannot be in {}", quoted(header), quoted(symbol)),
        format!("known units: {}", quantity.units()),
        None,
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn one(header: &str) -> Result<Target, Failure> {
        let cell = Cell {
            text: header.to_owned(),
            quoted: false,
            at: None,
        };
        let context = Context {
            mark: DecimalMark::Point,
            measured_from: DistanceReference::ImagePlane,
        };
        resolve(&[cell], &[None], context).map(|mut columns| columns.remove(0).target)
    }

    fn numbers(header: &str) -> (String, String, &'static str) {
        match one(header).unwrap() {
            Target::Numbers {
                channel,
                unit,
                reference,
                ..
            } => (channel, unit, reference),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn known_and_unknown_columns() {
        let all = |a: &str, b: &str, c| (a.to_owned(), b.to_owned(), c);
        assert_eq!(
            numbers("Focus Distance [ft]"),
            all("focus-distance", "ft", "image-plane")
        );
        assert_eq!(
            numbers("focus distance [m from front vertex]"),
            all("focus-distance", "m", "front-vertex")
        );
        assert_eq!(numbers("T-stop"), all("t-stop", "T", ""));
        assert_eq!(numbers("focus ring [%]"), all("focus-ring", "%", ""));
        assert_eq!(
            numbers("focus ring [count]"),
            all("focus-ring-raw", "count", "")
        );
        assert_eq!(
            numbers("focus ring [deg]"),
            all("focus-ring-raw", "deg", "")
        );
        assert_eq!(numbers("pan [deg]"), all("extra/pan", "deg", ""));
        assert_eq!(numbers("n []"), all("extra/n", "", ""));
        assert_eq!(numbers("extra/frame []"), all("extra/frame", "", ""));
        let note = |channel: &str, form| Target::Texts {
            channel: channel.to_owned(),
            form,
        };
        assert_eq!(one("note").unwrap(), note("extra/note", "text"));
        assert_eq!(one("note [json]").unwrap(), note("extra/note", "json"));
        assert_eq!(one("timecode").unwrap(), note("timecode", "text"));
    }

    #[test]
    fn a_unit_is_never_guessed() {
        for header in [
            "focus distance",
            "focus ring",
            "focal length",
            "shutter angle",
            "exposure time",
            "capture rate",
        ] {
            let error = one(header).unwrap_err();
            assert!(error.message.contains("has no unit"), "{}", error.message);
            assert!(
                error.help.contains(&format!("`{header} [")),
                "{}",
                error.help
            );
        }
        for header in [
            "focus distance [kg]",
            "focus distance [deg]",
            "T-stop [f]",
            "lens [m]",
            "focal length [D]",
            "T-stop [T from front vertex]",
        ] {
            assert!(one(header).is_err(), "{header}");
        }
    }
}
