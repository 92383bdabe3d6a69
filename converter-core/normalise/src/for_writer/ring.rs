//! Rings for a writer: what was engraved and recorded goes back as it came.

use ringmark_model::Ring;
use ringmark_model::raw::{RawMark, RawRing};
use ringmark_quantity::{RingScale, Unit};

use crate::error::NormaliseError;
use crate::{to_facts, units};

/// A ring in the units of its scale and of its positions.
pub(super) fn ring(ring: &Ring) -> Result<RawRing, NormaliseError> {
    let what = format!("the {} scale", ring.axis.name());
    let conversion = units::conversion(ring.quantity.unit(), ring.source_unit, &what)?;
    let positions = position_unit(ring);
    Ok(RawRing {
        axis: ring.axis.name().to_owned(),
        position_unit: positions.symbol().to_owned(),
        value_unit: ring.source_unit.symbol().to_owned(),
        facts: to_facts::of_ring(ring, raw_unit(ring)),
        marks: ring
            .marks
            .iter()
            .map(|mark| RawMark {
                position: match mark.raw {
                    Some(raw) if positions != Unit::Ratio => raw,
                    _ => mark.position,
                },
                value: conversion.apply(mark.value),
                engraved: mark.engraved.clone().unwrap_or_default(),
                at: None,
            })
            .collect(),
    })
}

/// The unit of the positions as recorded: the one in which they give the positions 0..1.
fn position_unit(ring: &Ring) -> Unit {
    if ring.marks.iter().all(|mark| mark.raw.is_none()) {
        return Unit::Ratio;
    }
    let gives = |scale: RingScale| {
        ring.marks.iter().all(|mark| match mark.raw {
            Some(raw) => scale.to_ratio(raw) == mark.position,
            None => mark.position.is_nan(),
        })
    };
    let counts = ring
        .encoder
        .and_then(|ends| RingScale::counts(ends.low, ends.high).ok());
    if counts.is_some_and(gives) {
        raw_unit(ring)
    } else if gives(RingScale::percent()) {
        Unit::Percent
    } else {
        Unit::Ratio
    }
}

/// Counts or degrees: a range as wide as the ring turns is in degrees.
fn raw_unit(ring: &Ring) -> Unit {
    let turn = ring.rotation.map(|turn| turn.degrees().abs());
    match ring.encoder {
        Some(ends) if turn == Some((ends.high - ends.low).abs()) => Unit::Degree,
        _ => Unit::Count,
    }
}
