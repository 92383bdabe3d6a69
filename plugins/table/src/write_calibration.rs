//! Writes ring calibrations: facts of the lens, then one row a mark.

use ringmark_sdk::quantity::parse::DecimalMark;
use ringmark_sdk::quantity::{DistanceReference, Unit, print};
use ringmark_sdk::{Datum, Fact, Failure, Lens, Mark, Output, Ring, failure};

use crate::calibration_columns::scale;
use crate::cells::Reading;
use crate::fields::Quantity;
use crate::print::{number, push_header, push_text, refuse_nul};
use crate::say::quoted;
use crate::write_statics::Lines;

/// Writes the rings of a lens.
pub fn write(output: &mut dyn Output, lens: &Lens) -> Result<(), Failure> {
    if lens.rings.iter().all(|ring| ring.marks.is_empty()) {
        return Err(failure(
            "the lens has no marks, and there is no take",
            "a table holds the marks of one lens, or one take",
            None,
        ));
    }
    let measured_from = lens
        .rings
        .iter()
        .filter(|ring| ring.axis == "focus")
        .find_map(|ring| match &ring_fact(ring, "reference")?.value {
            Datum::Text(name) => DistanceReference::from_name(name),
            Datum::Number(_) => None,
        })
        .unwrap_or_default();
    let mut lines = Lines::new(true);
    lines.lens(&lens.facts, measured_from)?;
    lines.measured_from(measured_from);
    for ring in &lens.rings {
        let (low, high) = (
            ring_fact(ring, "encoder-low"),
            ring_fact(ring, "encoder-high"),
        );
        lines.encoder(&ring.axis, low, high);
        if let Some(Fact {
            value: Datum::Number(turn),
            unit,
            ..
        }) = ring_fact(ring, "rotation")
        {
            lines.plain(
                &format!("{} rotation", ring.axis),
                &format!("{} {unit}", number(*turn)),
            );
        }
    }
    let positions = units(lens, |ring| &ring.position_unit);
    let marks = units(lens, |ring| &ring.value_unit);
    let mut rows = Vec::new();
    for ring in &lens.rings {
        for mark in &ring.marks {
            rows.push(Row::new(ring, mark)?);
        }
    }
    // Texts on the barrel need a column of their own only where they differ from the marks.
    let engraved = rows.iter().any(|row| row.mark != row.engraved);
    let mut out = lines.into_text().into_bytes();
    out.extend_from_slice(b"ring");
    for unit in &positions {
        out.push(b',');
        push_header(&mut out, &format!("position [{unit}]"));
    }
    for unit in &marks {
        out.push(b',');
        push_header(&mut out, &format!("mark [{unit}]"));
    }
    if engraved {
        out.extend_from_slice(b",engraved");
    }
    out.push(b'\n');
    for row in rows {
        out.extend_from_slice(row.ring.axis.as_bytes());
        for unit in &positions {
            out.push(b',');
            if **unit == row.ring.position_unit {
                out.extend_from_slice(row.position.as_bytes());
            }
        }
        for unit in &marks {
            out.push(b',');
            if **unit == row.ring.value_unit {
                push_text(&mut out, &row.mark);
            }
        }
        if engraved {
            out.push(b',');
            if !row.engraved.is_empty() {
                push_text(&mut out, row.engraved);
            }
        }
        out.push(b'\n');
    }
    output.write(&out);
    Ok(())
}

/// One mark as text.
struct Row<'a> {
    ring: &'a Ring,
    position: String,
    mark: String,
    engraved: &'a str,
}

impl<'a> Row<'a> {
    fn new(ring: &'a Ring, mark: &'a Mark) -> Result<Self, Failure> {
        refuse_nul(&mark.engraved)?;
        let unit = Unit::from_symbol(&ring.value_unit);
        let position_unit = Unit::from_symbol(&ring.position_unit);
        let (Some(unit), Some(quantity), Some(_)) = (
            unit,
            unit.and_then(|unit| scale(&ring.axis, unit)),
            position_unit.filter(|unit| {
                Quantity::Position.takes(*unit) || Quantity::RawPosition.takes(*unit)
            }),
        ) else {
            return Err(failure(
                format!(
                    "the {} ring has positions in {} and marks in {}, which a table has no column for",
                    quoted(&ring.axis),
                    quoted(&ring.position_unit),
                    quoted(&ring.value_unit)
                ),
                "choose another target format",
                None,
            ));
        };
        if mark.position.is_nan() || mark.value.is_nan() {
            return Err(failure(
                format!(
                    "a mark of the {} ring has no position or no value",
                    ring.axis
                ),
                "leave it out: a row of a calibration has both",
                mark.at.clone(),
            ));
        }
        let reading = Reading {
            quantity,
            unit,
            mark: DecimalMark::Point,
        };
        let says = |text: &str| {
            !text.is_empty()
                && reading
                    .read(text)
                    .is_ok_and(|value| value.to_bits() == mark.value.to_bits())
        };
        let plain = match unit {
            Unit::FeetInches => print::feet_inches_exact(mark.value),
            _ => number(mark.value),
        };
        let text = if says(&mark.engraved) {
            mark.engraved.clone()
        } else if says(&plain) {
            plain
        } else {
            return Err(failure(
                format!(
                    "a mark of the {} ring says {}, which cannot be written in {}",
                    ring.axis,
                    mark.value,
                    unit.name()
                ),
                "check the mark",
                mark.at.clone(),
            ));
        };
        Ok(Row {
            ring,
            position: number(mark.position),
            mark: text,
            engraved: &mark.engraved,
        })
    }
}

fn ring_fact<'a>(ring: &'a Ring, name: &str) -> Option<&'a Fact> {
    ring.facts.iter().find(|fact| fact.name == name)
}

/// The different units of the rings, in their order.
fn units<'a>(lens: &'a Lens, unit: impl Fn(&'a Ring) -> &'a String) -> Vec<&'a String> {
    let mut units = Vec::new();
    for ring in lens.rings.iter().filter(|ring| !ring.marks.is_empty()) {
        if !units.contains(&unit(ring)) {
            units.push(unit(ring));
        }
    }
    units
}
