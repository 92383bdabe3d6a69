//! Assumptions about the drive of a barrel: a [`Family`] of warps, corrected by Legendre polynomials over the marked part.

use super::warp::Family;

/// Degrees 2 to 9; 0 and 1 are the ends of the scale themselves.
pub(crate) const TERMS: usize = 8;

/// `P[n+1] = a x P[n] - b P[n-1]`, `P'[n+1] = P'[n-1] + c P[n]`, for n from 1: `a = (2 n + 1) / (n + 1)`,
/// `b = n / (n + 1)`, `c = 2 n + 1`.
const RECURRENCE: [(f64, f64, f64); TERMS] = {
    let mut all = [(0.0, 0.0, 0.0); TERMS];
    let mut k = 0;
    while k < TERMS {
        let n = k as f64 + 1.0;
        let c = 2.0 * n + 1.0;
        all[k] = (c / (n + 1.0), n / (n + 1.0), c);
        k += 1;
    }
    all
};

/// The polynomials of degree 2 to 9 and their slopes at `z`, with the marked part of the scale at 0 to 1. Beyond it
/// they go on as straight lines: a polynomial says nothing outside its data.
#[inline]
pub(crate) fn terms(z: f64) -> ([f64; TERMS], [f64; TERMS]) {
    let inside = z.clamp(0.0, 1.0);
    let x = 2.0 * inside - 1.0;
    let (mut values, mut slopes) = ([0.0; TERMS], [0.0; TERMS]);
    let (mut before, mut now) = ((1.0, 0.0), (x, 1.0));
    for ((value, slope), (a, b, c)) in values.iter_mut().zip(&mut slopes).zip(RECURRENCE) {
        let next = (a * x * now.0 - b * before.0, before.1 + c * now.0);
        *slope = 2.0 * next.1;
        *value = next.0 + *slope * (z - inside);
        (before, now) = (now, next);
    }
    (values, slopes)
}

/// One assumption about the drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Candidate {
    pub family: Family,
    /// How large each correction is expected to be, as a part of the marked travel: standard deviations.
    spread: [f64; TERMS],
    /// Corrections there are.
    pub terms: usize,
    /// Whether an inner group is expected to move, not the whole lens.
    pub inner: bool,
    /// How likely it is before any mark was read.
    pub likely: f64,
}

impl Candidate {
    const fn new(family: Family, likely: f64) -> Self {
        Self {
            family,
            spread: [0.0; TERMS],
            terms: 0,
            inner: false,
            likely,
        }
    }

    /// Corrections of this strength that fall off by a factor a degree.
    fn falling(mut self, strength: f64, factor: f64, terms: usize) -> Self {
        self.spread = std::array::from_fn(|k| strength * f64::powi(factor, k as i32));
        self.terms = terms;
        self
    }

    /// Corrections of this strength that fall off slowly, with the third power of the degree.
    fn rough(mut self, strength: f64) -> Self {
        self.spread = std::array::from_fn(|k| strength * (2.0 / (k as f64 + 2.0)).powi(3));
        self.terms = TERMS;
        self
    }

    /// Standard deviations of its corrections.
    pub fn spread(&self) -> impl Iterator<Item = f64> {
        self.spread.into_iter().take(self.terms)
    }

    /// Whether this is an even drive.
    pub fn is_even(&self) -> bool {
        self.family == Family::Plain && self.terms == 0
    }
}

/// An even drive, and smooth cams: weak ones that are corrections only, logarithms, sines and waves with corrections, and
/// rough ones. An even drive counts as likely as all others together: the simplest that explains the marks is preferred.
pub(crate) fn smooth() -> Vec<Candidate> {
    let plain = |likely| Candidate::new(Family::Plain, likely);
    let log = |spread, likely| Candidate::new(Family::Logarithm(spread), likely);
    let sine = |spread, likely| Candidate::new(Family::Sine(spread), likely);
    let wave = |spread, likely| Candidate::new(Family::Wave(spread), likely);
    vec![
        plain(0.7),
        Candidate {
            inner: true,
            ..plain(0.1)
        },
        sine(0.25, 0.04).falling(0.003, 0.4, 5),
        sine(0.6, 0.04).falling(0.003, 0.4, 5),
        sine(0.6, 0.04).falling(0.03, 0.4, 7),
        log(0.5, 0.04).falling(0.003, 0.4, 5),
        log(1.2, 0.04).falling(0.003, 0.4, 5),
        log(1.2, 0.04).falling(0.03, 0.4, 7),
        wave(0.3, 0.04).falling(0.003, 0.4, 5),
        plain(0.06).falling(0.01, 0.25, 5),
        plain(0.06).falling(0.03, 0.25, 6),
        plain(0.06).falling(0.1, 0.25, 7),
        plain(0.04).falling(0.03, 0.45, 8),
        plain(0.04).falling(0.1, 0.45, 8),
        plain(0.03).rough(0.01),
        plain(0.03).rough(0.03),
        plain(0.03).rough(0.1),
    ]
}

/// Cells in which a corner is looked for.
const CELLS: u32 = 12;

/// Two-slope drives.
pub(crate) fn corners() -> Vec<Candidate> {
    let cell = 1.0 / f64::from(CELLS);
    let corner = |k| {
        Candidate::new(
            Family::Corner(cell * (f64::from(k) + 0.5), 0.5 * cell),
            0.1 / f64::from(CELLS),
        )
        .falling(0.002, 0.4, 3)
    };
    (0..CELLS).map(corner).collect()
}

#[cfg(test)]
mod tests {
    #![allow(missing_docs)]
    use super::*;

    #[test]
    fn are_legendre_polynomials() {
        let x: f64 = 0.3;
        let (values, _) = terms(0.5 + 0.5 * x);
        assert!((values[0] - 0.5 * (3.0 * x * x - 1.0)).abs() < 1e-15);
        assert!((values[1] - 0.5 * (5.0 * x.powi(3) - 3.0 * x)).abs() < 1e-15);
        let p4 = (35.0 * x.powi(4) - 30.0 * x * x + 3.0) / 8.0;
        assert!((values[2] - p4).abs() < 1e-15);
        assert!(terms(1.0).0.iter().all(|v| (v - 1.0).abs() < 1e-12));
    }

    #[test]
    fn slopes_are_those_of_the_values() {
        for z in [-0.2, 0.1, 0.45, 0.9, 1.1] {
            let (up, down) = (terms(z + 1e-6).0, terms(z - 1e-6).0);
            for ((up, down), slope) in up.iter().zip(&down).zip(terms(z).1) {
                assert!(((up - down) / 2e-6 - slope).abs() < 1e-5 * slope.abs().max(1.0));
            }
        }
    }
}
