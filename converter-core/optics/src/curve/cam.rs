//! Shapes a barrel can give its scale beyond the law: Legendre polynomials over the marked part.

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

/// One assumption about the drive: how large each term is expected to be, as a part of the marked travel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Candidate {
    /// Standard deviations of the terms; 0 leaves a term out.
    pub spread: [f64; TERMS],
    /// How likely it is before any mark was read.
    pub likely: f64,
}

impl Candidate {
    /// Whether this is an even drive.
    pub fn is_even(&self) -> bool {
        self.spread == [NONE; TERMS]
    }
}

/// Terms this small do nothing.
const NONE: f64 = 1e-9;

/// An even drive, smooth cams of several strengths whose terms fall off fast, and rough ones whose terms fall off
/// slowly. An even drive counts as likely as all others together: the simplest that explains the marks is preferred.
pub(crate) fn candidates() -> Vec<Candidate> {
    let mut all = vec![Candidate {
        spread: [NONE; TERMS],
        likely: 0.45,
    }];
    for (strength, fall) in [
        (0.01, 0.25),
        (0.03, 0.25),
        (0.1, 0.25),
        (0.3, 0.25),
        (0.03, 0.45),
        (0.1, 0.45),
        (0.3, 0.45),
    ] {
        all.push(Candidate {
            spread: std::array::from_fn(|k| strength * f64::powi(fall, k as i32)),
            likely: 0.08,
        });
    }
    for strength in [0.01, 0.03, 0.1] {
        all.push(Candidate {
            spread: std::array::from_fn(|k| strength * (2.0 / (k as f64 + 2.0)).powi(3)),
            likely: 0.05,
        });
    }
    all
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
