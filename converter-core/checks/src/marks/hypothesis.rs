//! What may be wrong with a scale: one fault each, and the scale as it was before the fault.

use ringmark_model::{Ring, ScaleQuantity};

use super::leave_one_out::Point;
use super::rewriting::{Rewriting, as_feet_inches, is_round, rewritings};
use super::shift::{held, moved};

/// A fault. Places are indices into the points, which are sorted by position.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Fault {
    /// The text of one mark, mistyped in a known way.
    Text { at: usize, way: Rewriting },
    /// One mark is wrong, value or position; it is not known how.
    Mark { at: usize },
    /// Positions of this point and the next one were exchanged.
    Exchanged { at: usize },
    /// Feet and inches typed as decimal feet all over the scale.
    FeetInches,
    /// From this point on, positions are off by one amount.
    Slip { from: usize },
    /// The list of positions runs against the list of values.
    Reversed,
    /// From this point on, each value stands one position too early (+1) or too late (-1).
    Labels {
        from: usize,
        by: i8,
        infinity_held: bool,
    },
    /// Infinity was read at the end stop.
    EndStop { at: usize },
}

/// A hypothesis with its probability before the marks were looked at, as a logarithm relative to a clean scale.
pub(crate) struct Hypothesis {
    pub fault: Fault,
    pub prior: f64,
}

/// How often a mark, a scale is wrong in this way (common practice, no source: they only have to be small and alike).
const TEXT: f64 = 0.05;
const MARK: f64 = 0.015;
const EXCHANGED: f64 = 0.01;
const FEET_INCHES: f64 = 0.03;
const SLIP: f64 = 0.015;
const REVERSED: f64 = 0.01;
const LABELS: f64 = 0.02;
const END_STOP: f64 = 0.02;

/// Faults of single marks that leave it open what was meant.
pub(crate) fn of_marks(points: &[Point]) -> Vec<Hypothesis> {
    let n = points.len() as f64;
    (0..points.len())
        .map(|at| Hypothesis {
            fault: Fault::Mark { at },
            prior: (MARK / n).ln(),
        })
        .collect()
}

/// Faults of the text of one mark.
pub(crate) fn of_text(ring: &Ring, points: &[Point], at: usize) -> Vec<Hypothesis> {
    let Some(mark) = points.get(at).and_then(|point| ring.marks.get(point.mark)) else {
        return Vec::new();
    };
    let ways = rewritings(ring, mark);
    let each = TEXT / points.len() as f64 / ways.len().max(1) as f64;
    let taken = |value: f64| {
        points
            .iter()
            .any(|p| (p.distance / value - 1.0).abs() < 1e-3)
    };
    // One odd number among round ones speaks for a slip of the hand.
    let finite = || ring.marks.iter().filter(|mark| mark.value.is_finite());
    let round = finite().filter(|mark| is_round(ring, mark.value)).count() as f64;
    let stands_out = !is_round(ring, mark.value) && round >= 0.75 * finite().count() as f64;
    ways.into_iter()
        .map(|way| {
            // No scale has a mark twice, and engraved numbers are round.
            let odd =
                if taken(way.value) { 0.01 } else { 1.0 } * if way.is_round { 1.0 } else { 0.05 };
            let odd = if stands_out && way.is_round {
                30.0 * odd
            } else {
                odd
            };
            Hypothesis {
                prior: (each * odd).ln(),
                fault: Fault::Text { at, way },
            }
        })
        .collect()
}

/// Faults of the scale as a whole.
pub(crate) fn of_scale(ring: &Ring, points: &[Point]) -> Vec<Hypothesis> {
    let n = points.len();
    let mut all = Vec::new();
    let each = |share: f64| (share / n as f64).ln();
    for at in 0..n.saturating_sub(1) {
        all.push(Hypothesis {
            fault: Fault::Exchanged { at },
            prior: each(EXCHANGED),
        });
    }
    if ring.quantity != ScaleQuantity::FocusDistance {
        return all;
    }
    for from in 2..n.saturating_sub(1) {
        all.push(Hypothesis {
            fault: Fault::Slip { from },
            prior: each(SLIP),
        });
    }
    for from in 0..n.saturating_sub(3) {
        for (by, infinity_held) in [(1, false), (1, true), (-1, false), (-1, true)] {
            if !infinity_held || points.last().is_some_and(|p| p.distance == f64::INFINITY) {
                // Mostly it is the whole list.
                let share = if from == 0 {
                    0.25 * LABELS
                } else {
                    0.25 * LABELS / n as f64
                };
                all.push(Hypothesis {
                    fault: Fault::Labels {
                        from,
                        by,
                        infinity_held,
                    },
                    prior: share.ln(),
                });
            }
        }
    }
    let typed = points.iter().filter(|p| inches(ring, p).is_some()).count();
    if typed >= 2 {
        all.push(Hypothesis {
            fault: Fault::FeetInches,
            prior: FEET_INCHES.ln(),
        });
    }
    all.push(Hypothesis {
        fault: Fault::Reversed,
        prior: REVERSED.ln(),
    });
    let ends = [0, n.saturating_sub(1)];
    let stop = ends
        .into_iter()
        .find(|at| points.get(*at).is_some_and(held));
    if let Some(at) = stop {
        all.push(Hypothesis {
            fault: Fault::EndStop { at },
            prior: END_STOP.ln(),
        });
    }
    all
}

fn inches(ring: &Ring, point: &Point) -> Option<f64> {
    as_feet_inches(ring, ring.marks.get(point.mark)?)
}

/// The scale before the fault, by position; points about which the fault says nothing are left out. For a slip `by` is
/// taken back; it is not known from the fault alone.
pub(crate) fn mended(fault: &Fault, ring: &Ring, points: &[Point], by: f64) -> Vec<Point> {
    let mut all = points.to_vec();
    match fault {
        Fault::Text { at, way } => {
            if let Some(point) = all.get_mut(*at) {
                point.distance = way.value;
            }
        }
        Fault::Mark { at } | Fault::EndStop { at } => {
            if *at < all.len() {
                all.remove(*at);
            }
        }
        Fault::Exchanged { at } => exchange(&mut all, *at),
        Fault::FeetInches => {
            for point in &mut all {
                point.distance = inches(ring, point).unwrap_or(point.distance);
            }
        }
        Fault::Slip { from } => return moved(points, *from, by),
        Fault::Reversed => {
            let positions: Vec<f64> = points.iter().map(|p| p.position).collect();
            for (point, position) in all.iter_mut().zip(positions.into_iter().rev()) {
                point.position = position;
            }
            all.reverse();
        }
        Fault::Labels {
            from,
            by,
            infinity_held,
        } => return relabelled(points, *from, *by, *infinity_held),
    }
    all
}

fn exchange(all: &mut [Point], at: usize) {
    if let Some(pair @ [_, _]) = all.get_mut(at..at + 2) {
        pair.swap(0, 1);
        let [a, b] = pair else { return };
        std::mem::swap(&mut a.position, &mut b.position);
    }
}

/// Each point from `from` on with the value of the one before it (`by` 1) or after it (-1); the point that gets none is
/// left out.
fn relabelled(points: &[Point], from: usize, by: i8, infinity_held: bool) -> Vec<Point> {
    let end = points.len() - usize::from(infinity_held && !points.is_empty());
    let mut all = Vec::with_capacity(points.len());
    for (at, point) in points.iter().enumerate() {
        let source = if !(from..end).contains(&at) {
            Some(at)
        } else if by > 0 {
            at.checked_sub(1).filter(|source| *source >= from)
        } else {
            Some(at + 1).filter(|source| *source < end)
        };
        let value = source.and_then(|source| points.get(source));
        all.extend(value.map(|value| Point {
            distance: value.distance,
            ..*point
        }));
    }
    all
}
