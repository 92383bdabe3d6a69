//! The scale of a ring as a curve: position to value and back.

use ringmark_model::{Ring, ScaleQuantity};
use thiserror::Error;

use super::pchip::{Pchip, Piece};

/// How far beyond an end mark, in ring travel, a position still counts as that mark: end stops and reading errors.
/// Farther out there is no value: the curve never extrapolates.
const END_TOLERANCE: f64 = 0.005;

/// Why the marks of a ring make no curve. Marks are named by their index in the ring.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum CurveError {
    /// Fewer than two marks.
    #[error("{found} marks: a curve needs 2 or more; add the marks of the scale")]
    TooFew {
        /// Marks of the ring.
        found: usize,
    },
    /// A position that is no finite number, or a value that cannot stand on the scale.
    #[error(
        "mark {mark}: position {position}, value {value}: expected a finite position and a value above 0; correct or leave out the mark"
    )]
    Mark {
        /// Index of the mark.
        mark: usize,
        /// Its ring position.
        position: f64,
        /// Its value in the canonical unit.
        value: f64,
    },
    /// Two marks at one ring position.
    #[error(
        "marks {first} and {second} share the ring position {position}; a position has one value, leave one out"
    )]
    Repeated {
        /// Index of one mark.
        first: usize,
        /// Index of the other.
        second: usize,
        /// Their position.
        position: f64,
    },
    /// Values turn round, or stand still, on the way along the ring.
    #[error(
        "marks {first} and {second}: values {first_value} and {second_value} run against the rest of the scale; correct one of them"
    )]
    NotMonotone {
        /// Index of the mark at the lower position.
        first: usize,
        /// Index of the one at the higher position.
        second: usize,
        /// Value of the first.
        first_value: f64,
        /// Value of the second.
        second_value: f64,
    },
}

/// The coordinate in which a scale is interpolated: dioptres for focus (image blur is linear in them and infinity is
/// the ordinary point 0), `log2` of the squared stop for iris, the logarithm of the focal length for zoom.
#[inline]
pub fn coordinate(quantity: ScaleQuantity, value: f64) -> f64 {
    match quantity {
        ScaleQuantity::FocusDistance => 1.0 / value,
        ScaleQuantity::TStop | ScaleQuantity::FNumber => 2.0 * value.log2(),
        ScaleQuantity::FocalLength => value.ln(),
    }
}

#[inline]
fn from_coordinate(quantity: ScaleQuantity, y: f64) -> f64 {
    match quantity {
        ScaleQuantity::FocusDistance if y <= 0.0 => f64::INFINITY,
        ScaleQuantity::FocusDistance => 1.0 / y,
        ScaleQuantity::TStop | ScaleQuantity::FNumber => (y * 0.5).exp2(),
        ScaleQuantity::FocalLength => y.exp(),
    }
}

/// A ring's scale: a monotone cubic through its marks in [`coordinate`] against ring position (0 to 1).
#[derive(Debug, Clone, PartialEq)]
pub struct RingCurve {
    quantity: ScaleQuantity,
    curve: Pchip,
    /// Values of the marks by rising position, so that marks are met exactly.
    values: Vec<f64>,
}

impl RingCurve {
    /// The curve through the marks of a ring, whatever order they are listed in and whichever way the scale runs.
    pub fn new(ring: &Ring) -> Result<Self, CurveError> {
        let marks: Vec<(f64, f64)> = ring
            .marks
            .iter()
            .map(|mark| (mark.position, mark.value))
            .collect();
        Self::from_marks(ring.quantity, &marks)
    }

    /// The curve through `(position, value)`, values in the canonical unit of `quantity`.
    pub fn from_marks(quantity: ScaleQuantity, marks: &[(f64, f64)]) -> Result<Self, CurveError> {
        if marks.len() < 2 {
            return Err(CurveError::TooFew { found: marks.len() });
        }
        let mut knots = Vec::with_capacity(marks.len());
        for (mark, &(position, value)) in marks.iter().enumerate() {
            let y = coordinate(quantity, value);
            let fits = value > 0.0 && y.is_finite();
            if !position.is_finite() || !fits {
                return Err(CurveError::Mark {
                    mark,
                    position,
                    value,
                });
            }
            knots.push((position, y, mark, value));
        }
        knots.sort_by(|a, b| a.0.total_cmp(&b.0));
        let pairs = || knots.iter().zip(knots.iter().skip(1));
        if let Some((a, b)) = pairs().find(|(a, b)| a.0 == b.0) {
            return Err(CurveError::Repeated {
                first: a.2.min(b.2),
                second: a.2.max(b.2),
                position: a.0,
            });
        }
        let rises = pairs().filter(|(a, b)| a.1 < b.1).count() * 2 >= knots.len() - 1;
        if let Some((a, b)) = pairs().find(|(a, b)| a.1 == b.1 || (a.1 < b.1) != rises) {
            return Err(CurveError::NotMonotone {
                first: a.2,
                second: b.2,
                first_value: a.3,
                second_value: b.3,
            });
        }
        let values = knots.iter().map(|knot| knot.3).collect();
        let (x, y) = knots.iter().map(|knot| (knot.0, knot.1)).unzip();
        let curve = Pchip::new(x, y).ok_or(CurveError::TooFew { found: marks.len() })?;
        Ok(Self {
            quantity,
            curve,
            values,
        })
    }

    /// What the scale reads.
    pub fn quantity(&self) -> ScaleQuantity {
        self.quantity
    }

    /// Positions of the marks, rising.
    pub fn positions(&self) -> &[f64] {
        self.curve.x()
    }

    /// Values of the marks by rising position.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// The value at a ring position. Up to 0.5 % of travel beyond an end mark it is that mark's value; farther out, and
    /// for a position that is not recorded, NaN: there is no extrapolation.
    pub fn value_at(&self, position: f64) -> f64 {
        self.value_near(position, &mut 0)
    }

    /// [`RingCurve::value_at`] for a slice; extra places in `values` are left as they are.
    pub fn evaluate(&self, positions: &[f64], values: &mut [f64]) {
        let mut hint = 0;
        for (value, &position) in values.iter_mut().zip(positions) {
            *value = self.value_near(position, &mut hint);
        }
    }

    #[inline]
    fn value_near(&self, position: f64, hint: &mut usize) -> f64 {
        let y = self.curve.value_near(position, hint);
        if y.is_nan() {
            return self.beyond_the_ends(position);
        }
        // The end of an interval is the start of the next, except at the last mark.
        let x = self.curve.x();
        if x.get(*hint) == Some(&position) {
            return self.values.get(*hint).copied().unwrap_or(f64::NAN);
        }
        if x.get(*hint + 1) == Some(&position) {
            return self.values.get(*hint + 1).copied().unwrap_or(f64::NAN);
        }
        from_coordinate(self.quantity, y)
    }

    #[cold]
    fn beyond_the_ends(&self, position: f64) -> f64 {
        let end = |x: Option<&f64>, value: Option<&f64>| {
            x.zip(value)
                .filter(|(x, _)| (position - **x).abs() <= END_TOLERANCE)
                .map(|(_, value)| *value)
        };
        end(self.curve.x().first(), self.values.first())
            .or_else(|| end(self.curve.x().last(), self.values.last()))
            .unwrap_or(f64::NAN)
    }

    /// The [`coordinate`] at a ring position and its slope per unit of travel; NaN outside the marks. `hint` is the
    /// interval to look in first; start with 0 and pass it on.
    #[inline]
    pub fn coordinate_and_slope(&self, position: f64, hint: &mut usize) -> (f64, f64) {
        (
            self.curve.value_near(position, hint),
            self.curve.slope_near(position, hint),
        )
    }

    /// The ring position of a value, to 1e-12 of travel where the curve is not flat. A value that lies beyond an end
    /// mark by no more than 0.5 % of travel, by the slope there, is at that mark; farther out, NaN.
    pub fn position_of(&self, value: f64) -> f64 {
        let y = coordinate(self.quantity, value);
        if y.is_nan() || value <= 0.0 {
            return f64::NAN;
        }
        let (x, knots) = (self.curve.x(), self.curve.y());
        let falling = knots.first() > knots.last();
        let below = |knot: f64| if falling { knot > y } else { knot < y };
        let index = knots.partition_point(|knot| below(*knot));
        if knots.get(index) == Some(&y) {
            return x.get(index).copied().unwrap_or(f64::NAN);
        }
        match index.checked_sub(1).and_then(|k| self.curve.interval(k)) {
            Some(piece) => piece.x0 + piece.h * fraction_of(&piece, y),
            None => self.position_beyond(y, index),
        }
    }

    fn position_beyond(&self, y: f64, index: usize) -> f64 {
        let end = if index == 0 {
            0
        } else {
            self.curve.x().len() - 1
        };
        let at = |slice: &[f64]| slice.get(end).copied().unwrap_or(f64::NAN);
        let off = (y - at(self.curve.y())) / at(self.curve.slopes());
        if off.abs() <= END_TOLERANCE {
            at(self.curve.x())
        } else {
            f64::NAN
        }
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

#[cfg(test)]
#[path = "ring_tests.rs"]
mod tests;
