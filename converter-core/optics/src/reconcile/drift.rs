//! How the scale of a lens moves from take to take.

use super::offsets::RingOffset;
use crate::curve::half_width_95;

/// Ring offsets of two takes differ by this much for no reason, one standard deviation in travel: marks are read to 0.001.
const TAKE_TO_TAKE: f64 = 0.0005;
/// Degrees of freedom that the interval of one take's offset rests on.
const FREEDOM: f64 = 11.0;
/// Fewest takes with which a trend or a step can be told from scatter.
const FEWEST: usize = 4;

/// A number with the half width of its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The number.
    pub value: f64,
    /// Half width.
    pub error: f64,
}

impl Estimate {
    /// Whether the interval leaves out 0.
    pub fn is_significant(self) -> bool {
        self.value.abs() > self.error
    }
}

/// How the offsets run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Course {
    /// No offset that can be told from 0.
    None,
    /// One offset in all takes.
    Constant,
    /// The offset changes a little from take to take, as with temperature or wear.
    Gradual {
        /// Travel a take.
        per_take: Estimate,
    },
    /// The offset changes at once, as when a gear slips or a motor was calibrated anew.
    Step {
        /// Index of the first take after it.
        at: usize,
        /// Travel.
        by: Estimate,
    },
}

/// The offsets of a show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// The mean over all takes, in travel.
    pub mean: Estimate,
    /// How they run.
    pub course: Course,
}

/// The drift over takes in the order in which they were shot, each with its offset; takes of which nothing is known are
/// `None`. `None` if nothing is known of any.
///
/// The mean weighs each take by its interval and by how much takes differ beyond their intervals (random effects after
/// DerSimonian and Laird 1986, from memory). Constant, trend and step are compared by `χ² + p ln n` (Schwarz's criterion,
/// from memory), with `p` 1, 2 and 3 parameters: a more complicated course must explain clearly more.
pub fn over_takes(offsets: &[Option<RingOffset>]) -> Option<Drift> {
    let takes: Vec<Take> = offsets
        .iter()
        .enumerate()
        .filter_map(|(at, offset)| {
            let offset = offset.filter(|offset| offset.error.is_finite())?;
            let sigma = (offset.error / half_width_95(FREEDOM)).hypot(TAKE_TO_TAKE);
            Some(Take {
                at,
                order: at as f64,
                offset: offset.travel,
                weight: 1.0 / (sigma * sigma),
            })
        })
        .collect();
    let mean = mean(&takes)?;
    let course = course(&takes).unwrap_or(if mean.is_significant() {
        Course::Constant
    } else {
        Course::None
    });
    Some(Drift { mean, course })
}

struct Take {
    at: usize,
    order: f64,
    offset: f64,
    weight: f64,
}

fn weighted(takes: &[Take]) -> (f64, f64) {
    let weights: f64 = takes.iter().map(|take| take.weight).sum();
    let sum: f64 = takes.iter().map(|take| take.weight * take.offset).sum();
    (sum / weights, weights)
}

fn chi(takes: &[Take], fitted: impl Fn(&Take) -> f64) -> f64 {
    takes
        .iter()
        .map(|take| take.weight * (take.offset - fitted(take)).powi(2))
        .sum()
}

fn mean(takes: &[Take]) -> Option<Estimate> {
    let (middle, weights) = weighted(takes);
    if takes.is_empty() {
        return None;
    }
    if takes.len() == 1 {
        return Some(Estimate {
            value: middle,
            error: half_width_95(FREEDOM) / weights.sqrt(),
        });
    }
    let freedom = takes.len() as f64 - 1.0;
    let squares: f64 = takes.iter().map(|take| take.weight * take.weight).sum();
    let between = ((chi(takes, |_| middle) - freedom) / (weights - squares / weights)).max(0.0);
    let widened: Vec<Take> = takes
        .iter()
        .map(|take| Take {
            weight: 1.0 / (1.0 / take.weight + between),
            ..*take
        })
        .collect();
    let (value, weights) = weighted(&widened);
    // Where takes differ no more than their own intervals say, those rest on more than the number of takes.
    let freedom = if between > 0.0 {
        freedom
    } else {
        freedom.max(FREEDOM)
    };
    Some(Estimate {
        value,
        error: half_width_95(freedom) / weights.sqrt(),
    })
}

/// A course that explains clearly more than one constant.
fn course(takes: &[Take]) -> Option<Course> {
    if takes.len() < FEWEST {
        return None;
    }
    let price = (takes.len() as f64).ln();
    let (middle, weights) = weighted(takes);
    let constant = chi(takes, |_| middle) + price;
    let centre = takes
        .iter()
        .map(|take| take.weight * take.order)
        .sum::<f64>()
        / weights;
    let spread: f64 = takes
        .iter()
        .map(|take| take.weight * (take.order - centre).powi(2))
        .sum();
    let slope = takes
        .iter()
        .map(|take| take.weight * (take.order - centre) * take.offset)
        .sum::<f64>()
        / spread;
    let trend = chi(takes, |take| middle + slope * (take.order - centre)) + 2.0 * price;
    let split = |at: usize| {
        let (before, after) = takes.split_at(at);
        let ((low, low_weight), (high, high_weight)) = (weighted(before), weighted(after));
        let misfit = chi(before, |_| low) + chi(after, |_| high);
        let error = half_width_95(FREEDOM) * (1.0 / low_weight + 1.0 / high_weight).sqrt();
        (
            misfit,
            Estimate {
                value: high - low,
                error,
            },
        )
    };
    let (at, (misfit, by)) = (1..takes.len())
        .map(|at| (at, split(at)))
        .min_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
    let step = misfit + 3.0 * price;
    let per_take = Estimate {
        value: slope,
        error: half_width_95(FREEDOM) / spread.sqrt(),
    };
    // Twice the criterion's difference is about the logarithm of the odds: 4 is 'clearly'.
    if step + 4.0 < constant && step < trend && by.is_significant() {
        return Some(Course::Step {
            at: takes.get(at)?.at,
            by,
        });
    }
    (trend + 4.0 < constant && per_take.is_significant()).then_some(Course::Gradual { per_take })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn offsets(values: &[f64]) -> Vec<Option<RingOffset>> {
        let of = |travel: &f64| {
            Some(RingOffset {
                travel: *travel,
                error: 0.001,
                typical: 0.1,
            })
        };
        values.iter().map(of).collect()
    }

    #[test]
    fn courses_are_told_apart() {
        let none = over_takes(&offsets(&[0.0002, -0.0003, 0.0001, 0.0, 0.0002])).unwrap();
        assert_eq!(none.course, Course::None);
        let constant = over_takes(&offsets(&[0.0041, 0.0038, 0.0043, 0.0039, 0.0042])).unwrap();
        assert_eq!(constant.course, Course::Constant);
        assert!((constant.mean.value - 0.00406).abs() < 1e-4 && constant.mean.error < 0.001);
        let gradual =
            over_takes(&offsets(&[0.0001, 0.0012, 0.0019, 0.0031, 0.0042, 0.0050])).unwrap();
        let Course::Gradual { per_take } = gradual.course else {
            panic!("{gradual:?}")
        };
        assert!((per_take.value - 0.001).abs() < 2e-4, "{per_take:?}");
        let step =
            over_takes(&offsets(&[0.0001, -0.0002, 0.0002, 0.0081, 0.0079, 0.0082])).unwrap();
        let Course::Step { at, by } = step.course else {
            panic!("{step:?}")
        };
        assert!(at == 3 && (by.value - 0.008).abs() < 4e-4, "{step:?}");
    }

    #[test]
    fn takes_without_an_offset_keep_their_place() {
        let mut all = offsets(&[0.0, 0.0001, 0.0, 0.0001, 0.009, 0.0091]);
        all[2] = None;
        let Course::Step { at, .. } = over_takes(&all).unwrap().course else {
            panic!()
        };
        assert_eq!(at, 4);
        assert!(over_takes(&[None, None]).is_none());
        let unsure = Some(RingOffset {
            travel: 0.1,
            error: f64::INFINITY,
            typical: 0.0,
        });
        assert!(over_takes(&[unsure]).is_none());
        let one = over_takes(&offsets(&[0.006])).unwrap();
        assert!(one.course == Course::Constant && one.mean.error > 0.001);
    }
}
