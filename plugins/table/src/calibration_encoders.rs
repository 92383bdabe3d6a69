//! Encoder ranges and rotations of the rings of a calibration.

use ringmark_sdk::quantity::Unit;
use ringmark_sdk::{Datum, Fact, Failure, Ring, failure};

use crate::facts::Encoder;
use crate::fields::Quantity;

/// Encoder range and rotation as facts of a ring; positions in counts or degrees need a range.
pub fn add_encoder(
    ring: &mut Ring,
    encoder: Encoder,
    rotation: Option<Fact>,
) -> Result<(), Failure> {
    let positions = Unit::from_symbol(&ring.position_unit).unwrap_or(Unit::One);
    let raw = Quantity::RawPosition.takes(positions);
    let mut encoder = encoder;
    if positions == Unit::Degree
        && encoder.low.is_none()
        && encoder.high.is_none()
        && let Some(Fact {
            value: Datum::Number(degrees),
            unit,
            at,
            ..
        }) = &rotation
    {
        encoder = Encoder {
            low: Some(0.0),
            high: Some(*degrees),
            unit: Unit::from_symbol(unit),
            at: at.clone(),
        };
    }
    let unit = encoder
        .unit
        .unwrap_or(if raw { positions } else { Unit::Count });
    let complete = encoder.low.is_some() && encoder.high.is_some();
    if raw && (!complete || unit != positions) {
        let line = match positions {
            Unit::Degree => format!("# {} rotation: 300 deg", ring.axis),
            _ => format!("# {} encoder: 0..65535", ring.axis),
        };
        return Err(failure(
            format!(
                "positions of the {} ring are in {}, and nothing says which range the ring has",
                ring.axis,
                positions.name()
            ),
            format!(
                "add a line `{line}` above the header, or range to the column in a mapping file"
            ),
            encoder
                .at
                .or_else(|| ring.marks.first().and_then(|mark| mark.at.clone())),
        ));
    }
    for (name, value) in [("encoder-low", encoder.low), ("encoder-high", encoder.high)] {
        if let Some(value) = value {
            ring.facts.push(Fact {
                name: name.to_owned(),
                value: Datum::Number(value),
                unit: unit.symbol().to_owned(),
                at: encoder.at.clone(),
            });
        }
    }
    ring.facts.extend(rotation);
    Ok(())
}

/// What is said about a ring that has no marks, kept as it is.
pub fn unused(ring: &str, encoder: Encoder, rotation: Option<Fact>) -> Vec<Fact> {
    let unit = encoder.unit.unwrap_or(Unit::Count).symbol();
    let ends = [("encoder low", encoder.low), ("encoder high", encoder.high)];
    let ends = ends.into_iter().filter_map(|(end, value)| {
        Some(Fact {
            name: format!("extra/{ring} {end}"),
            value: Datum::Number(value?),
            unit: unit.to_owned(),
            at: encoder.at.clone(),
        })
    });
    let turn = rotation.map(|turn| Fact {
        name: format!("extra/{ring} rotation"),
        ..turn
    });
    ends.chain(turn).collect()
}
