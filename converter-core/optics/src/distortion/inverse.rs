//! The formula turned back.

use super::{Coefficients, Point};

/// Steps of Newton's method; four to six are usual.
const STEPS: usize = 60;

/// Halvings of a step that does not bring the point nearer.
const HALVINGS: usize = 40;

/// What rounding may leave of the distance to the point, as a part of its radius.
const ROUNDING: f64 = 1e-13;

/// The point inside `fold` that the formula takes to `target`, `radius` from the centre; `None` if there is none.
///
/// The radial part alone is solved first, between brackets; the tangential part, small beside it, by Newton's method from there,
/// each step halved until it comes nearer. Inside the fold the map is one to one, so a point found is the only one.
pub(super) fn solve(
    coefficients: &Coefficients,
    fold: f64,
    target: Point,
    radius: f64,
) -> Option<Point> {
    if radius == 0.0 || fold.is_infinite() {
        return Some(target);
    }
    let radial = coefficients.p1 == 0.0 && coefficients.p2 == 0.0;
    let ideal = match undo_radial(coefficients, fold, radius) {
        Some(ideal) => ideal,
        None if radial => return None,
        None => fold * (1.0 - 1e-9),
    };
    let start = [target[0] / radius * ideal, target[1] / radius * ideal];
    if radial {
        return Some(start);
    }
    undo_all(coefficients, fold, target, radius, start)
}

/// The root of `r R(r) = radius` below `fold`, where the left side only grows.
fn undo_radial(c: &Coefficients, fold: f64, radius: f64) -> Option<f64> {
    let value = |r: f64| r * c.ratio(r * r) - radius;
    if value(fold) <= 0.0 {
        return None;
    }
    let (mut low, mut high) = (0.0, fold);
    let mut r = radius.min(fold / 2.0);
    for _ in 0..2 * STEPS {
        let rest = value(r);
        if rest > 0.0 {
            high = r;
        } else {
            low = r;
        }
        let rr = r * r;
        let slope = 1.0 + rr * (3.0 * c.k1 + rr * (5.0 * c.k2 + rr * 7.0 * c.k3));
        let step = rest / slope;
        if step.abs() <= f64::EPSILON * r {
            return Some(r);
        }
        let next = r - step;
        // Also if it is no number.
        r = if next > low && next < high {
            next
        } else {
            low + (high - low) / 2.0
        };
    }
    Some(r)
}

fn undo_all(
    c: &Coefficients,
    fold: f64,
    target: Point,
    radius: f64,
    start: Point,
) -> Option<Point> {
    let rest = |point: Point| {
        let [x, y] = c.apply(point);
        [x - target[0], y - target[1]]
    };
    // Squares: a root a step would cost more than all the rest.
    let square = |[x, y]: Point| x * x + y * y;
    let rounding = (ROUNDING * radius) * (ROUNDING * radius);
    let mut point = start;
    let mut left = rest(point);
    for _ in 0..STEPS {
        let step = newton(c, point, left)?;
        let mut part = 1.0;
        let mut better = None;
        for _ in 0..HALVINGS {
            let next = [point[0] - part * step[0], point[1] - part * step[1]];
            let after = rest(next);
            if square(next) < fold * fold && square(after) < square(left) {
                better = Some((next, after));
                break;
            }
            // At the root rounding is all that is left: no part of the step would be better.
            if square(left) <= rounding {
                break;
            }
            part /= 2.0;
        }
        let Some((next, after)) = better else {
            break;
        };
        (point, left) = (next, after);
    }
    (square(left) <= rounding).then_some(point)
}

/// `J⁻¹ rest` with the matrix of derivatives of the formula, which is symmetric.
fn newton(c: &Coefficients, [x, y]: Point, [rest_x, rest_y]: Point) -> Option<Point> {
    let rr = x * x + y * y;
    let ratio = c.ratio(rr);
    let by_square = c.k1 + rr * (2.0 * c.k2 + rr * 3.0 * c.k3);
    let xx = ratio + 2.0 * x * x * by_square + 2.0 * c.p1 * y + 6.0 * c.p2 * x;
    let xy = 2.0 * x * y * by_square + 2.0 * c.p1 * x + 2.0 * c.p2 * y;
    let yy = ratio + 2.0 * y * y * by_square + 6.0 * c.p1 * y + 2.0 * c.p2 * x;
    let det = xx * yy - xy * xy;
    let step = [
        (yy * rest_x - xy * rest_y) / det,
        (xx * rest_y - xy * rest_x) / det,
    ];
    (step[0].is_finite() && step[1].is_finite()).then_some(step)
}
