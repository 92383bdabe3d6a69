//! Real roots of a polynomial in an interval.

/// A polynomial, lowest power first.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Polynomial(pub(super) Vec<f64>);

impl Polynomial {
    pub(super) fn value(&self, x: f64) -> f64 {
        self.0.iter().rev().fold(0.0, |sum, c| sum.mul_add(x, *c))
    }

    pub(super) fn times(&self, other: &Self) -> Self {
        let mut out = vec![0.0; (self.0.len() + other.0.len()).saturating_sub(1)];
        for (i, a) in self.0.iter().enumerate() {
            for (j, b) in other.0.iter().enumerate() {
                if let Some(sum) = out.get_mut(i + j) {
                    *sum += a * b;
                }
            }
        }
        Self(out)
    }

    /// `self + factor * other`.
    pub(super) fn plus(&self, factor: f64, other: &Self) -> Self {
        let length = self.0.len().max(other.0.len());
        let at = |p: &Self, k: usize| p.0.get(k).copied().unwrap_or(0.0);
        Self(
            (0..length)
                .map(|k| at(self, k) + factor * at(other, k))
                .collect(),
        )
    }

    fn derivative(&self) -> Self {
        let powers = self.0.iter().enumerate().skip(1);
        Self(powers.map(|(k, c)| k as f64 * c).collect())
    }

    /// The places in (0, `end`] where the sign changes, ascending. Between roots of the derivative a polynomial is monotone, so
    /// each such interval holds one at most, found by halving.
    pub(super) fn roots(&self, end: f64) -> Vec<f64> {
        // A root at 0 is none of them: without it, halving does not go down to the smallest of floats.
        match self.0.iter().position(|c| *c != 0.0) {
            None => return Vec::new(),
            Some(0) => {}
            Some(zeros) => {
                let rest = self.0.get(zeros..).unwrap_or_default();
                return Self(rest.to_vec()).roots(end);
            }
        }
        if self.0.iter().skip(1).all(|c| *c == 0.0) {
            return Vec::new();
        }
        let mut borders = self.derivative().roots(end);
        borders.push(end);
        let mut found = Vec::new();
        let (mut from, mut before) = (0.0, self.value(0.0));
        for to in borders {
            let after = self.value(to);
            if (before > 0.0) != (after > 0.0) {
                found.push(self.halve(from, to, before > 0.0));
            }
            (from, before) = (to, after);
        }
        found
    }

    /// The change of sign between `low` and `high`, to the last bit.
    fn halve(&self, mut low: f64, mut high: f64, positive: bool) -> f64 {
        loop {
            let middle = low + (high - low) / 2.0;
            if middle <= low || middle >= high {
                return high;
            }
            if (self.value(middle) > 0.0) == positive {
                low = middle;
            } else {
                high = middle;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_of_known_polynomials() {
        // (x - 1)(x - 2)(x + 3), and 100 (x - 0.5).
        let cubic = Polynomial(vec![-1.0, 1.0])
            .times(&Polynomial(vec![-2.0, 1.0]))
            .times(&Polynomial(vec![3.0, 1.0]));
        assert_eq!(cubic, Polynomial(vec![6.0, -7.0, 0.0, 1.0]));
        let roots = cubic.roots(100.0);
        assert_eq!(roots.len(), 2);
        assert!((roots[0] - 1.0).abs() < 1e-14 && (roots[1] - 2.0).abs() < 1e-14);
        assert_eq!(cubic.roots(1.5).len(), 1);
        let line = Polynomial(vec![-50.0, 100.0]).roots(1.0);
        assert!(line.len() == 1 && (line[0] - 0.5).abs() < 1e-15);
    }

    #[test]
    fn none_where_none_are() {
        assert!(Polynomial(vec![1.0, 0.0, 1.0]).roots(1e3).is_empty());
        assert!(Polynomial(vec![1.0]).roots(1e3).is_empty());
        assert!(Polynomial(vec![]).roots(1e3).is_empty());
        assert!(Polynomial(vec![0.0, 0.0, 1.0]).roots(1e3).is_empty());
    }

    #[test]
    fn a_sum_keeps_the_longer_tail() {
        let sum = Polynomial(vec![1.0]).plus(2.0, &Polynomial(vec![1.0, 0.0, 3.0]));
        assert_eq!(sum, Polynomial(vec![3.0, 0.0, 6.0]));
        assert_eq!(sum.value(2.0), 27.0);
    }
}
