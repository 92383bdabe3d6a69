//! Targets of the printed marks.

use super::between::{self, Largest};
use crate::curve::RingCurve;

/// A printed mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Printed {
    /// Distance in metres, counted from where the scale of the lens counts; maybe infinity.
    pub metres: f64,
    /// Place on the knob, 0 to 1.
    pub position: f64,
}

/// Where the ring of the lens must stand for a printed mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Target {
    /// Ring position, 0 to 1.
    pub position: f64,
    /// Half width of its 95 % band, in ring travel.
    pub band: f64,
    /// Lower end of the 95 % band of the distance there, in metres.
    pub low: f64,
    /// Upper end, maybe infinity.
    pub high: f64,
}

/// Why a printed mark has no target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutOfReach {
    /// The scale of the lens begins farther away.
    Nearer,
    /// No mark of the lens is so far away, and what no mark vouches for is no target.
    BeyondMarks,
    /// The ring would have to turn past its end stop.
    EndStop,
}

/// A lens on a pre-marked ring.
#[derive(Debug, Clone, PartialEq)]
pub struct Transfer {
    /// A target for each printed mark, or why there is none.
    pub targets: Vec<Result<Target, OutOfReach>>,
    /// Part of the marked travel of the lens that lies between the first and the last target.
    pub travel_share: f64,
    /// Largest distance between print and lens, in metres, positive where the lens is focused farther away. Looked for
    /// between finite marks: towards infinity metres grow without bound.
    pub largest_metres: Option<Largest>,
    /// The same in full depths of field, between all marks; `None` where no depth is known.
    pub largest_depths: Option<Largest>,
}

impl Transfer {
    /// The scale of a focus ring on `printed`, marks by rising position with distances that rise or fall all the way.
    /// `depth` is the full depth of field at a distance, in dioptres.
    ///
    /// Targets are [`RingCurve::position_of`] the printed distances. A target that lies beyond an end stop by less than
    /// its band is put on the stop.
    pub fn new(
        curve: &RingCurve,
        printed: &[Printed],
        depth: impl Fn(f64) -> Option<f64>,
    ) -> Transfer {
        let targets: Vec<_> = printed
            .iter()
            .map(|mark| target(curve, mark.metres))
            .collect();
        let reached = |(target, mark): (&Result<Target, _>, &Printed)| {
            let target = (*target).ok()?;
            Some(between::Held {
                knob: mark.position,
                ring: target.position,
                finite: mark.metres.is_finite(),
            })
        };
        let held: Vec<_> = targets.iter().zip(printed).filter_map(reached).collect();
        let (largest_metres, largest_depths) = between::largest(curve, printed, &held, depth);
        let span = |ends: Option<(f64, f64)>| ends.map_or(0.0, |(a, b)| (b - a).abs());
        let used = held.first().zip(held.last());
        let marked = curve.positions().first().zip(curve.positions().last());
        Transfer {
            travel_share: span(used.map(|(a, b)| (a.ring, b.ring)))
                / span(marked.map(|(a, b)| (*a, *b))),
            targets,
            largest_metres,
            largest_depths,
        }
    }

    /// How many printed marks have no target.
    pub fn out_of_reach(&self) -> usize {
        self.targets.iter().filter(|target| target.is_err()).count()
    }
}

fn target(curve: &RingCurve, metres: f64) -> Result<Target, OutOfReach> {
    let values = || curve.values().iter().copied();
    let nearest = values().fold(f64::INFINITY, f64::min);
    let farthest = values().fold(0.0, f64::max);
    if metres > farthest {
        return Err(OutOfReach::BeyondMarks);
    }
    let position = curve.position_of(metres);
    if position.is_nan() {
        let near = metres < nearest;
        return Err(if near {
            OutOfReach::Nearer
        } else {
            OutOfReach::BeyondMarks
        });
    }
    let band = curve.position_band(position);
    let stopped = position.clamp(0.0, 1.0);
    if (position - stopped).abs() > band {
        return Err(OutOfReach::EndStop);
    }
    let reading = curve.reading_at(stopped);
    Ok(Target {
        position: stopped,
        band,
        low: reading.low,
        high: reading.high,
    })
}

#[cfg(test)]
#[path = "fit_tests.rs"]
mod tests;
