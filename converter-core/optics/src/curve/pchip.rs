//! Monotone piecewise cubic Hermite interpolation.
//!
//! Inner slopes are the weighted harmonic mean of the neighbouring secants, 0 where they change sign (F. N. Fritsch and
//! J. Butland, "A method for constructing local monotone piecewise cubic interpolants", 1984). End slopes are the
//! three-point formula, clipped to keep the shape, as the documentation of scipy's `PchipInterpolator` describes.
//! With `h` the step, `m` the secant and `w1 = 2 h[k] + h[k-1]`, `w2 = h[k] + 2 h[k-1]`:
//! `slope[k] = (w1 + w2) / (w1 / m[k-1] + w2 / m[k])`.

/// Parts of `x` by which an interval is looked up: for knots that are spread about evenly it is found at once, without
/// the mispredicted branches of a binary search.
const BUCKETS: u32 = 128;

/// A curve through knots that never overshoots them.
#[derive(Debug, Clone, PartialEq)]
pub struct Pchip {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
    /// For each of [`BUCKETS`] equal parts of `x`, the last knot at or before its start.
    bucket: Vec<u32>,
    per_x: f64,
}

impl Pchip {
    /// A curve through `(x, y)`; `None` unless there are two or more knots, all finite, and `x` rises strictly.
    pub fn new(x: Vec<f64>, y: Vec<f64>) -> Option<Self> {
        let rising = x.iter().zip(x.iter().skip(1)).all(|(a, b)| a < b);
        let finite = x.iter().chain(&y).all(|v| v.is_finite());
        if x.len() < 2 || x.len() != y.len() || !rising || !finite {
            return None;
        }
        let slope = slopes(&x, &y);
        let (first, last) = (*x.first()?, *x.last()?);
        let per_x = f64::from(BUCKETS) / (last - first);
        let bucket = (0..BUCKETS).map(|b| {
            let start = first + f64::from(b) / per_x;
            x.partition_point(|knot| *knot <= start).saturating_sub(1) as u32
        });
        Some(Self {
            bucket: bucket.collect(),
            x,
            y,
            slope,
            per_x,
        })
    }

    /// A curve through `(x, y)` with given slopes, cut back to three times the smaller neighbouring secant where they
    /// would let it turn round (Fritsch and Carlson, 1980); `None` unless `x` rises and `y` rises or falls strictly.
    pub(crate) fn with_slopes(x: Vec<f64>, y: Vec<f64>, slope: Vec<f64>) -> Option<Self> {
        let mut curve = Self::new(x, y)?;
        let secants: Vec<f64> = (0..)
            .map_while(|k| curve.interval(k))
            .map(|piece| (piece.y1 - piece.y0) / piece.h)
            .collect();
        let (first, last) = (*secants.first()?, *secants.last()?);
        let one_way = secants.iter().all(|m| m * first > 0.0);
        if !one_way || slope.len() != curve.slope.len() || !slope.iter().all(|s| s.is_finite()) {
            return None;
        }
        let before = std::iter::once(&first).chain(&secants);
        let after = secants.iter().chain(std::iter::once(&last));
        for ((own, wanted), (a, b)) in curve.slope.iter_mut().zip(slope).zip(before.zip(after)) {
            let limit = 3.0 * a.abs().min(b.abs());
            *own = (wanted * first.signum()).clamp(0.0, limit) * first.signum();
        }
        Some(curve)
    }

    /// The knots' `x`, rising.
    pub fn x(&self) -> &[f64] {
        &self.x
    }

    /// The knots' `y`.
    pub fn y(&self) -> &[f64] {
        &self.y
    }

    /// Slopes at the knots.
    pub fn slopes(&self) -> &[f64] {
        &self.slope
    }

    /// The value at `x`; NaN outside the knots.
    pub fn value(&self, x: f64) -> f64 {
        self.value_near(x, &mut 0)
    }

    /// The value at `x`, looked for first in the interval `hint`, which is set to the one found.
    #[inline]
    pub(crate) fn value_near(&self, x: f64, hint: &mut usize) -> f64 {
        self.piece(x, hint).map_or(f64::NAN, |piece| piece.value(x))
    }

    /// The slope at `x`; NaN outside the knots.
    #[inline]
    pub(crate) fn slope_near(&self, x: f64, hint: &mut usize) -> f64 {
        self.piece(x, hint).map_or(f64::NAN, |piece| piece.slope(x))
    }

    /// Where the curve, rising or falling throughout, reaches `y`, to 1e-13 of `x` where it is not flat; NaN outside.
    pub(crate) fn position_of(&self, y: f64) -> f64 {
        let falling = self.y.first() > self.y.last();
        let below = |knot: f64| if falling { knot > y } else { knot < y };
        let index = self.y.partition_point(|knot| below(*knot));
        if self.y.get(index) == Some(&y) {
            return self.x.get(index).copied().unwrap_or(f64::NAN);
        }
        let piece = index.checked_sub(1).and_then(|k| self.interval(k));
        piece.map_or(f64::NAN, |piece| {
            piece.x0 + piece.h * fraction_of(&piece, y)
        })
    }

    #[inline]
    fn piece(&self, x: f64, hint: &mut usize) -> Option<Piece> {
        if let Some(piece) = self.interval(*hint)
            && piece.x0 <= x
            && x <= piece.x0 + piece.h
        {
            return Some(piece);
        }
        self.search(x, hint)
    }

    fn search(&self, x: f64, hint: &mut usize) -> Option<Piece> {
        let (first, last) = (*self.x.first()?, *self.x.last()?);
        if !(first <= x && x <= last) {
            return None;
        }
        let part = ((x - first) * self.per_x) as usize;
        let start = self.bucket.get(part).or(self.bucket.last())?;
        let last = self.x.len() - 2;
        // One knot back, should the start of the part have been rounded up.
        let mut k = (*start as usize).saturating_sub(1);
        while k < last && self.x.get(k + 1).is_some_and(|knot| *knot <= x) {
            k += 1;
        }
        *hint = k;
        self.interval(*hint)
    }

    /// The cubic between knot `k` and the next.
    #[inline]
    pub(crate) fn interval(&self, k: usize) -> Option<Piece> {
        let (&[x0, x1], &[y0, y1], &[d0, d1]) = (
            self.x.get(k..k + 2)?.first_chunk()?,
            self.y.get(k..k + 2)?.first_chunk()?,
            self.slope.get(k..k + 2)?.first_chunk()?,
        );
        Some(Piece {
            x0,
            h: x1 - x0,
            y0,
            y1,
            d0,
            d1,
        })
    }
}

/// The value at `x` of the curve through the knots `(xs[k], y(k))`, which is asked for at most four of them; NaN outside.
/// For curves that are other ones at every `x` asked for. A single knot is met, and nothing else.
pub(crate) fn through(xs: &[f64], x: f64, y: impl Fn(usize) -> f64) -> f64 {
    if let [only] = xs {
        return if *only == x { y(0) } else { f64::NAN };
    }
    let k = xs.partition_point(|knot| *knot <= x);
    let k = k.saturating_sub(1).min(xs.len().saturating_sub(2));
    let Some(&[x0, x1]) = xs.get(k..).and_then(<[f64]>::first_chunk) else {
        return f64::NAN;
    };
    if !(x0 <= x && x <= x1) {
        return f64::NAN;
    }
    let (y0, y1) = (y(k), y(k + 1));
    let own = (x1 - x0, (y1 - y0) / (x1 - x0));
    let before = k
        .checked_sub(1)
        .and_then(|k| xs.get(k).map(|at| (x0 - at, (y0 - y(k)) / (x0 - at))));
    let after = xs
        .get(k + 2)
        .map(|at| (at - x1, (y(k + 2) - y1) / (at - x1)));
    let (d0, d1) = match (before, after) {
        (None, None) => (own.1, own.1),
        (None, Some(after)) => (end_slope(own, after), inner_slope(own, after)),
        (Some(before), None) => (inner_slope(before, own), end_slope(own, before)),
        (Some(before), Some(after)) => (inner_slope(before, own), inner_slope(own, after)),
    };
    let h = own.0;
    Piece {
        x0,
        h,
        y0,
        y1,
        d0,
        d1,
    }
    .value(x)
}

/// One cubic.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    pub x0: f64,
    pub h: f64,
    pub y0: f64,
    pub y1: f64,
    pub d0: f64,
    pub d1: f64,
}

impl Piece {
    /// Value at `x`; the far knot is met exactly.
    #[inline]
    pub fn value(&self, x: f64) -> f64 {
        let t = (x - self.x0) / self.h;
        if t == 1.0 { self.y1 } else { self.at(t) }
    }

    /// Value at the fraction `t` of the interval.
    #[inline]
    pub fn at(&self, t: f64) -> f64 {
        let secant = self.y1 - self.y0;
        let (a, b) = (self.h * self.d0, self.h * self.d1);
        let c2 = 3.0 * secant - 2.0 * a - b;
        let c3 = a + b - 2.0 * secant;
        self.y0 + t * (a + t * (c2 + t * c3))
    }

    /// Slope at the fraction `t`, in `y` per unit of `t`.
    #[inline]
    pub fn rate(&self, t: f64) -> f64 {
        let secant = self.y1 - self.y0;
        let (a, b) = (self.h * self.d0, self.h * self.d1);
        a + t * (2.0 * (3.0 * secant - 2.0 * a - b) + 3.0 * t * (a + b - 2.0 * secant))
    }

    #[inline]
    pub fn slope(&self, x: f64) -> f64 {
        self.rate((x - self.x0) / self.h) / self.h
    }
}

/// Where a monotone cubic reaches `y`: Newton, kept inside a shrinking bracket.
fn fraction_of(piece: &Piece, y: f64) -> f64 {
    let falling = piece.y1 < piece.y0;
    let (mut low, mut high) = (0.0, 1.0);
    let mut t = (y - piece.y0) / (piece.y1 - piece.y0);
    for _ in 0..64 {
        let miss = piece.at(t) - y;
        if miss == 0.0 {
            break;
        }
        if (miss > 0.0) != falling {
            high = t;
        } else {
            low = t;
        }
        let newton = t - miss / piece.rate(t);
        let next = if low < newton && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        let step = (next - t).abs();
        t = next;
        if step * piece.h <= 1e-13 {
            break;
        }
    }
    t
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let steps: Vec<(f64, f64)> = x
        .iter()
        .zip(x.iter().skip(1))
        .zip(y.iter().zip(y.iter().skip(1)))
        .map(|((x0, x1), (y0, y1))| (x1 - x0, (y1 - y0) / (x1 - x0)))
        .collect();
    let (Some(&first), Some(&last)) = (steps.first(), steps.last()) else {
        return Vec::new();
    };
    if steps.len() == 1 {
        return vec![first.1; 2];
    }
    let second = steps.get(1).copied().unwrap_or(first);
    let before_last = steps.iter().rev().nth(1).copied().unwrap_or(last);
    let mut slope = vec![end_slope(first, second)];
    slope.extend(
        steps
            .iter()
            .zip(steps.iter().skip(1))
            .map(|(&a, &b)| inner_slope(a, b)),
    );
    slope.push(end_slope(last, before_last));
    slope
}

fn inner_slope((h0, m0): (f64, f64), (h1, m1): (f64, f64)) -> f64 {
    if m0 == 0.0 || m1 == 0.0 || m0.signum() != m1.signum() {
        return 0.0;
    }
    let (w1, w2) = (2.0 * h1 + h0, h1 + 2.0 * h0);
    (w1 + w2) / (w1 / m0 + w2 / m1)
}

/// Slope at an end from its own interval and the next.
fn end_slope((h0, m0): (f64, f64), (h1, m1): (f64, f64)) -> f64 {
    let slope = ((2.0 * h0 + h1) * m0 - h0 * m1) / (h0 + h1);
    let sign = |v: f64| if v == 0.0 { 0.0 } else { v.signum() };
    if sign(slope) != sign(m0) {
        0.0
    } else if sign(m0) != sign(m1) && slope.abs() > 3.0 * m0.abs() {
        3.0 * m0
    } else {
        slope
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn refuses_what_has_no_curve() {
        assert_eq!(Pchip::new(vec![0.0], vec![1.0]), None);
        assert_eq!(Pchip::new(vec![0.0, 0.0], vec![1.0, 2.0]), None);
        assert_eq!(Pchip::new(vec![0.0, 1.0], vec![1.0]), None);
        assert_eq!(Pchip::new(vec![0.0, 1.0], vec![1.0, f64::INFINITY]), None);
    }

    #[test]
    fn a_curve_from_four_knots_is_that_of_all() {
        let x = [0.0, 0.1, 0.4, 0.45, 1.0, 1.7];
        let y = [3.0, 3.0, 1.0, 4.0, 4.1, 9.0];
        for count in 2..=x.len() {
            let (x, y) = (&x[..count], &y[..count]);
            let curve = Pchip::new(x.to_vec(), y.to_vec()).unwrap();
            for k in -2..=102 {
                let at = x[count - 1] * f64::from(k) / 100.0;
                let (all, four) = (curve.value(at), through(x, at, |k| y[k]));
                assert!(
                    all == four || all.is_nan() && four.is_nan(),
                    "{count}, {at}: {all} {four}"
                );
            }
        }
        assert_eq!(through(&[2.0], 2.0, |_| 5.0), 5.0);
        assert!(through(&[2.0], 2.1, |_| 5.0).is_nan() && through(&[], 2.0, |_| 5.0).is_nan());
    }

    #[test]
    fn two_knots_are_a_line() {
        let line = Pchip::new(vec![1.0, 3.0], vec![10.0, 20.0]).unwrap();
        assert_eq!(line.value(2.0), 15.0);
        assert!(
            line.value(0.999).is_nan()
                && line.value(3.001).is_nan()
                && line.value(f64::NAN).is_nan()
        );
    }

    #[test]
    fn knots_are_met_exactly_and_nothing_overshoots() {
        let x = vec![0.0, 0.1, 0.4, 0.45, 1.0];
        let y = vec![3.0, 3.0, 1.0, 4.0, 4.1];
        let curve = Pchip::new(x.clone(), y.clone()).unwrap();
        for (x, y) in x.iter().zip(&y) {
            assert_eq!(curve.value(*x), *y);
        }
        for k in 0..=1000 {
            let value = curve.value(f64::from(k) / 1000.0);
            assert!((1.0..=4.1).contains(&value), "{k}: {value}");
        }
    }

    #[test]
    fn given_slopes_are_kept_unless_they_turn_the_curve() {
        let (x, y) = (vec![0.0, 1.0, 2.0], vec![0.0, 1.0, 4.0]);
        let parabola = Pchip::with_slopes(x.clone(), y.clone(), vec![0.0, 2.0, 4.0]).unwrap();
        assert!((parabola.value(1.5) - 2.25).abs() < 1e-15);
        let tamed = Pchip::with_slopes(x.clone(), y, vec![-1.0, 9.0, 4.0]).unwrap();
        assert_eq!(tamed.slopes(), [0.0, 3.0, 4.0]);
        assert!(Pchip::with_slopes(x, vec![0.0, 1.0, 1.0], vec![1.0; 3]).is_none());
    }

    #[test]
    fn position_of_inverts() {
        let curve = Pchip::new(vec![0.0, 0.2, 0.7, 1.0], vec![9.0, 1.5, 1.0, 0.0]).unwrap();
        for k in 0..=100 {
            let x = f64::from(k) / 100.0;
            assert!((curve.position_of(curve.value(x)) - x).abs() < 1e-12, "{x}");
        }
        assert!(curve.position_of(9.1).is_nan() && curve.position_of(-0.1).is_nan());
    }

    #[test]
    fn hint_changes_nothing() {
        let curve = Pchip::new(vec![0.0, 0.2, 0.7, 1.0], vec![0.0, 1.0, 1.5, 9.0]).unwrap();
        for hint in 0..5 {
            for k in 0..=50 {
                let x = f64::from(k) / 50.0;
                assert_eq!(curve.value_near(x, &mut { hint }), curve.value(x));
            }
        }
    }
}
