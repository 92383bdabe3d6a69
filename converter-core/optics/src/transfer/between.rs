//! What happens between printed marks.

use super::fit::Printed;
use crate::curve::{Pchip, RingCurve};

/// Places that are looked at in each gap between two marks. The error is smooth and has one or two humps a gap, so that the
/// largest of so many is within a thousandth of the true one.
const PLACES: u32 = 256;

/// A largest error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Largest {
    /// Positive where the lens is focused farther away than the print reads.
    pub error: f64,
    /// What the print reads there, in metres.
    pub metres: f64,
    /// Place on the knob.
    pub position: f64,
}

/// A printed mark that has a target.
#[derive(Debug, Clone, Copy)]
pub(super) struct Held {
    pub knob: f64,
    pub ring: f64,
    pub finite: bool,
}

/// The largest errors in metres and in full depths of field.
pub(super) fn largest(
    curve: &RingCurve,
    printed: &[Printed],
    held: &[Held],
    depth: impl Fn(f64) -> Option<f64>,
) -> (Option<Largest>, Option<Largest>) {
    let print = Pchip::new(
        printed.iter().map(|mark| mark.position).collect(),
        printed.iter().map(|mark| 1.0 / mark.metres).collect(),
    );
    let Some(print) = print else {
        return (None, None);
    };
    let (mut metres, mut depths) = (None, None);
    for (from, to) in held.iter().zip(held.iter().skip(1)) {
        for place in 0..=PLACES {
            let t = f64::from(place) / f64::from(PLACES);
            let position = from.knob + t * (to.knob - from.knob);
            let read = print.value(position);
            let focused = 1.0 / curve.value_at(from.ring + t * (to.ring - from.ring));
            let at = |error| Largest {
                error,
                metres: 1.0 / read,
                position,
            };
            if from.finite && to.finite {
                keep(&mut metres, at(1.0 / focused - 1.0 / read));
            }
            if let Some(depth) = depth(1.0 / read) {
                keep(&mut depths, at((read - focused) / depth));
            }
        }
    }
    (metres, depths)
}

fn keep(largest: &mut Option<Largest>, found: Largest) {
    let larger = largest.is_none_or(|so_far| found.error.abs() > so_far.error.abs());
    if larger && found.error.is_finite() {
        *largest = Some(found);
    }
}
