//! Lenses, their rings and tables.

use ringmark_quantity::{Angle, FNumber, Length, NominalFocalLength, QuantityError, TStop, Unit};

use super::columns::{Column, columns, reference};
use super::cursor::Cursor;
use super::error::Parsed;
use super::extras::extras;
use crate::json::keys;
use crate::lens::{Axis, EncoderRange, Lens, LensKind, LensTable, Mark, Ring, ScaleQuantity};
use crate::place::Place;

/// Reads a value and keeps its place under the names of the facts it holds.
pub(super) fn fact<'a, T>(
    c: &mut Cursor<'a>,
    places: &mut Vec<(String, Place)>,
    names: &[&str],
    read: impl FnOnce(&mut Cursor<'a>) -> Parsed<T>,
) -> Parsed<T> {
    c.space();
    let start = c.at();
    let value = read(c)?;
    let place = c.place_from(start);
    places.extend(names.iter().map(|&name| (name.to_owned(), place.clone())));
    Ok(value)
}

/// A text that is kept.
pub(super) fn owned(c: &mut Cursor) -> Parsed<String> {
    c.text().map(|text| text.into_owned())
}

pub(super) fn lens(c: &mut Cursor) -> Parsed<Lens> {
    let mut lens = Lens::default();
    let mut places = Vec::new();
    let at = &mut places;
    c.object(keys::LENS, |c, key| {
        match key {
            "maker" => lens.maker = Some(fact(c, at, &["lens-maker"], owned)?),
            "model" => lens.model = Some(fact(c, at, &["lens-model"], owned)?),
            "serial" => lens.serial = Some(fact(c, at, &["lens-serial"], owned)?),
            "firmware" => lens.firmware = Some(fact(c, at, &["lens-firmware"], owned)?),
            "kind" => lens.kind = Some(fact(c, at, &["lens-kind"], kind)?),
            "focal_length_mm" => {
                let facts = ["focal-length-min", "focal-length-max"];
                lens.focal_length = Some(fact(c, at, &facts, focal_lengths)?);
            }
            "close_focus_m" => {
                let metres = fact(c, at, &["close-focus"], Cursor::finite)?;
                lens.close_focus = Some(Length::from_metres(metres));
            }
            "close_focus_reference" => {
                let found = fact(c, at, &["close-focus-reference"], reference)?;
                lens.close_focus_reference = Some(found);
            }
            "widest_t_stop" => lens.widest_t = Some(fact(c, at, &["widest-t-stop"], t_stop)?),
            "smallest_t_stop" => lens.smallest_t = Some(fact(c, at, &["smallest-t-stop"], t_stop)?),
            "widest_f_number" => lens.widest_f = Some(fact(c, at, &["widest-f-number"], f_number)?),
            "smallest_f_number" => {
                lens.smallest_f = Some(fact(c, at, &["smallest-f-number"], f_number)?);
            }
            "squeeze" => lens.squeeze = Some(fact(c, at, &["squeeze"], Cursor::finite)?),
            "image_circle_mm" => {
                let metres = fact(c, at, &["image-circle"], Cursor::millimetres)?;
                lens.image_circle = Some(Length::from_metres(metres));
            }
            "rings" => c.array(|c| {
                lens.rings.push(ring(c)?);
                Ok(())
            })?,
            "tables" => c.array(|c| {
                lens.tables.push(table(c)?);
                Ok(())
            })?,
            _ => lens.extras = extras(c)?,
        }
        Ok(())
    })?;
    lens.places = places;
    Ok(lens)
}

fn kind(c: &mut Cursor) -> Parsed<LensKind> {
    c.one_of(
        "kind",
        &[LensKind::Prime, LensKind::Zoom].map(|kind| (kind.name(), kind)),
    )
}

/// A number that makes a quantity, or the quantity's own reason why not.
fn quantity<T>(c: &mut Cursor, make: fn(f64) -> Result<T, QuantityError>) -> Parsed<T> {
    c.space();
    let start = c.at();
    let number = c.finite()?;
    make(number).map_err(|error| c.fault(start, error.to_string(), ""))
}

fn t_stop(c: &mut Cursor) -> Parsed<TStop> {
    quantity(c, TStop::new)
}

fn f_number(c: &mut Cursor) -> Parsed<FNumber> {
    quantity(c, FNumber::new)
}

fn focal_lengths(c: &mut Cursor) -> Parsed<(NominalFocalLength, NominalFocalLength)> {
    c.expect(b'[', "`[` and two numbers")?;
    let shortest = quantity(c, NominalFocalLength::from_mm)?;
    c.expect(b',', "`,` and a second number")?;
    let longest = quantity(c, NominalFocalLength::from_mm)?;
    c.expect(b']', "`]` after two numbers")?;
    Ok((shortest, longest))
}

pub(super) fn encoder(c: &mut Cursor) -> Parsed<EncoderRange> {
    c.pair().map(|(low, high)| EncoderRange { low, high })
}

fn unit(c: &mut Cursor) -> Parsed<Unit> {
    c.one_of("unit", &Unit::ALL.map(|unit| (unit.symbol(), unit)))
}

fn ring(c: &mut Cursor) -> Parsed<Ring> {
    let start = c.at();
    let (mut axis, mut quantity, mut measured_from) = (None, None, None);
    let (mut stated, mut source_unit, mut range, mut rotation) = (None, None, None, None);
    let mut marks = Vec::new();
    c.object(keys::RING, |c, key| {
        match key {
            "axis" => axis = Some(c.one_of("axis", &Axis::ALL.map(|axis| (axis.name(), axis)))?),
            "quantity" => {
                let all = ScaleQuantity::ALL.map(|quantity| (quantity.name(), quantity));
                quantity = Some(c.one_of("quantity", &all)?);
            }
            "reference" => measured_from = Some(reference(c)?),
            "unit" => stated = Some(unit(c)?),
            "source_unit" => source_unit = Some(unit(c)?),
            "encoder" => range = Some(encoder(c)?),
            "rotation_deg" => rotation = Some(Angle::from_degrees(c.finite()?)),
            _ => c.array(|c| {
                marks.push(mark(c)?);
                Ok(())
            })?,
        }
        Ok(())
    })?;
    let (Some(axis), Some(quantity)) = (axis, quantity) else {
        return Err(c.fault(start, "a ring without `axis` or `quantity`", ""));
    };
    let unit = quantity.unit();
    if stated != Some(unit) {
        let message = format!(
            "the unit of a scale of {} is `{}`, found {}",
            quantity.name(),
            unit.symbol(),
            stated.map_or("none".to_owned(), |found| format!("`{}`", found.symbol()))
        );
        let help = "convert the values; the unit of the engraving goes to `source_unit`";
        return Err(c.fault(start, message, help));
    }
    if (quantity == ScaleQuantity::FocusDistance) != measured_from.is_some() {
        let message = "`reference` stands with scales of focus-distance, and only there";
        return Err(c.fault(start, message, "say `unstated` if it is not known"));
    }
    Ok(Ring {
        axis,
        quantity,
        reference: measured_from,
        source_unit: source_unit.unwrap_or(unit),
        encoder: range,
        rotation,
        marks,
    })
}

fn mark(c: &mut Cursor) -> Parsed<Mark> {
    c.space();
    let start = c.at();
    let (mut position, mut raw, mut value, mut engraved) = (None, None, None, None);
    c.object(keys::MARK, |c, key| {
        match key {
            "position" => position = Some(c.value()?),
            "raw" => raw = Some(c.finite()?),
            "value" => value = Some(c.value()?),
            _ => engraved = Some(owned(c)?),
        }
        Ok(())
    })?;
    let (Some(position), Some(value)) = (position, value) else {
        return Err(c.fault(start, "a mark without `position` or `value`", ""));
    };
    Ok(Mark {
        position,
        raw,
        value,
        engraved,
        place: Some(c.place_from(start)),
    })
}

fn table(c: &mut Cursor) -> Parsed<LensTable> {
    let start = c.at();
    let mut name = None;
    let mut read = Vec::new();
    c.object(keys::TABLE, |c, key| {
        match key {
            "name" => name = Some(owned(c)?),
            _ => {
                for declared in columns(c)? {
                    let start = declared.start;
                    match declared.read(c)?.0 {
                        Column::Numbers(column) => read.push(column),
                        Column::Texts(_) => {
                            return Err(c.fault(
                                start,
                                "a column of texts in a table of numbers",
                                "",
                            ));
                        }
                    }
                }
            }
        }
        Ok(())
    })?;
    let Some(name) = name else {
        return Err(c.fault(start, "a table without a name", ""));
    };
    let rows = read.first().map_or(0, |column| column.values.len());
    if let Some(odd) = read.iter().find(|column| column.values.len() != rows) {
        let message = format!(
            "column `{}` of table `{}` has {} values, the first column {rows}",
            odd.head.key.name(),
            name.escape_debug(),
            odd.values.len()
        );
        return Err(c.fault(start, message, ""));
    }
    Ok(LensTable {
        name,
        columns: read,
    })
}
