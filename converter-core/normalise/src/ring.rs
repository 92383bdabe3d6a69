//! Rings of a plugin to those of the model.

use ringmark_model::facts::Owner;
use ringmark_model::raw::{RawMark, RawRing};
use ringmark_model::{Axis, Extra, Mark, Place, Ring, ScaleQuantity, Subject};
use ringmark_quantity::{Angle, Conversion, DistanceReference, RingScale, Unit};

use crate::error::NormaliseError;
use crate::from_facts::{Known, Remarks, Sorted, Value, extra_of, sort, without_help};
use crate::range::Range;
use crate::reference::reference;
use crate::units;

/// A ring in canonical units. What the model has no place for goes to the extras of the lens.
pub(crate) fn ring(
    raw: RawRing,
    on: &Subject,
    extras: &mut Vec<Extra>,
    remarks: &mut Remarks,
) -> Result<Ring, NormaliseError> {
    let axis = Axis::from_name(&raw.axis).ok_or_else(|| {
        NormaliseError::new(
            format!("the plugin delivered a ring called '{}'", raw.axis),
            "focus, iris or zoom",
        )
    })?;
    let what = format!("the {} scale", axis.name());
    let (quantity, source_unit) = scale_reads(axis, &raw.value_unit, &what)?;
    let to_value = units::conversion(source_unit, quantity.unit(), &what)?;
    let mut ring = Ring {
        axis,
        quantity,
        reference: (axis == Axis::Focus).then_some(DistanceReference::Unstated),
        source_unit,
        encoder: None,
        rotation: None,
        marks: Vec::new(),
    };
    let mut range = Range::default();
    for fact in raw.facts {
        let Known { name, value, place } = match sort(fact, Owner::Ring, on, remarks)? {
            Sorted::Known(known) => known,
            Sorted::Extra(extra) => {
                extras.push(extra_of(axis.name(), extra));
                continue;
            }
            Sorted::Nothing => continue,
        };
        match (name, value) {
            ("reference", Value::Text(text)) => {
                let from = reference(&text, &what).map_err(|e| e.at(place))?;
                // Stops and focal lengths are measured from nowhere.
                ring.reference = ring.reference.map(|_| from);
            }
            (end, Value::Raw(raw, unit)) => range.set(end, raw, unit),
            ("rotation", Value::Number(degrees)) => {
                let degrees = remarks.finite(name, (degrees, Unit::Degree), place.as_ref(), on);
                ring.rotation = degrees.map(Angle::from_degrees);
            }
            _ => {}
        }
    }
    let unit = units::unit(
        &raw.position_unit,
        Unit::Ratio,
        &format!("{what}'s position"),
    )?;
    if unit == Unit::Degree && range.low.is_none() && range.high.is_none() {
        range.low = ring.rotation.map(|_| 0.0);
        range.high = ring.rotation.map(Angle::degrees);
    }
    let scale = positions(unit, &range, &what)?;
    ring.encoder = range.both();
    extras.extend(range.half(axis.name()));
    if let Some(ends) = ring.encoder
        && ring.rotation.is_none()
        && (unit == Unit::Degree || range.unit == Some(Unit::Degree))
    {
        // Degrees at both end stops say how far the ring turns.
        ring.rotation = Some(Angle::from_degrees((ends.high - ends.low).abs()));
    }
    let marks = raw.marks.into_iter();
    ring.marks = marks.map(|m| mark(m, scale, to_value)).collect();
    Ok(ring)
}

/// What the scale of a ring reads, and in which unit.
fn scale_reads(
    axis: Axis,
    symbol: &str,
    what: &str,
) -> Result<(ScaleQuantity, Unit), NormaliseError> {
    match axis {
        Axis::Focus => Ok((
            ScaleQuantity::FocusDistance,
            units::unit(symbol, Unit::Metre, what)?,
        )),
        Axis::Zoom => Ok((
            ScaleQuantity::FocalLength,
            units::unit(symbol, Unit::Millimetre, what)?,
        )),
        // T-stops and f-numbers look alike: without a unit either could be meant.
        Axis::Iris if symbol.is_empty() => Err(NormaliseError::new(
            format!("{what} has no unit"),
            "say T for T-stops or f for f-numbers, in the file or in a mapping",
        )),
        Axis::Iris => match units::unit(symbol, Unit::TStop, what)? {
            Unit::FNumber => Ok((ScaleQuantity::FNumber, Unit::FNumber)),
            unit => Ok((ScaleQuantity::TStop, unit)),
        },
    }
}

/// How positions in `unit` map to 0..1; `None` if they are 0..1.
fn positions(unit: Unit, range: &Range, what: &str) -> Result<Option<RingScale>, NormaliseError> {
    match unit {
        Unit::Ratio => Ok(None),
        Unit::Percent => Ok(Some(RingScale::percent())),
        Unit::Count | Unit::Degree => {
            let example = match unit {
                Unit::Degree => "0..300 deg",
                _ => "0..65535",
            };
            let Some(ends) = range.both() else {
                return Err(NormaliseError::new(
                    format!("{what} has positions in {}, but no range", unit.name()),
                    format!(
                        "give the raw positions of both end stops, as '# focus encoder: {example}'"
                    ),
                ));
            };
            if let Some(other) = range.unit.filter(|other| *other != unit) {
                return Err(NormaliseError::new(
                    format!(
                        "{what} has positions in {}, but a range in {}",
                        unit.name(),
                        other.name()
                    ),
                    "give both in the same unit",
                ));
            }
            let scale = match unit {
                Unit::Degree => RingScale::degrees(ends.low, ends.high),
                _ => RingScale::counts(ends.low, ends.high),
            };
            scale.map(Some).map_err(|error| {
                let message = format!("{what}: {}", without_help(&error));
                NormaliseError::new(message, error.help())
            })
        }
        other => Err(NormaliseError::new(
            format!("{what} has positions in {}", other.name()),
            "0..1, %, count or deg",
        )),
    }
}

fn mark(raw: RawMark, scale: Option<RingScale>, to_value: Conversion) -> Mark {
    Mark {
        position: scale.map_or(raw.position, |s| s.to_ratio(raw.position)),
        raw: scale
            .map(|_| raw.position)
            .filter(|position| position.is_finite()),
        value: to_value.apply(raw.value),
        engraved: (!raw.engraved.is_empty()).then_some(raw.engraved),
        place: raw.at.map(Place::from),
    }
}
