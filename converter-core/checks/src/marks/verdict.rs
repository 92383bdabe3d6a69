//! What explains a focus scale whose marks disagree: one wrong mark, a wrong end, a slipped ring, feet and inches typed
//! as decimals, or none of these. The explanation that leaves the marks in best agreement is taken.

use ringmark_model::{Axis, Ring, ScaleQuantity};

use super::leave_one_out::{Point, predict, predictor, residuals};
use super::order::inversions;
use super::rewriting::as_feet_inches;
use super::shift::{Shift, shift};
use crate::view::LensView;

/// Residuals, in travel, above which a scale is not clean: marks read to 0.1 % of travel are off by less than 0.0072 in
/// 99 of 100 scales (computed on traced lenses, cams included).
pub(super) const OFF: f64 = 0.010;
/// Marks that are off by less agree.
pub(super) const AGREE: f64 = 0.006;
/// A shift has a place and a size to choose, one wrong mark only a place: it must be clearly better.
const SHIFT_BETTER: f64 = 0.7;

/// One mark that explains all disagreement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Culprit {
    /// Index of the mark.
    pub mark: usize,
    /// Position minus prediction.
    pub off: f64,
    /// The largest residual without it.
    pub rest: f64,
    /// The coordinate in which the rest agrees.
    pub c: f64,
}

/// What explains the scale.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Verdict {
    /// Decimals that are inches: the largest residual before and after.
    FeetInches { before: f64, after: f64 },
    /// One mark inside the scale.
    Culprit(Culprit),
    /// A ring that slipped.
    Shift(Shift),
    /// An end mark; the worst residual it causes, and where.
    End { mark: usize, worst: (usize, f64) },
    /// Nothing found; the worst residual and where.
    Unexplained { worst: (usize, f64) },
}

/// A lens's focus scale with its marks as points, by position.
pub(super) struct Scale<'a> {
    pub ring: &'a Ring,
    pub points: Vec<Point>,
    focal: Option<f64>,
}

impl<'a> Scale<'a> {
    pub fn of(view: &LensView<'a>) -> Option<Self> {
        let ring = view
            .lens
            .ring(Axis::Focus)
            .filter(|ring| ring.quantity == ScaleQuantity::FocusDistance)?;
        let marks = ring
            .marks
            .iter()
            .enumerate()
            .filter(|(_, mark)| mark.position.is_finite() && mark.value > 0.0);
        let mut points: Vec<Point> = marks
            .map(|(at, mark)| Point {
                mark: at,
                position: mark.position,
                distance: mark.value,
            })
            .collect();
        points.sort_by(|a, b| a.position.total_cmp(&b.position));
        Some(Self {
            ring,
            points,
            focal: view.lens.focal_length.map(|(min, _)| min.mm() / 1000.0),
        })
    }

    /// What explains the scale; `None` if its marks agree, or if all that is wrong is their order.
    pub fn verdict(&self) -> Option<Verdict> {
        let all = residuals(&self.points, self.focal)?;
        let (before, worst) = (all.largest(), all.worst_first());
        if before <= AGREE {
            return None;
        }
        if let Some(after) = self.feet_inches(before) {
            return Some(Verdict::FeetInches { before, after });
        }
        let off = before > OFF;
        let culprit = off.then(|| self.culprit(&worst)).flatten();
        // Marks out of order or repeated are reported as such; one culprit may still be named.
        if inversions(self.ring).is_some() || self.repeats() {
            return culprit.map(Verdict::Culprit);
        }
        let first = *worst.first()?;
        let end = self.end(before);
        let shift = shift(&self.points, self.focal);
        let culprits = culprit.map(|culprit| (culprit.rest, Verdict::Culprit(culprit)));
        let ends = end.map(|(mark, rest)| (rest, Verdict::End { mark, worst: first }));
        let shifts = shift.map(|shift| (shift.rest / SHIFT_BETTER, Verdict::Shift(shift)));
        [culprits, ends.filter(|_| off), shifts]
            .into_iter()
            .flatten()
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, verdict)| verdict)
            .or(off.then_some(Verdict::Unexplained { worst: first }))
    }

    fn repeats(&self) -> bool {
        let pairs = self.points.iter().zip(self.points.iter().skip(1));
        pairs
            .into_iter()
            .any(|(a, b)| a.position == b.position || a.distance == b.distance)
    }

    /// The mark without which the rest agrees, out of the three that stand out most.
    fn culprit(&self, worst: &[(usize, f64)]) -> Option<Culprit> {
        let without = |&(mark, _): &(usize, f64)| {
            let rest = self.without(mark);
            let point = self.points.iter().find(|point| point.mark == mark)?;
            let left = residuals(&rest, self.focal)?;
            let off = point.position - predict(&predictor(&rest, left.c)?, point.distance, left.c);
            let culprit = Culprit {
                mark,
                off,
                rest: left.largest(),
                c: left.c,
            };
            let alone = culprit.rest < AGREE.max(off.abs() / 3.0);
            (off.abs() > OFF && alone).then_some(culprit)
        };
        worst
            .iter()
            .take(3)
            .filter_map(without)
            .min_by(|a, b| a.rest.total_cmp(&b.rest))
    }

    /// The points without one mark.
    pub fn without(&self, mark: usize) -> Vec<Point> {
        self.points
            .iter()
            .filter(|point| point.mark != mark)
            .copied()
            .collect()
    }

    /// An end mark without which the rest agrees, and how well. Ends are not judged themselves: nothing lies beyond them.
    fn end(&self, before: f64) -> Option<(usize, f64)> {
        let ends = [self.points.first()?.mark, self.points.last()?.mark];
        ends.into_iter()
            .map(|mark| {
                (
                    mark,
                    residuals(&self.without(mark), self.focal)
                        .map_or(f64::INFINITY, |left| left.largest()),
                )
            })
            .filter(|(_, rest)| *rest < AGREE && *rest < before / 3.0)
            .min_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The largest residual once every `feet.inches` is read as such, if two or more are and that is what is wrong.
    fn feet_inches(&self, before: f64) -> Option<f64> {
        let meant = |point: &Point| {
            self.ring
                .marks
                .get(point.mark)
                .and_then(|mark| as_feet_inches(self.ring, mark))
        };
        if before <= OFF
            || self
                .points
                .iter()
                .filter(|point| meant(point).is_some())
                .count()
                < 2
        {
            return None;
        }
        let rewritten: Vec<Point> = self
            .points
            .iter()
            .map(|point| Point {
                distance: meant(point).unwrap_or(point.distance),
                ..*point
            })
            .collect();
        let after = residuals(&rewritten, self.focal)?.largest();
        (after < AGREE.min(before / 3.0)).then_some(after)
    }
}
