//! Which explanation of a scale the marks speak for, and how clearly.

use ringmark_model::{Axis, Ring, ScaleQuantity};
use ringmark_optics::{RingCurve, coordinate};

use super::evidence::{Break, Law, Spot, Sum, evidence};
use super::hypothesis::{Fault, Hypothesis, mended, of_marks, of_scale, of_text};
use super::leave_one_out::{Point, residuals};
use super::shift;
use crate::view::LensView;

/// Fewer marks say nothing about one of them.
const FEWEST: usize = 5;
/// Marks whose text is looked into, by how much the rest gains without them.
const LOOKED_INTO: usize = 6;
/// Hypotheses that are compared once more with drives of two slopes.
const COMPARED: usize = 10;
/// How often a cam has two slopes (common practice, no source).
const TWO_SLOPES: f64 = 0.15;
/// A slope needs two intervals on each side: a single one at an end is explained by any slope.
const FLAT: usize = 3;
/// Wrong marks that are looked for, one after another.
const MOST: usize = 4;

/// A fault and the evidence for it. Weights are logarithms of odds: 3 is 20 to 1, 7 is 1000 to 1.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Judgement {
    pub fault: Fault,
    /// The scale in which the fault was found, by position: earlier faults are mended or left out.
    pub points: Vec<Point>,
    /// The scale before this fault.
    pub mended: Vec<Point>,
    /// For a slip: by how much, in travel.
    pub by: f64,
    /// How much likelier than a scale without this fault.
    pub weight: f64,
    /// How much likelier than the next explanation, and which that is.
    pub ahead: f64,
    pub next: Option<Fault>,
    /// Largest of what each mark is off from the others, in travel, with and without the fault.
    pub before: f64,
    pub after: f64,
}

/// What is wrong with the scales of a lens.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Judged {
    /// For each ring by index, the faults in the order in which they were found, the most telling first.
    pub rings: Vec<(usize, Vec<Judgement>)>,
}

/// Judges all rings of a lens.
pub(crate) fn judge(view: &LensView<'_>) -> Judged {
    let focal = view.lens.focal_length.filter(|(min, max)| min == max);
    let focal = focal.map(|(min, _)| min.mm() / 1000.0);
    let rings = view.lens.rings.iter().enumerate();
    Judged {
        rings: rings
            .map(|(at, ring)| {
                let points = points(ring);
                let law = match ring.axis {
                    Axis::Focus => Law::Focus(focal),
                    Axis::Iris | Axis::Zoom => Law::Straight,
                };
                (at, all_faults(ring, points, law, focal))
            })
            .collect(),
    }
}

/// The marks of a ring that can be points of a scale, by position.
pub(crate) fn points(ring: &Ring) -> Vec<Point> {
    let infinite = ring.quantity == ScaleQuantity::FocusDistance;
    let marks = ring.marks.iter().enumerate();
    let mut points: Vec<Point> = marks
        .filter(|(_, mark)| mark.position.is_finite() && mark.position.abs() < 1e3)
        .filter(|(_, mark)| {
            mark.value > 1e-6 && (mark.value < 1e9 || infinite && mark.value == f64::INFINITY)
        })
        .map(|(at, mark)| Point {
            mark: at,
            position: mark.position,
            distance: mark.value,
        })
        .collect();
    points.sort_by(|a, b| a.position.total_cmp(&b.position));
    points
}

fn all_faults(ring: &Ring, mut points: Vec<Point>, law: Law, focal: Option<f64>) -> Vec<Judgement> {
    let mut found: Vec<Judgement> = Vec::new();
    while found.len() < MOST {
        let Some(judgement) = one(ring, &points, law, focal) else {
            break;
        };
        points.clone_from(&judgement.mended);
        // Several marks may be wrong; several faults of whole scales are a contrived explanation.
        let alone = !matches!(judgement.fault, Fault::Text { .. } | Fault::Mark { .. });
        found.push(judgement);
        if alone {
            break;
        }
    }
    found
}

fn one(ring: &Ring, points: &[Point], law: Law, focal: Option<f64>) -> Option<Judgement> {
    if points.len() < FEWEST {
        return None;
    }
    let judge = Judge { ring, points, law };
    let clean = judge.of_points(points, None);
    let mut ranked: Vec<(f64, Fault)> = of_marks(points)
        .into_iter()
        .map(|h| judge.weigh(h))
        .collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    let stand_out: Vec<usize> = ranked
        .iter()
        .take(LOOKED_INTO)
        .filter_map(|(_, fault)| place(fault))
        .collect();
    for at in stand_out {
        ranked.extend(
            of_text(ring, points, at)
                .into_iter()
                .map(|h| judge.weigh(h)),
        );
    }
    ranked.extend(of_scale(ring, points).into_iter().map(|h| judge.weigh(h)));
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    let best = ranked.first().map(|(log, _)| *log)?;
    if best < clean + LIKELIER {
        return None;
    }
    // Now with cams of two slopes too.
    let clean = judge.with_kinks(points, clean);
    ranked.truncate(COMPARED);
    for (log, fault) in &mut ranked {
        *log = judge.fault_with_kinks(fault, *log);
    }
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut ranked = ranked.into_iter();
    let (best, fault) = ranked.next()?;
    let weight = best - clean;
    if weight < LIKELIER {
        return None;
    }
    // A fault without a known cause stands for the known ones at the same mark.
    let other = |next: &Fault| !matches!((&fault, next), (Fault::Text { at, .. }, Fault::Mark { at: same }) | (Fault::EndStop { at }, Fault::Mark { at: same }) if at == same);
    let next = ranked.find(|(_, next)| other(next) && !judge.is_same(&fault, next));
    let by = match fault {
        Fault::Slip { from } => shift::amount(points, from, focal),
        _ => 0.0,
    };
    let mended = mended(&fault, ring, points, by);
    let largest = |points: &[Point]| judge.largest(points, focal);
    Some(Judgement {
        weight,
        ahead: best - next.as_ref().map_or(f64::NEG_INFINITY, |(log, _)| *log),
        next: next.map(|(_, fault)| fault),
        before: largest(points),
        after: largest(&mended),
        points: points.to_vec(),
        mended,
        by,
        fault,
    })
}

/// A fault that is less likelier than this than a clean scale is not looked at (a factor of 20).
pub(crate) const LIKELIER: f64 = 1.5;

fn place(fault: &Fault) -> Option<usize> {
    match fault {
        Fault::Mark { at } | Fault::Text { at, .. } => Some(*at),
        _ => None,
    }
}

struct Judge<'a> {
    ring: &'a Ring,
    points: &'a [Point],
    law: Law,
}

impl Judge<'_> {
    fn spots(&self, points: &[Point]) -> Vec<Spot> {
        let spot = |point: &Point| Spot {
            y: coordinate(self.ring.quantity, point.distance),
            position: point.position,
        };
        points.iter().map(spot).collect()
    }

    fn of_points(&self, points: &[Point], slip: Option<usize>) -> f64 {
        evidence(&self.spots(points), self.law, Break { slip, kink: None })
    }

    fn weigh(&self, hypothesis: Hypothesis) -> (f64, Fault) {
        let log = hypothesis.prior + self.of_fault(&hypothesis.fault, None);
        (log, hypothesis.fault)
    }

    fn of_fault(&self, fault: &Fault, kink: Option<usize>) -> f64 {
        let (points, slip) = self.before(fault);
        evidence(&self.spots(&points), self.law, Break { slip, kink })
    }

    /// The scale before the fault, and where it slipped by rising coordinate.
    fn before(&self, fault: &Fault) -> (Vec<Point>, Option<usize>) {
        let Fault::Slip { from } = *fault else {
            return (mended(fault, self.ring, self.points, 0.0), None);
        };
        // Infinity held by an end stop says nothing about a slip.
        let kept: Vec<Point> = self
            .points
            .iter()
            .filter(|p| !shift::held(p))
            .copied()
            .collect();
        let first = self.points.get(from).map_or(0, |p| p.mark);
        let at = kept.iter().position(|p| p.mark == first).unwrap_or(0);
        let falls = kept.first().map(|p| p.distance) < kept.last().map(|p| p.distance);
        let slip = if falls { kept.len() - at } else { at };
        (kept, Some(slip))
    }

    fn fault_with_kinks(&self, fault: &Fault, log: f64) -> f64 {
        let prior = log - self.of_fault(fault, None);
        let n = self.before(fault).0.len();
        let mut sum = Sum::default();
        sum.add(log);
        for kink in FLAT..n.saturating_sub(1) {
            sum.add(prior + (TWO_SLOPES / n as f64).ln() + self.of_fault(fault, Some(kink)));
        }
        sum.log()
    }

    fn with_kinks(&self, points: &[Point], log: f64) -> f64 {
        let spots = self.spots(points);
        let n = spots.len();
        let mut sum = Sum::default();
        sum.add(log);
        for kink in FLAT..n.saturating_sub(1) {
            let kinked = evidence(
                &spots,
                self.law,
                Break {
                    slip: None,
                    kink: Some(kink),
                },
            );
            sum.add((TWO_SLOPES / n as f64).ln() + kinked);
        }
        sum.log()
    }

    /// Whether two faults come to the same.
    fn is_same(&self, a: &Fault, b: &Fault) -> bool {
        match (a, b) {
            // Where exactly it began is not the question.
            (Fault::Slip { from: a }, Fault::Slip { from: b }) => a.abs_diff(*b) <= 1,
            (Fault::Labels { by: a, .. }, Fault::Labels { by: b, .. }) => a == b,
            _ => false,
        }
    }

    fn largest(&self, points: &[Point], focal: Option<f64>) -> f64 {
        if self.ring.quantity == ScaleQuantity::FocusDistance {
            return residuals(points, focal).map_or(f64::NAN, |all| all.largest());
        }
        curve_of(self.ring, points).map_or(f64::NAN, |curve| {
            curve
                .left_out()
                .iter()
                .map(|off| off.abs())
                .fold(0.0, f64::max)
        })
    }
}

/// The curve through points; those that share a position or a value with another vouch for nothing.
pub(crate) fn curve_of(ring: &Ring, points: &[Point]) -> Option<RingCurve> {
    let alone = |key: fn(&Point) -> f64, point: &Point| {
        points
            .iter()
            .filter(|other| key(other) == key(point))
            .count()
            == 1
    };
    let alone = |point: &&Point| alone(|p| p.position, point) && alone(|p| p.distance, point);
    let marks: Vec<(f64, f64)> = points
        .iter()
        .filter(alone)
        .map(|p| (p.position, p.distance))
        .collect();
    RingCurve::from_marks(ring.quantity, &marks).ok()
}
