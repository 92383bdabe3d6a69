//! Each mark judged by the others: leave it out, predict its ring position from the rest, in the coordinate in which
//! the scale is smoothest.
//!
//! Coordinates are `1 / (D - c)`: plain dioptres (c = 0), the distance from the principal planes of a lens that moves
//! as a whole (c = 2 f, first order), and c fitted so that ring position is most nearly linear.

use ringmark_optics::Pchip;

/// A mark as a point of the scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    /// Index in the ring.
    pub mark: usize,
    pub position: f64,
    /// Distance in metres, +infinity allowed.
    pub distance: f64,
}

/// How far marks are from where the others put them.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Residuals {
    /// The coordinate they were taken in.
    pub c: f64,
    /// `(mark, position minus prediction)` in ring travel; ends of the ring are not judged.
    pub off: Vec<(usize, f64)>,
}

impl Residuals {
    /// The largest one, by size.
    pub fn largest(&self) -> f64 {
        self.off
            .iter()
            .map(|(_, off)| off.abs())
            .fold(0.0, f64::max)
    }

    /// Marks by falling size of their residual.
    pub fn worst_first(&self) -> Vec<(usize, f64)> {
        let mut worst = self.off.clone();
        worst.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        worst
    }
}

/// Fewer marks say nothing about one of them.
const FEWEST: usize = 5;

/// Residuals in the kindest coordinate. `points` are sorted by position; `None` if they are too few.
pub(crate) fn residuals(points: &[Point], focal_m: Option<f64>) -> Option<Residuals> {
    if points.len() < FEWEST {
        return None;
    }
    let nearest = points
        .iter()
        .map(|point| point.distance)
        .fold(f64::INFINITY, f64::min);
    let limit = 0.6 * nearest;
    let two_f = focal_m.map(|f| 2.0 * f).filter(|c| *c < limit);
    [Some(0.0), two_f, Some(fitted_c(points, limit))]
        .into_iter()
        .flatten()
        .map(|c| residuals_in(points, c))
        .min_by(|a, b| a.largest().total_cmp(&b.largest()))
}

/// Residuals in one coordinate.
pub(crate) fn residuals_in(points: &[Point], c: f64) -> Residuals {
    Residuals {
        c,
        off: inner(points)
            .map(|point| (point.mark, off(points, point, c)))
            .collect(),
    }
}

fn inner(points: &[Point]) -> impl Iterator<Item = &Point> {
    let inner = points
        .get(1..points.len().saturating_sub(1))
        .unwrap_or_default();
    inner.iter()
}

fn off(points: &[Point], point: &Point, c: f64) -> f64 {
    let rest: Vec<Point> = points
        .iter()
        .filter(|other| other.mark != point.mark)
        .copied()
        .collect();
    predictor(&rest, c).map_or(0.0, |curve| {
        point.position - predict(&curve, point.distance, c)
    })
}

#[inline]
fn coordinate(distance: f64, c: f64) -> f64 {
    1.0 / (distance - c)
}

/// Ring position over the coordinate, through the points. Of points with one value the first counts.
pub(crate) fn predictor(points: &[Point], c: f64) -> Option<Pchip> {
    let mut knots: Vec<(f64, f64)> = points
        .iter()
        .map(|point| (coordinate(point.distance, c), point.position))
        .collect();
    knots.sort_by(|a, b| a.0.total_cmp(&b.0));
    knots.dedup_by(|a, b| a.0 == b.0);
    let (x, y) = knots.into_iter().unzip();
    Pchip::new(x, y)
}

/// The position predicted for a distance; beyond the points, that of the end.
pub(crate) fn predict(curve: &Pchip, distance: f64, c: f64) -> f64 {
    let x = coordinate(distance, c);
    let end = |slice: &[f64], last: bool| {
        if last { slice.last() } else { slice.first() }
            .copied()
            .unwrap_or(f64::NAN)
    };
    if x < end(curve.x(), false) {
        end(curve.y(), false)
    } else if x > end(curve.x(), true) {
        end(curve.y(), true)
    } else {
        curve.value(x)
    }
}

/// The c, up to `limit` either way, for which position is most nearly linear in the coordinate.
fn fitted_c(points: &[Point], limit: f64) -> f64 {
    const STEPS: i32 = 40;
    let at = |step: f64| limit * step / f64::from(STEPS);
    let best = (-STEPS..=STEPS)
        .map(|step| (misfit(points, at(f64::from(step))), step))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(0, |(_, step)| step);
    // Golden-section steps inside the neighbouring grid points.
    let (mut low, mut high) = (
        at(f64::from(best) - 1.0),
        at(f64::from(best) + 1.0).min(limit),
    );
    for _ in 0..20 {
        let (a, b) = (low + 0.382 * (high - low), low + 0.618 * (high - low));
        if misfit(points, a) < misfit(points, b) {
            high = b;
        } else {
            low = a;
        }
    }
    0.5 * (low + high)
}

/// Sum of squares about the best straight line of position over the coordinate.
fn misfit(points: &[Point], c: f64) -> f64 {
    let n = points.len() as f64;
    let (mut sx, mut sy, mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for point in points {
        let (x, y) = (coordinate(point.distance, c), point.position);
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
        syy += y * y;
    }
    let (vxx, vxy, vyy) = (sxx - sx * sx / n, sxy - sx * sy / n, syy - sy * sy / n);
    if vxx > 0.0 {
        vyy - vxy * vxy / vxx
    } else {
        f64::INFINITY
    }
}

#[cfg(test)]
pub(crate) mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use ringmark_model::{Axis, Mark, Ring, ScaleQuantity};
    use ringmark_quantity::Unit;

    pub(crate) fn focus_ring(marks: &[(f64, f64)]) -> Ring {
        Ring {
            axis: Axis::Focus,
            quantity: ScaleQuantity::FocusDistance,
            reference: None,
            source_unit: Unit::Metre,
            encoder: None,
            rotation: None,
            marks: marks
                .iter()
                .map(|&(position, value)| Mark {
                    position,
                    raw: None,
                    value,
                    engraved: None,
                    place: None,
                })
                .collect(),
        }
    }

    /// A lens that moves as a whole: ring from the extension, rule `e = 2 f² / (K + sqrt(K² - 4 f²))`, K = D - 2 f.
    fn unit_focus(distances: &[f64]) -> Vec<Point> {
        let extension = |d: f64| {
            let k = d - 0.1;
            if d.is_finite() {
                2.0 * 0.0025 / (k + (k * k - 4.0 * 0.0025).sqrt())
            } else {
                0.0
            }
        };
        let most = extension(0.5);
        let mut points: Vec<Point> = distances
            .iter()
            .enumerate()
            .map(|(mark, &distance)| Point {
                mark,
                position: 1.0 - extension(distance) / most,
                distance,
            })
            .collect();
        points.sort_by(|a, b| a.position.total_cmp(&b.position));
        points
    }

    const DISTANCES: [f64; 10] = [0.5, 0.6, 0.7, 0.9, 1.2, 1.5, 2.0, 3.0, 5.0, f64::INFINITY];

    #[test]
    fn a_clean_scale_predicts_its_marks() {
        let residuals = residuals(&unit_focus(&DISTANCES), Some(0.05)).unwrap();
        assert!(residuals.largest() < 0.002, "{residuals:?}");
        assert_eq!(residuals.off.len(), 8);
    }

    #[test]
    fn a_mark_that_is_off_stands_out() {
        let mut points = unit_focus(&DISTANCES);
        points[5].position += 0.03;
        let off = residuals(&points, Some(0.05)).unwrap().off;
        let (mark, found) = off[4];
        assert_eq!(mark, 5);
        assert!((found - 0.03).abs() < 0.004, "{off:?}");
    }

    #[test]
    fn few_marks_are_not_judged() {
        assert_eq!(residuals(&unit_focus(&DISTANCES[..4]), None), None);
    }
}
