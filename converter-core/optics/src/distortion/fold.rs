//! How far out a distortion can be turned back.

use super::Coefficients;
use super::polynomial::Polynomial;

/// Radii are looked at up to this many times the one at which the first term reaches the size of the radius itself.
const REACH: f64 = 100.0;

impl Coefficients {
    /// The smallest radius at which the map stops being one to one; infinite without distortion, and at most [`REACH`] times
    /// the radius at which the first term is as large as the radius.
    ///
    /// With `R = 1 + k1 r² + k2 r⁴ + k3 r⁶` and `g = d(r R)/dr`, the matrix of derivatives in the direction of the radius and
    /// across it is `[g + 6 a r, 2 b r; 2 b r, R + 2 a r]`, where `a² + b² = p1² + p2²` turn with the direction. It is
    /// symmetric, so while it is positive definite in a disc the map is the gradient of a convex function there and no two
    /// points of the disc fall on one. The determinant `g R + 2 a r (g + 3R) + 16 a² r² - 4 p² r²` is smallest at `a = -p`, or at
    /// `a = -(g + 3R) / 16 r` where that lies between -p and p: its first zero is the radius.
    pub(super) fn fold_radius(&self) -> f64 {
        let p = self.p1.hypot(self.p2);
        let size = [
            self.k1.abs().powf(-1.0 / 2.0),
            self.k2.abs().powf(-1.0 / 4.0),
            self.k3.abs().powf(-1.0 / 6.0),
            1.0 / p,
        ]
        .into_iter()
        .fold(f64::INFINITY, f64::min);
        if size.is_infinite() {
            return f64::INFINITY;
        }
        // Radii in units of that size, so that no coefficient is above 1.
        let squared = size * size;
        let (a1, a2, a3, q) = (
            self.k1 * squared,
            self.k2 * squared * squared,
            self.k3 * squared * squared * squared,
            p * size,
        );
        let ratio = Polynomial(vec![1.0, 0.0, a1, 0.0, a2, 0.0, a3]);
        let slope = Polynomial(vec![1.0, 0.0, 3.0 * a1, 0.0, 5.0 * a2, 0.0, 7.0 * a3]);
        let radius = Polynomial(vec![0.0, 1.0]);
        let mut first = REACH;
        for edge in [slope.plus(-6.0 * q, &radius), ratio.plus(-2.0 * q, &radius)] {
            first = edge
                .roots(REACH)
                .first()
                .copied()
                .unwrap_or(first)
                .min(first);
        }
        let sum = slope.plus(3.0, &ratio);
        if q > 0.0 && !sum.plus(-16.0 * q, &radius).roots(first).is_empty() {
            let between = slope
                .times(&ratio)
                .plus(-1.0 / 16.0, &sum.times(&sum))
                .plus(-4.0 * q * q, &radius.times(&radius));
            let root = between
                .roots(first)
                .into_iter()
                .find(|&r| sum.value(r).abs() <= 16.0 * q * r);
            first = root.unwrap_or(first);
        }
        first * size
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn coefficients(k: [f64; 3], p: [f64; 2]) -> Coefficients {
        Coefficients {
            k1: k[0],
            k2: k[1],
            k3: k[2],
            p1: p[0],
            p2: p[1],
        }
    }

    #[test]
    fn barrel_folds_where_its_slope_ends() {
        // 1 + 3 k1 r² = 0.
        for k1 in [-0.3, -1e-7, -40.0] {
            let fold = coefficients([k1, 0.0, 0.0], [0.0; 2]).fold_radius();
            assert!(
                (fold / (-1.0 / (3.0 * k1)).sqrt() - 1.0).abs() < 1e-12,
                "{k1}"
            );
        }
        assert!(coefficients([0.0; 3], [0.0; 2]).fold_radius().is_infinite());
        assert_eq!(
            coefficients([0.25, 0.0, 0.0], [0.0; 2]).fold_radius(),
            200.0
        );
    }

    /// Smallest radius at which the determinant is not above 0, over directions and radii one by one.
    fn by_search(c: &Coefficients, up_to: f64) -> f64 {
        let det = |x: f64, y: f64| {
            let h = 1e-6;
            let (right, left) = (c.apply([x + h, y]), c.apply([x - h, y]));
            let (down, up) = (c.apply([x, y + h]), c.apply([x, y - h]));
            ((right[0] - left[0]) * (down[1] - up[1]) - (right[1] - left[1]) * (down[0] - up[0]))
                / (4.0 * h * h)
        };
        (1..=2000)
            .map(|k| up_to * f64::from(k) / 2000.0)
            .find(|r| {
                (0..720).any(|d| {
                    let direction = f64::from(d) * std::f64::consts::PI / 360.0;
                    det(r * direction.cos(), r * direction.sin()) <= 0.0
                })
            })
            .unwrap()
    }

    #[test]
    fn tangential_terms_against_a_search() {
        for (k, p) in [
            ([-0.2, 0.03, -0.001], [0.01, -0.02]),
            ([0.0, 0.0, 0.0], [0.03, 0.04]),
            ([0.3, -0.4, 0.0], [0.0, 0.05]),
            ([0.1, 0.0, 0.0], [0.4, 0.3]),
        ] {
            let c = coefficients(k, p);
            let fold = c.fold_radius();
            let found = by_search(&c, 2.0 * fold);
            // One step of the search, plus what its directions leave out.
            assert!(
                (found / fold - 1.0).abs() < 2e-3,
                "{k:?} {p:?}: {fold} {found}"
            );
        }
    }
}
