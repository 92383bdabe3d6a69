//! Symmetric systems of the few unknowns of a scale. They have a fixed size and live on the stack; a linear algebra
//! library would bring more than these lines.

/// Unknowns of a fit.
pub(crate) const SIZE: usize = 12;

pub(crate) type Vector = [f64; SIZE];
pub(crate) type Matrix = [[f64; SIZE]; SIZE];

/// The Cholesky factor `L` of a symmetric positive definite matrix `L Lᵀ`.
#[derive(Debug, Clone)]
pub(crate) struct Factor {
    size: usize,
    lower: Matrix,
}

impl Factor {
    /// Factorises the lower triangle of the first `size` rows, at most [`SIZE`]; `None` unless it is positive definite.
    #[allow(clippy::needless_range_loop)] // Two rows of one matrix at a time: indices say it plainest.
    pub fn new(matrix: &Matrix, size: usize) -> Option<Self> {
        let mut lower = [[0.0; SIZE]; SIZE];
        for i in 0..size.min(SIZE) {
            for j in 0..=i {
                let mut sum = matrix[i][j];
                for k in 0..j {
                    sum -= lower[i][k] * lower[j][k];
                }
                if i == j {
                    if !(sum > 0.0 && sum.is_finite()) {
                        return None;
                    }
                    lower[i][i] = sum.sqrt();
                } else {
                    lower[i][j] = sum / lower[j][j];
                }
            }
        }
        Some(Self {
            size: size.min(SIZE),
            lower,
        })
    }

    /// `L⁻¹ b`: its squared length is `bᵀ M⁻¹ b`.
    #[allow(clippy::needless_range_loop)]
    pub fn forward(&self, b: &Vector) -> Vector {
        let mut x = *b;
        for i in 0..self.size {
            for k in 0..i {
                x[i] -= self.lower[i][k] * x[k];
            }
            x[i] /= self.lower[i][i];
        }
        x
    }

    /// `M⁻¹ b`.
    pub fn solve(&self, b: &Vector) -> Vector {
        let mut x = self.forward(b);
        for i in (0..self.size).rev() {
            for k in i + 1..self.size {
                x[i] -= self.lower[k][i] * x[k];
            }
            x[i] /= self.lower[i][i];
        }
        x
    }

    /// `bᵀ M⁻¹ b`.
    pub fn quadratic(&self, b: &Vector) -> f64 {
        self.forward(b).iter().take(self.size).map(|v| v * v).sum()
    }

    /// Logarithm of the determinant of `M`.
    pub fn log_determinant(&self) -> f64 {
        let rows = self.lower.iter().take(self.size).enumerate();
        let diagonal = rows.map(|(i, row)| row[i].ln());
        2.0 * diagonal.sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn matrix() -> Matrix {
        let mut matrix = [[0.0; SIZE]; SIZE];
        for (i, row) in matrix.iter_mut().enumerate() {
            for (j, cell) in row.iter_mut().enumerate() {
                *cell = 1.0 / (1.0 + i.abs_diff(j) as f64) + if i == j { 2.0 } else { 0.0 };
            }
        }
        matrix
    }

    #[test]
    fn solves() {
        let wanted: Vector = std::array::from_fn(|i| (i as f64).sin());
        let right: Vector =
            std::array::from_fn(|i| matrix()[i].iter().zip(&wanted).map(|(m, x)| m * x).sum());
        let factor = Factor::new(&matrix(), SIZE).unwrap();
        let found = factor.solve(&right);
        for (found, wanted) in found.iter().zip(&wanted) {
            assert!((found - wanted).abs() < 1e-12);
        }
        let product: f64 = right.iter().zip(&wanted).map(|(a, b)| a * b).sum();
        assert!((factor.quadratic(&right) - product).abs() < 1e-11);
    }

    #[test]
    fn determinant_of_a_diagonal() {
        let mut matrix = [[0.0; SIZE]; SIZE];
        for (i, row) in matrix.iter_mut().enumerate() {
            row[i] = 2.0;
        }
        let found = Factor::new(&matrix, SIZE).unwrap().log_determinant();
        assert!((found - SIZE as f64 * 2f64.ln()).abs() < 1e-12);
    }

    #[test]
    fn refuses_what_is_not_positive() {
        let mut matrix = matrix();
        matrix[3][3] = -1.0;
        assert!(Factor::new(&matrix, SIZE).is_none());
        matrix[3][3] = f64::NAN;
        assert!(Factor::new(&matrix, SIZE).is_none());
    }
}
