//! One mark after another, each where it helps most.

use ringmark_model::ScaleQuantity;

use super::assumed;
use super::widest::{Band, Bench, Widest};
use crate::curve::RingCurve;

/// Marks nearer together than this, in travel, are read as one.
const APART: f64 = 0.02;

/// Most marks that are planned.
const MOST: usize = 24;

/// When planning ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Goal {
    /// The widest place is at most so many full depths of field, or there is no place for another mark.
    Depths(f64),
    /// So many marks were added, if there are places for them.
    Marks(usize),
}

/// A mark to take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planned {
    /// Distance in metres, maybe infinity.
    pub metres: f64,
    /// Where the ring is expected to stand; `None` while nothing is known of it.
    pub position: Option<f64>,
    /// The widest place once this mark and those before it are taken.
    pub after: Widest,
}

/// What to mark next.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The widest place as the marks are; `None` where they give no curve.
    pub now: Option<Widest>,
    /// Reading error that was planned with, one standard deviation in travel.
    pub reading_error: f64,
    /// Marks in the order in which they pay.
    pub marks: Vec<Planned>,
}

/// Plans marks for a focus scale with `taken` marks (position, metres) from `offered` distances in metres, at most 24.
///
/// A scale with a curve is planned from it; else from a lens with an even drive, from close focus at 0 to infinity at 1,
/// and no position is told ([module](super)). The ends come first, where no mark has them: close focus and infinity.
pub fn plan(bench: &Bench, taken: &[(f64, f64)], offered: &[f64], goal: Goal) -> Plan {
    let curve = fit(taken);
    let error = Bench::reading_error(curve.as_ref());
    let now = curve.as_ref().map(|curve| bench.band(curve, error).widest);
    let mut marks = match curve {
        Some(_) => taken.to_vec(),
        None => Vec::new(),
    };
    let expected = |metres: f64| match &curve {
        Some(curve) => on_scale(curve, metres),
        None => assumed::position(metres, bench.near, bench.focal_length),
    };
    let mut planned: Vec<Planned> = Vec::new();
    let mut widest = now;
    while wanted(goal, planned.len(), widest) {
        let with = |metres: f64| {
            let mut with = marks.clone();
            with.push((expected(metres), metres));
            // Marks that give no curve tell nothing.
            fit(&with).map_or(Band::nothing_at(metres), |curve| bench.band(&curve, error))
        };
        let missing = [bench.near, f64::INFINITY]
            .into_iter()
            .find(|end| !reach(&marks, *end));
        let best = match missing {
            Some(end) => Some((end, with(end))),
            None => offered
                .iter()
                .filter(|metres| **metres > bench.near && is_free(&marks, expected(**metres)))
                .map(|metres| (*metres, with(*metres)))
                .min_by(|(_, a), (_, b)| a.smooth.total_cmp(&b.smooth)),
        };
        let Some((metres, after)) = best else {
            break;
        };
        let position = expected(metres);
        marks.push((position, metres));
        planned.push(Planned {
            metres,
            position: curve.as_ref().map(|_| position).filter(|p| p.is_finite()),
            after: after.widest,
        });
        widest = Some(after.widest);
    }
    Plan {
        now,
        reading_error: error,
        marks: planned,
    }
}

fn fit(marks: &[(f64, f64)]) -> Option<RingCurve> {
    RingCurve::from_marks(ScaleQuantity::FocusDistance, marks).ok()
}

fn wanted(goal: Goal, planned: usize, widest: Option<Widest>) -> bool {
    planned < MOST
        && match goal {
            Goal::Marks(count) => planned < count,
            Goal::Depths(limit) => widest.is_none_or(|widest| widest.depths > limit),
        }
}

/// Whether the marks reach an end of the scale.
fn reach(marks: &[(f64, f64)], end: f64) -> bool {
    marks.iter().any(|(_, value)| match end.is_infinite() {
        true => value.is_infinite(),
        false => *value <= end,
    })
}

fn is_free(marks: &[(f64, f64)], position: f64) -> bool {
    position.is_finite()
        && marks
            .iter()
            .all(|(taken, _)| (taken - position).abs() >= APART)
}

/// Where a distance stands on a scale; nearer than its marks, the end stop on that side.
fn on_scale(curve: &RingCurve, metres: f64) -> f64 {
    let position = curve.position_of(metres);
    if !position.is_nan() {
        return position.clamp(0.0, 1.0);
    }
    match curve.values().first().zip(curve.values().last()) {
        Some((first, last)) if metres < first.min(*last) => {
            if first < last {
                0.0
            } else {
                1.0
            }
        }
        _ => f64::NAN,
    }
}

#[cfg(test)]
#[path = "greedy_tests.rs"]
mod tests;
