//! Along a ring, values rise or fall with the position. Which pairs of marks run the other way, and what is to blame.

use ringmark_model::{Mark, Ring, Severity};
use ringmark_quantity::print;

use super::edits::edits;
use super::hypothesis::Fault;
use super::judgement::Judgement;
use super::mark_off_the_curve::{CLEAR, evidence};
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

/// What is out of order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Blame {
    /// The values are listed in order, the positions are not.
    Positions,
    /// The values.
    Values,
}

/// Neighbours along the ring, by index, whose values run against the rest of the scale.
pub(crate) fn inversions(ring: &Ring) -> Option<(Blame, Vec<(usize, usize)>)> {
    let mut marks: Vec<usize> = (0..ring.marks.len())
        .filter(|at| ring.marks.get(*at).is_some_and(readable))
        .collect();
    let position = |at: usize| ring.marks.get(at).map_or(f64::NAN, |mark| mark.position);
    let value = |at: usize| ring.marks.get(at).map_or(f64::NAN, |mark| mark.value);
    let listed_positions: Vec<f64> = marks.iter().map(|at| position(*at)).collect();
    marks.sort_by(|a, b| position(*a).total_cmp(&position(*b)));
    let pairs = || marks.iter().copied().zip(marks.iter().copied().skip(1));
    let rising = pairs().filter(|(a, b)| value(*a) < value(*b)).count();
    let falling = pairs().filter(|(a, b)| value(*a) > value(*b)).count();
    let against = |(a, b): &(usize, usize)| {
        let turned = if rising >= falling {
            value(*a) > value(*b)
        } else {
            value(*a) < value(*b)
        };
        turned && position(*a) < position(*b)
    };
    let found: Vec<(usize, usize)> = pairs().filter(against).collect();
    let values: Vec<f64> = (0..ring.marks.len())
        .filter(|at| marks.contains(at))
        .map(value)
        .collect();
    let blame = if !in_order(&listed_positions) && in_order(&values) {
        Blame::Positions
    } else {
        Blame::Values
    };
    (!found.is_empty()).then_some((blame, found))
}

/// Whether two marks share a position or a value.
pub(crate) fn has_repeats(ring: &Ring) -> bool {
    let twice = |key: fn(&Mark) -> f64| {
        let mut keys: Vec<f64> = ring.marks.iter().map(key).collect();
        keys.sort_by(f64::total_cmp);
        keys.windows(2).any(|pair| pair.first() == pair.last())
    };
    twice(|mark| mark.position) || twice(|mark| mark.value)
}

fn readable(mark: &Mark) -> bool {
    mark.position.is_finite() && !mark.value.is_nan()
}

fn in_order(values: &[f64]) -> bool {
    let pairs = || values.iter().zip(values.iter().skip(1));
    pairs().all(|(a, b)| a <= b) || pairs().all(|(a, b)| a >= b)
}

/// Reports every inversion of the lens that `blame` is to blame for.
pub(crate) fn report(view: &LensView<'_>, blame: Blame, out: &mut Report<'_>) {
    for (at, ring) in view.lens.rings.iter().enumerate() {
        let Some((_, pairs)) = inversions(ring).filter(|(found, _)| *found == blame) else {
            continue;
        };
        for (a, b) in pairs {
            let exchange = exchanged(view, at, a, b);
            let (Some(a), Some(b)) = (ring.marks.get(a), ring.marks.get(b)) else {
                continue;
            };
            out.add(Severity::Error, view.subject(), |finding| {
                let (what, help) = match blame {
                    Blame::Positions => ("positions", "two neighbouring positions were probably exchanged, or one was mistyped: read both marks again"),
                    Blame::Values => ("values", "one of the two was mistyped, or is in another unit: compare both with the barrel"),
                };
                let message = format!(
                    "{} ring: {what} run against the scale: {} at {} and {} at {}",
                    ring.axis.name(),
                    words::mark(ring, a),
                    print::position(a.position),
                    words::mark(ring, b),
                    print::position(b.position)
                );
                let finding = finding
                    .says(message)
                    .value("first position", a.position, "0..1")
                    .value("second position", b.position, "0..1")
                    .value("first value", a.value, ring.quantity.unit().symbol())
                    .value("second value", b.value, ring.quantity.unit().symbol())
                    .help(help)
                    .at(a.place.clone())
                    .and_mark(ring, b);
                match exchange {
                    Some(judgement) => finding.repair_with(
                        "exchange the positions of these two marks",
                        evidence(judgement),
                        edits(view.index, ring, judgement),
                    ),
                    None => finding,
                }
            });
        }
    }
}

/// The judgement that positions of these two marks were exchanged, if it is clear.
fn exchanged<'a>(view: &'a LensView<'_>, ring: usize, a: usize, b: usize) -> Option<&'a Judgement> {
    let (_, judgements) = view.judged().rings.get(ring)?;
    judgements.iter().find(|judgement| {
        let Fault::Exchanged { at } = judgement.fault else {
            return false;
        };
        let mark = |at: usize| judgement.points.get(at).map(|point| point.mark);
        judgement.ahead >= CLEAR && mark(at) == Some(a) && mark(at + 1) == Some(b)
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::marks::leave_one_out::tests::focus_ring;

    #[test]
    fn positions_or_values_are_blamed() {
        let exchanged = focus_ring(&[
            (0.1, 0.5),
            (0.5, 0.9),
            (0.4, 1.0),
            (0.8, 2.0),
            (1.0, f64::INFINITY),
        ]);
        assert_eq!(
            inversions(&exchanged),
            Some((Blame::Positions, vec![(2, 1)]))
        );
        let mistyped = focus_ring(&[
            (0.1, 0.5),
            (0.4, 9.0),
            (0.5, 1.0),
            (0.8, 2.0),
            (1.0, f64::INFINITY),
        ]);
        assert_eq!(inversions(&mistyped), Some((Blame::Values, vec![(1, 2)])));
    }

    #[test]
    fn falling_encoders_and_lists_in_any_order_are_fine() {
        let falling = focus_ring(&[
            (0.9, 0.5),
            (0.6, 0.9),
            (0.5, 1.0),
            (0.2, 2.0),
            (0.0, f64::INFINITY),
        ]);
        assert_eq!(inversions(&falling), None);
        let shuffled = focus_ring(&[(0.8, 2.0), (0.1, 0.5), (1.0, f64::INFINITY), (0.4, 0.9)]);
        assert_eq!(inversions(&shuffled), None);
        assert_eq!(
            inversions(&focus_ring(&[(0.5, 1.0), (0.5, 2.0), (0.9, 3.0)])),
            None
        );
    }
}
