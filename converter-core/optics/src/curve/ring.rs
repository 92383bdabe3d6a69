//! The scale of a ring as a curve: position to value and back.

use ringmark_model::{Ring, ScaleQuantity};

use super::band::{Reading, Region};
use super::choose::{Chosen, choose};
use super::coordinate::{coordinate, from_coordinate};
use super::error::CurveError;
use super::fit::Points;
use super::law::FocusLaw;
use super::pchip::Pchip;
use super::scale;
use super::student::half_width_95;

/// How far beyond an end mark, in ring travel, a position still counts as on the scale: end stops and reading errors.
const END_TOLERANCE: f64 = 0.005;

/// Half a step of a 16-bit encoder, in travel: nearer to infinity than this is infinity.
const HALF_STEP: f64 = 0.5 / 65535.0;

/// What a curve rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Focus: the law alone explains the marks. Iris and zoom: a straight line in stops or log focal length does.
    Even,
    /// The marks show a drive that is not even; a smooth correction is part of the curve.
    Cam,
    /// No drive explains the marks: a monotone cubic through them, as they are.
    Marks,
}

/// Where a focus scale reaches infinity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Infinity {
    /// Ring position.
    pub position: f64,
    /// Half width of its 95 % band, in ring travel.
    pub band: f64,
    /// Whether no mark says so: the law was carried on from the farthest mark.
    pub extrapolated: bool,
}

/// A ring's scale.
///
/// Focus: the [`FocusLaw`], `d = A + B / e + C e`, with `e` a smooth function of ring position that bends only as far as
/// the marks show it. Iris and zoom: a straight line in [`coordinate`], bent in the same way. Marks carry a reading error,
/// so the curve averages them and passes each within that error, not through it; where no drive explains the marks it is
/// the monotone cubic through them. Values are in the canonical unit (m, f- or T-number, mm), positions 0 to 1.
///
/// Valid from the end mark of the nearest distance to infinity and 5 % of travel past it; 0.5 % of travel beyond end
/// marks counts as scale. Without a mark at infinity the far end is extrapolated, and said to be ([`Region`],
/// [`Infinity`]). Distances may be counted from any fixed point; the scale keeps the one of its marks.
#[derive(Debug, Clone, PartialEq)]
pub struct RingCurve {
    quantity: ScaleQuantity,
    positions: Vec<f64>,
    values: Vec<f64>,
    law: FocusLaw,
    /// Extension of the law over position.
    curve: Pchip,
    /// Half widths of the 95 % band of the extension, at the knots.
    band: Vec<f64>,
    /// Extension at or below which the distance is infinite; none where the scale has no infinity.
    infinite: f64,
    shape: Shape,
    error: f64,
    left_out: Vec<f64>,
    set_aside: Option<usize>,
}

impl RingCurve {
    /// The curve of a ring, whatever order its marks are listed in and whichever way the scale runs.
    pub fn new(ring: &Ring) -> Result<Self, CurveError> {
        let marks: Vec<(f64, f64)> = ring
            .marks
            .iter()
            .map(|mark| (mark.position, mark.value))
            .collect();
        Self::from_marks(ring.quantity, &marks)
    }

    /// The curve of `(position, value)`, values in the canonical unit of `quantity`.
    pub fn from_marks(quantity: ScaleQuantity, marks: &[(f64, f64)]) -> Result<Self, CurveError> {
        let knots = sorted(quantity, marks)?;
        let mut rising: Vec<&Knot> = knots.iter().collect();
        rising.sort_by(|a, b| a.y.total_cmp(&b.y));
        let points = Points {
            coordinate: rising.iter().map(|knot| knot.y).collect(),
            position: rising.iter().map(|knot| knot.position).collect(),
            focus: quantity == ScaleQuantity::FocusDistance,
        };
        let chosen = choose(&points).ok_or(CurveError::TooFew { found: marks.len() })?;
        Ok(Self::of(quantity, &knots, chosen))
    }

    fn of(quantity: ScaleQuantity, knots: &[Knot], chosen: Chosen) -> Self {
        let Chosen {
            scale,
            shape,
            aside,
        } = chosen;
        let falls = knots.first().map(|knot| knot.y) > knots.last().map(|knot| knot.y);
        let by_position = |mark| if falls { knots.len() - 1 - mark } else { mark };
        let t = half_width_95(scale.freedom);
        let mut curve = Self {
            quantity,
            positions: knots.iter().map(|knot| knot.position).collect(),
            values: knots.iter().map(|knot| knot.value).collect(),
            law: scale.law,
            band: scale.spread.iter().map(|spread| t * spread).collect(),
            curve: scale.curve,
            infinite: f64::NEG_INFINITY,
            shape,
            error: scale.error,
            left_out: if falls {
                scale.left_out.into_iter().rev().collect()
            } else {
                scale.left_out
            },
            set_aside: aside.map(by_position),
        };
        if quantity == ScaleQuantity::FocusDistance {
            let slope = curve.curve.slope_near(curve.curve.position_of(0.0), &mut 0);
            curve.infinite = if slope.is_finite() {
                HALF_STEP * slope.abs()
            } else {
                0.0
            };
        }
        curve
    }

    /// What the scale reads.
    pub fn quantity(&self) -> ScaleQuantity {
        self.quantity
    }

    /// Positions of the marks, rising.
    pub fn positions(&self) -> &[f64] {
        &self.positions
    }

    /// Values of the marks by rising position.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// What the curve rests on.
    pub fn shape(&self) -> Shape {
        self.shape
    }

    /// The law of a focus scale, of the likeliest drive; `None` for iris and zoom and for a curve through the marks.
    pub fn law(&self) -> Option<FocusLaw> {
        let focus = self.quantity == ScaleQuantity::FocusDistance && self.shape != Shape::Marks;
        focus.then_some(self.law)
    }

    /// Reading error of the marks, one standard deviation, in ring travel, from their residuals. Never below what is
    /// expected of any reading: a few marks that fit by chance do not make a scale exact.
    pub fn reading_error(&self) -> f64 {
        self.error
    }

    /// Where the scale reaches infinity; `None` for iris and zoom, and where no mark is near enough to tell.
    pub fn infinity(&self) -> Option<Infinity> {
        if self.quantity != ScaleQuantity::FocusDistance {
            return None;
        }
        let position = self.curve.position_of(0.0);
        position.is_finite().then(|| Infinity {
            position,
            // A curve through the marks may be level there: then the ring does not tell at all.
            band: self.position_band(position),
            extrapolated: !self.values.contains(&f64::INFINITY),
        })
    }

    /// The value at a ring position; NaN off the scale and for a position that is not recorded.
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

    /// The value at a ring position with its 95 % band.
    pub fn reading_at(&self, position: f64) -> Reading {
        self.reading_near(position, &mut 0)
    }

    /// Half width of the 95 % band of a position, in ring travel: how far from there the ring may have to stand for the
    /// value that the curve has there. 1, all of the travel, where the curve is level and the ring does not tell; NaN
    /// off the scale.
    pub fn position_band(&self, position: f64) -> f64 {
        let at = if self.curve.value_near(position, &mut 0).is_nan() {
            self.beyond_the_table(position).unwrap_or(f64::NAN)
        } else {
            position
        };
        if at.is_nan() {
            return f64::NAN;
        }
        let slope = self.curve.slope_near(at, &mut 0).abs();
        (self.band_near(at, &mut 0) / slope).min(1.0)
    }

    /// [`RingCurve::reading_at`] for a slice; extra places in `readings` are left as they are.
    pub fn evaluate_with_band(&self, positions: &[f64], readings: &mut [Reading]) {
        let mut hint = 0;
        for (reading, &position) in readings.iter_mut().zip(positions) {
            *reading = self.reading_near(position, &mut hint);
        }
    }

    #[inline]
    fn value_near(&self, position: f64, hint: &mut usize) -> f64 {
        let extension = self.curve.value_near(position, hint);
        if extension.is_nan() {
            let end = self.beyond_the_table(position);
            return end.map_or(f64::NAN, |end| {
                self.value_of(self.curve.value_near(end, hint))
            });
        }
        self.value_of(extension)
    }

    #[inline]
    fn value_of(&self, extension: f64) -> f64 {
        if extension <= self.infinite {
            return f64::INFINITY;
        }
        from_coordinate(self.quantity, self.law.dioptres(extension))
    }

    fn reading_near(&self, position: f64, hint: &mut usize) -> Reading {
        let mut extension = self.curve.value_near(position, hint);
        let mut at = position;
        if extension.is_nan() {
            let Some(end) = self.beyond_the_table(position) else {
                return Reading::NONE;
            };
            at = end;
            extension = self.curve.value_near(end, hint);
        }
        let band = self.band_near(at, hint);
        let end = |extension: f64| {
            if extension <= self.infinite {
                return f64::INFINITY;
            }
            from_coordinate(self.quantity, self.law.dioptres_at_most(extension))
        };
        let (a, b) = (end(extension - band), end(extension + band));
        Reading {
            value: self.value_of(extension),
            low: a.min(b),
            high: a.max(b),
            region: self.region(position, extension),
        }
    }

    fn region(&self, position: f64, extension: f64) -> Region {
        let (Some(first), Some(last)) = (self.positions.first(), self.positions.last()) else {
            return Region::Outside;
        };
        if first - END_TOLERANCE <= position && position <= last + END_TOLERANCE {
            Region::Marked
        } else if extension <= self.infinite {
            Region::PastInfinity
        } else {
            Region::Extrapolated
        }
    }

    fn band_near(&self, position: f64, hint: &mut usize) -> f64 {
        // Sets the hint to the interval, unless it is there already.
        let here = |k: usize| match (self.curve.x().get(k), self.curve.x().get(k + 1)) {
            (Some(a), Some(b)) => *a <= position && position <= *b,
            _ => false,
        };
        if !here(*hint) {
            self.curve.value_near(position, hint);
        }
        let x = |k: usize| self.curve.x().get(k).copied().unwrap_or(f64::NAN);
        let band = |k: usize| self.band.get(k).copied().unwrap_or(f64::NAN);
        let t = (position - x(*hint)) / (x(*hint + 1) - x(*hint));
        band(*hint) + t * (band(*hint + 1) - band(*hint))
    }

    /// The end of the table that a position beyond it counts as.
    #[cold]
    fn beyond_the_table(&self, position: f64) -> Option<f64> {
        let ends = [self.curve.x().first(), self.curve.x().last()];
        let values = [self.values.first(), self.values.last()];
        ends.into_iter().zip(values).find_map(|(x, value)| {
            let (x, value) = (*x?, *value?);
            let reach = match (self.shape, value == f64::INFINITY) {
                (Shape::Marks, true) => scale::PAST_INFINITY,
                (Shape::Marks, false) => END_TOLERANCE,
                // The table of a fitted curve holds the margins.
                _ => return None,
            };
            ((position - x).abs() <= reach).then_some(x)
        })
    }

    /// The [`coordinate`] at a ring position and its slope per unit of travel; NaN outside the marks. `hint` is the
    /// interval to look in first; start with 0 and pass it on.
    #[inline]
    pub fn coordinate_and_slope(&self, position: f64, hint: &mut usize) -> (f64, f64) {
        let marked = match (self.positions.first(), self.positions.last()) {
            (Some(first), Some(last)) => *first <= position && position <= *last,
            _ => false,
        };
        if !marked {
            return (f64::NAN, f64::NAN);
        }
        let extension = self.curve.value_near(position, hint);
        let slope = self.curve.slope_near(position, hint);
        (
            self.law.dioptres(extension),
            self.law.rate(extension) * slope,
        )
    }

    /// The ring position of a value, to 1e-12 of travel where the curve is not flat; NaN for a value off the scale. A
    /// value beyond an end mark by no more than 0.5 % of travel is on it.
    pub fn position_of(&self, value: f64) -> f64 {
        let y = coordinate(self.quantity, value);
        if y.is_nan() || value <= 0.0 {
            return f64::NAN;
        }
        let extension = self.law.extension(y);
        // Beyond its reach the law folds back.
        if (self.law.dioptres(extension) - y).abs() > 1e-9 * y.abs() {
            return f64::NAN;
        }
        let position = self.curve.position_of(extension);
        if position.is_nan() && self.shape == Shape::Marks {
            return self.position_beyond(extension);
        }
        position
    }

    fn position_beyond(&self, extension: f64) -> f64 {
        let knots = self.curve.y();
        let (Some(first), Some(last)) = (knots.first(), knots.last()) else {
            return f64::NAN;
        };
        // The curve may be level at its end: then a rounding error of the value must not lose it.
        let rounding = 1e-12 * (last - first).abs();
        let ends = [(0, first), (knots.len() - 1, last)];
        ends.into_iter()
            .find_map(|(k, y)| {
                let slope = self.curve.slopes().get(k)?.abs();
                let near = (extension - y).abs() <= (END_TOLERANCE * slope).max(rounding);
                near.then(|| self.curve.x().get(k).copied())?
            })
            .unwrap_or(f64::NAN)
    }

    /// By rising position: each mark's position minus what the other marks predict for its value, in ring travel.
    /// For a curve through the marks, ends are not judged and left out.
    pub fn left_out(&self) -> &[f64] {
        &self.left_out
    }

    /// The mark that the curve does not follow, as its place by rising position: an inner mark of seven or more that
    /// lies more than 1 % of travel, and more than eight reading errors, from where all others agree it should be.
    /// [`RingCurve::left_out`] holds how far it is off.
    pub fn set_aside(&self) -> Option<usize> {
        self.set_aside
    }
}

/// A mark by its coordinate.
struct Knot {
    position: f64,
    y: f64,
    mark: usize,
    value: f64,
}

/// The marks by rising position, if they make a scale.
fn sorted(quantity: ScaleQuantity, marks: &[(f64, f64)]) -> Result<Vec<Knot>, CurveError> {
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
        knots.push(Knot {
            position,
            y,
            mark,
            value,
        });
    }
    knots.sort_by(|a, b| a.position.total_cmp(&b.position));
    let pairs = || knots.iter().zip(knots.iter().skip(1));
    if let Some((a, b)) = pairs().find(|(a, b)| a.position == b.position) {
        return Err(CurveError::Repeated {
            first: a.mark.min(b.mark),
            second: a.mark.max(b.mark),
            position: a.position,
        });
    }
    let rises = pairs().filter(|(a, b)| a.y < b.y).count() * 2 >= knots.len() - 1;
    if let Some((a, b)) = pairs().find(|(a, b)| a.y == b.y || (a.y < b.y) != rises) {
        return Err(CurveError::NotMonotone {
            first: a.mark,
            second: b.mark,
            first_value: a.value,
            second_value: b.value,
        });
    }
    Ok(knots)
}

#[cfg(test)]
#[path = "ring_tests.rs"]
mod tests;
