//! Constant offsets that would bring ring and rangefinder together.

use super::misfocus::{depths_between, full_depth};
use super::robust::{Mean, mean, median};
use super::sample::Pair;
use crate::circle_of_confusion::CircleOfConfusion;
use crate::curve::RingCurve;

/// Scatter of a rangefinder's readings, as a part of the distance. Common practice, no source.
const READING: f64 = 0.01;
/// Farther away, in metres, an offset is lost in the scatter of the readings.
const FARTHEST: f64 = 30.0;
/// A ring position is no better known than this, in travel: marks are read to 0.001.
const POSITION: f64 = 0.0005;

/// A constant to add to the readings of a rangefinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DistanceOffset {
    /// Metres.
    pub metres: f64,
    /// Half width of the 95 % interval in metres; infinite where there is too little to tell.
    pub error: f64,
    /// Median misfocus that stays, in full depths of field; `NaN` where no depth is known.
    pub typical: f64,
}

/// A constant to add to the positions of a ring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingOffset {
    /// Ring travel, 0 to 1 from end to end.
    pub travel: f64,
    /// Half width of the 95 % interval in travel; infinite where there is too little to tell.
    pub error: f64,
    /// Median misfocus that stays, in full depths of field; `NaN` where no depth is known.
    pub typical: f64,
}

/// Robust least squares of `focus - reading`, each weighed by the scatter of a reading and a quarter of the depth of field.
pub(super) fn distance_offset(pairs: &[Pair], circle: CircleOfConfusion) -> Option<DistanceOffset> {
    let values: Vec<(f64, f64)> = pairs
        .iter()
        .filter(|pair| pair.focus < FARTHEST && pair.reading < FARTHEST)
        .map(|pair| {
            let depth = full_depth(pair.focal_length_mm, pair.f_number, circle, pair.focus);
            let depth = if depth.is_nan() {
                0.0
            } else {
                depth * pair.focus * pair.focus
            };
            (
                pair.focus - pair.reading,
                (READING * pair.reading).hypot(0.25 * depth),
            )
        })
        .collect();
    let Mean { value, error } = mean(&values)?;
    let typical = typical(pairs, |pair| {
        let Pair {
            focal_length_mm,
            f_number,
            focus,
            reading,
            ..
        } = *pair;
        depths_between(focal_length_mm, f_number, circle, focus, reading + value)
    });
    Some(DistanceOffset {
        metres: value,
        error,
        typical,
    })
}

/// Robust least squares of the ring position at which the reading should be, less the recorded one, each weighed by what the
/// scatter of a reading is in travel there and by how fast the ring turns.
pub(super) fn ring_offset(
    pairs: &[Pair],
    curve: &RingCurve,
    circle: CircleOfConfusion,
) -> Option<RingOffset> {
    let values: Vec<(f64, f64)> = pairs
        .iter()
        .filter_map(|pair| {
            let off = curve.position_of(pair.reading) - pair.ring;
            let scatter = READING / pair.reading * pair.travel;
            let sigma = scatter.hypot(0.5 * pair.speed).hypot(POSITION);
            (off.is_finite() && sigma.is_finite()).then_some((off, sigma))
        })
        .collect();
    let Mean { value, error } = mean(&values)?;
    let typical = typical(pairs, |pair| {
        let focus = curve.value_at(pair.ring + value);
        depths_between(
            pair.focal_length_mm,
            pair.f_number,
            circle,
            focus,
            pair.reading,
        )
    });
    Some(RingOffset {
        travel: value,
        error,
        typical,
    })
}

/// Median misfocus as the pairs are.
pub(super) fn as_recorded(pairs: &[Pair], circle: CircleOfConfusion) -> f64 {
    typical(pairs, |pair| {
        depths_between(
            pair.focal_length_mm,
            pair.f_number,
            circle,
            pair.focus,
            pair.reading,
        )
    })
}

fn typical(pairs: &[Pair], depths: impl Fn(&Pair) -> f64) -> f64 {
    let mut all: Vec<f64> = pairs
        .iter()
        .map(|pair| depths(pair).abs())
        .filter(|off| off.is_finite())
        .collect();
    median(&mut all)
}
