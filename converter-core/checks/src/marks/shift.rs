//! A ring that slipped on its gear while it was read: from one mark on, all positions are off by the same amount.

use super::leave_one_out::{Point, residuals, residuals_in};

/// A slip larger than this is no slip of a gear but another calibration.
const LARGEST: f64 = 0.08;
/// The shift from index `from` on that leaves the points in best agreement. `points` are sorted by position.
pub(crate) fn amount(points: &[Point], from: usize, focal_m: Option<f64>) -> f64 {
    let c = residuals(points, focal_m).map_or(0.0, |all| all.c);
    let coarse = least(|by| residuals_in(&moved(points, from, by), c).largest());
    // The coordinate was chosen for the scale with its slip.
    let c = residuals(&moved(points, from, coarse), focal_m).map_or(c, |all| all.c);
    least(|by| residuals_in(&moved(points, from, by), c).largest())
}

/// Infinity at an end stop stays where it is, whatever slips.
pub(crate) fn held(point: &Point) -> bool {
    point.distance == f64::INFINITY && !(0.001..0.999).contains(&point.position)
}

/// The points with those from index `from` on taken back by `by`. The end stop holds the infinity mark where it is.
pub(crate) fn moved(points: &[Point], from: usize, by: f64) -> Vec<Point> {
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
