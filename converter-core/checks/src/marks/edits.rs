//! What a program has to change in a lens to make a repair.

use ringmark_model::{Change, Edit, Ring, ScaleQuantity};
use ringmark_quantity::{Length, Unit, print};

use super::judgement::Judgement;
use super::leave_one_out::Point;

/// Edits that turn the scale with the fault into the one without. Marks that the repair says nothing about are taken out.
pub(crate) fn edits(lens: usize, ring: &Ring, judgement: &Judgement) -> Vec<Edit> {
    let change = |change| Edit {
        lens,
        axis: ring.axis,
        change,
    };
    let mut all = Vec::new();
    for point in &judgement.points {
        let Some(mended) = judgement
            .mended
            .iter()
            .find(|mended| mended.mark == point.mark)
        else {
            all.push(change(Change::Remove { mark: point.mark }));
            continue;
        };
        if mended.position != point.position {
            all.push(change(position(point, mended.position)));
        }
        if mended.distance != point.distance {
            all.push(change(value(
                ring,
                ring.source_unit,
                point.mark,
                mended.distance,
            )));
        }
    }
    all
}

/// Another position, to the step of a 16-bit encoder and finer.
pub(crate) fn position(point: &Point, position: f64) -> Change {
    Change::Position {
        mark: point.mark,
        position: (position * 1e6).round() / 1e6,
    }
}

/// Another value, with its text in `unit`.
pub(crate) fn value(ring: &Ring, unit: Unit, mark: usize, value: f64) -> Change {
    let engraved = ring
        .marks
        .get(mark)
        .is_some_and(|mark| mark.engraved.is_some());
    Change::Value {
        mark,
        value,
        engraved: engraved.then(|| text(ring, unit, value)),
    }
}

/// A value as its scale has it, without the unit.
fn text(ring: &Ring, unit: Unit, value: f64) -> String {
    if ring.quantity != ScaleQuantity::FocusDistance || value.is_infinite() {
        return if value.is_finite() {
            crate::words::short(value)
        } else {
            "inf".to_owned()
        };
    }
    let length = Length::from_metres(value);
    match unit {
        Unit::FeetInches => print::feet_inches_exact(((value / 0.0254) * 1e6).round() / 1e6),
        _ => length
            .in_unit(unit)
            .map_or_else(|_| String::new(), crate::words::short),
    }
}
