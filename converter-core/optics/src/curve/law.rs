//! How far a lens must extend for a focus distance.

/// The law of a focusing lens: with `e` the ring travel from infinity, the distance is `d = A + B / e + C e`.
///
/// It is Newton's `x x' = f²` between object and image, written from the image plane: for a lens that moves as a whole,
/// `A = 2 f + H` (H the distance between the principal planes), `B = f² / p`, `C = p`, with `p` the extension per unit
/// of ring. With `u = e / B`, in 1/m, it reads `d = A + 1 / u + q u`, `q = B C = f²`, or in dioptres `y = 1 / d`:
///
/// `y = u / (1 + A u + q u²)`, and back `u = 2 y / ((1 - A y) + sqrt((1 - A y)² - 4 q y²))`.
///
/// Infinity is the ordinary point `u = y = 0`. The same law fits lenses that move an inner group, but `A` and `q` lose
/// their plain meaning there, and behind a cam. Valid up to a magnification of 1, where `q u² = 1`.
/// Source: Gaussian optics as in E. Hecht, "Optics", chapter 5 (from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FocusLaw {
    /// `A`, in m.
    pub offset: f64,
    /// `q = B C`, in m²: the focal length squared when the whole lens moves on an even helicoid.
    pub product: f64,
}

impl FocusLaw {
    /// The law that changes nothing: `u = y`. It serves scales that are nearly straight in their own coordinate.
    pub(crate) const STRAIGHT: Self = Self {
        offset: 0.0,
        product: 0.0,
    };

    /// Extension divided by `B`, in 1/m, for a distance in dioptres.
    #[inline]
    pub fn extension(&self, dioptres: f64) -> f64 {
        let k = 1.0 - self.offset * dioptres;
        let root = (k * k - 4.0 * self.product * dioptres * dioptres).max(0.0);
        2.0 * dioptres / (k + root.sqrt())
    }

    /// Dioptres for an extension divided by `B`.
    #[inline]
    pub fn dioptres(&self, extension: f64) -> f64 {
        extension / (1.0 + extension * (self.offset + self.product * extension))
    }

    /// Dioptres for an extension that may lie beyond a magnification of 1, where the law would fold back: there, those of
    /// the nearest distance it reaches; infinite where that is the lens itself.
    pub(crate) fn dioptres_at_most(&self, extension: f64) -> f64 {
        let turn = if self.product > 0.0 {
            1.0 / self.product.sqrt()
        } else {
            f64::INFINITY
        };
        let u = extension.min(turn);
        if 1.0 + u * (self.offset + self.product * u) > 0.0 {
            self.dioptres(u)
        } else {
            f64::INFINITY
        }
    }

    /// Change of the dioptres with the extension.
    #[inline]
    pub(crate) fn rate(&self, extension: f64) -> f64 {
        let d = 1.0 + extension * (self.offset + self.product * extension);
        (1.0 - self.product * extension * extension) / (d * d)
    }

    /// Whether distances up to `dioptres` come well before a magnification of 1 and before the lens itself.
    pub(crate) fn holds_to(&self, dioptres: f64) -> bool {
        let k = 1.0 - self.offset * dioptres;
        k > 0.02 && k * k - 4.0 * self.product * dioptres * dioptres > 1e-3 * k * k
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    /// A 50 mm lens, principal planes 4 mm apart.
    const LENS: FocusLaw = FocusLaw {
        offset: 0.104,
        product: 0.0025,
    };

    #[test]
    fn there_and_back() {
        for k in -20..=400 {
            let y = f64::from(k) / 200.0;
            let u = LENS.extension(y);
            assert!((LENS.dioptres(u) - y).abs() < 1e-14, "{y}");
            let slope = (LENS.dioptres(u + 1e-6) - LENS.dioptres(u - 1e-6)) / 2e-6;
            assert!((LENS.rate(u) - slope).abs() < 1e-8, "{y}");
        }
    }

    #[test]
    fn is_newtons_equation() {
        // Object 0.75 m before the front focal point: the lens moves forward by f² / x.
        let (f, x) = (0.05, 0.75);
        let e = f * f / x;
        let distance = x + 2.0 * f + 0.004 + e;
        assert!((LENS.extension(1.0 / distance) - e / (f * f)).abs() < 1e-12);
    }

    #[test]
    fn does_not_fold_back() {
        let nearest = 1.0 / 0.204;
        assert!((LENS.dioptres_at_most(20.0) - nearest).abs() < 1e-12);
        assert!((LENS.dioptres_at_most(1e9) - nearest).abs() < 1e-12);
        assert_eq!(LENS.dioptres_at_most(3.0), LENS.dioptres(3.0));
        let odd = FocusLaw {
            offset: -0.1,
            product: -0.001,
        };
        assert_eq!(odd.dioptres_at_most(50.0), f64::INFINITY);
    }

    #[test]
    fn ends_at_magnification_one() {
        assert!(LENS.holds_to(1.0 / 0.21));
        assert!(!LENS.holds_to(1.0 / 0.204));
        assert!(!LENS.holds_to(1.0 / 0.1));
    }
}
