//! A ring that slipped on its gear while it was read: from one mark on, all positions are off by the same amount.

use super::leave_one_out::{Point, residuals, residuals_in};

/// The shift that makes the marks agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shift {
    /// The first mark that is shifted.
    pub mark: usize,
    /// By how much, in travel.
    pub by: f64,
    /// The largest residual before, and once the shift is taken back.
    pub before: f64,
    pub rest: f64,
}

/// Marks needed on each side of the slip: one alone may as well be wrong by itself.
const EACH_SIDE: usize = 2;
/// A slip larger than this is no slip of a gear but another calibration.
const LARGEST: f64 = 0.08;
/// Scales whose marks agree better than this are left alone.
const SUSPICIOUS: f64 = 0.006;
/// The smallest slip told from reading errors and cams.
pub(crate) const SMALLEST: f64 = 0.008;
/// What taking the shift back must bring the largest residual to, as a share.
const SHARE: f64 = 0.4;

/// The shift that explains a scale, if one does. `points` are sorted by position.
pub(crate) fn shift(points: &[Point], focal_m: Option<f64>) -> Option<Shift> {
    let all = residuals(points, focal_m).filter(|all| all.largest() > SUSPICIOUS)?;
    let size = |from: usize, by: f64| residuals_in(&moved(points, from, by), all.c).largest();
    let (_, from, by) = (EACH_SIDE..points.len().checked_sub(EACH_SIDE)?)
        .map(|from| {
            let by = least(|by| size(from, by));
            (size(from, by), from, by)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    let rest = residuals(&moved(points, from, by), focal_m)?.largest();
    let explains = by.abs() >= SMALLEST && rest < SHARE * all.largest();
    explains.then_some(Shift {
        mark: points.get(from)?.mark,
        by,
        before: all.largest(),
        rest,
    })
}

/// The points with those from index `from` on taken back by `by`. The end stop holds the infinity mark where it is.
fn moved(points: &[Point], from: usize, by: f64) -> Vec<Point> {
    let held = |point: &Point| {
        point.distance == f64::INFINITY && !(0.001..0.999).contains(&point.position)
    };
    points
        .iter()
        .enumerate()
        .map(|(at, point)| {
            if at < from || held(point) {
                *point
            } else {
                Point {
                    position: point.position - by,
                    ..*point
                }
            }
        })
        .collect()
}

/// Where a function of the shift is least: a coarse search, then golden-section steps.
fn least(size: impl Fn(f64) -> f64) -> f64 {
    const STEPS: i32 = 16;
    let at = |step: f64| LARGEST * step / f64::from(STEPS);
    let best = (-STEPS..=STEPS)
        .map(|step| (size(at(f64::from(step))), step))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(0, |(_, step)| step);
    let (mut low, mut high) = (at(f64::from(best) - 1.0), at(f64::from(best) + 1.0));
    for _ in 0..12 {
        let (a, b) = (low + 0.382 * (high - low), low + 0.618 * (high - low));
        if size(a) < size(b) {
            high = b;
        } else {
            low = a;
        }
    }
    0.5 * (low + high)
}
