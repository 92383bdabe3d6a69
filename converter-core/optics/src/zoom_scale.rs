//! The focus scale of a zoom that does not hold focus: another one at each focal length.
//!
//! At each focal length with marks the scale follows the law of focusing, as that of any lens ([`RingCurve`]). Between them
//! the ring position of one focus distance runs over ln(focal length) as a monotone cubic, as scipy's `PchipInterpolator`
//! gives it. What moves focus while a lens zooms moves the ring by little, so positions are smooth over focal length where
//! distances, which reach infinity at another position for each, are not.

use ringmark_model::ScaleQuantity;

use crate::curve::{CurveError, RingCurve, pchip_through};

/// By how much the focal lengths of the table may be left, as a part.
const ROUNDING: f64 = 1e-3;
/// Focal lengths nearer than this part of one another are one.
const SAME: f64 = 1e-9;
/// Steps after which a distance is as exact as a ring position is a number.
const STEPS: usize = 80;

/// Focus scales at several focal lengths.
#[derive(Debug, Clone)]
pub struct ZoomScale {
    /// ln(mm), rising.
    zoom: Vec<f64>,
    curves: Vec<RingCurve>,
    /// Dioptres that all of them reach, from far to near.
    reach: (f64, f64),
}

/// Why marks at several focal lengths give no scale.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ZoomScaleError {
    /// Columns that differ in length.
    #[error(
        "the columns have {positions}, {focal_lengths} and {distances} rows: expected as many in each"
    )]
    Lengths {
        /// Ring positions.
        positions: usize,
        /// Focal lengths.
        focal_lengths: usize,
        /// Distances.
        distances: usize,
    },
    /// A focal length that cannot be.
    #[error("row {row}: focal length {value} mm: expected a finite number above 0")]
    FocalLength {
        /// The row, from 1.
        row: usize,
        /// The number there.
        value: f64,
    },
    /// The marks at one focal length give no curve.
    #[error("at {focal_length} mm: {error}")]
    Curve {
        /// In millimetres.
        focal_length: f64,
        /// Why.
        error: CurveError,
    },
    /// No focus distance is within the marks of every focal length.
    #[error(
        "no focus distance is within the marks of every focal length: mark the same distances at each"
    )]
    Apart,
}

impl ZoomScale {
    /// The scale through marks: ring position 0 to 1, focal length in millimetres, focus distance in metres (+infinity is
    /// infinity), one mark a row, in any order. Each focal length needs the marks of a whole scale.
    pub fn new(
        positions: &[f64],
        focal_lengths: &[f64],
        distances: &[f64],
    ) -> Result<ZoomScale, ZoomScaleError> {
        if positions.len() != focal_lengths.len() || positions.len() != distances.len() {
            return Err(ZoomScaleError::Lengths {
                positions: positions.len(),
                focal_lengths: focal_lengths.len(),
                distances: distances.len(),
            });
        }
        let mut marks: Vec<(f64, (f64, f64))> = Vec::with_capacity(positions.len());
        for (row, (mm, mark)) in focal_lengths
            .iter()
            .zip(positions.iter().copied().zip(distances.iter().copied()))
            .enumerate()
        {
            if !(*mm > 0.0 && mm.is_finite()) {
                return Err(ZoomScaleError::FocalLength {
                    row: row + 1,
                    value: *mm,
                });
            }
            marks.push((*mm, mark));
        }
        marks.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut zoom, mut curves) = (Vec::new(), Vec::new());
        let mut reach = (0.0, f64::INFINITY);
        for group in marks.chunk_by(|a, b| (b.0 / a.0 - 1.0).abs() < SAME) {
            let Some((mm, _)) = group.first() else {
                continue;
            };
            let of_group: Vec<(f64, f64)> = group.iter().map(|(_, mark)| *mark).collect();
            let curve = RingCurve::from_marks(ScaleQuantity::FocusDistance, &of_group).map_err(
                |error| ZoomScaleError::Curve {
                    focal_length: *mm,
                    error,
                },
            )?;
            let dioptres = || curve.values().iter().map(|metres| 1.0 / metres);
            reach.0 = dioptres().fold(f64::INFINITY, f64::min).max(reach.0);
            reach.1 = dioptres().fold(0.0, f64::max).min(reach.1);
            zoom.push(mm.ln());
            curves.push(curve);
        }
        if curves.is_empty() || reach.0 >= reach.1 {
            return Err(ZoomScaleError::Apart);
        }
        Ok(ZoomScale {
            zoom,
            curves,
            reach,
        })
    }

    /// Nearest and farthest focus distance in metres that all focal lengths have marks for.
    pub fn reach(&self) -> (f64, f64) {
        (1.0 / self.reach.1, 1.0 / self.reach.0)
    }

    /// The ring position of a focus distance in metres (+infinity is infinity) at a focal length in millimetres; NaN beyond
    /// [`ZoomScale::reach`] and beyond the focal lengths with marks.
    pub fn position(&self, distance: f64, focal_length: f64) -> f64 {
        self.zoom_of(focal_length)
            .map_or(f64::NAN, |zoom| self.position_at(distance, zoom))
    }

    /// The focus distance in metres at a ring position and a focal length in millimetres. Past the infinity mark there is
    /// infinity, before the nearest mark, beyond the focal lengths with marks, and for numbers that are none there is NaN.
    pub fn distance(&self, position: f64, focal_length: f64) -> f64 {
        let Some(zoom) = self.zoom_of(focal_length) else {
            return f64::NAN;
        };
        let at = |dioptres: f64| self.position_at(1.0 / dioptres, zoom) - position;
        let (mut far, mut near) = self.reach;
        let (mut at_far, mut at_near) = (at(far), at(near));
        if at_far == 0.0 {
            return 1.0 / far;
        }
        if at_far.is_nan() || at_near.is_nan() {
            return f64::NAN;
        }
        if at_far.signum() == at_near.signum() && at_near != 0.0 {
            // Off the scale: beyond its far end, which may be infinity, or before its near end.
            let past_far = at_far.abs() < at_near.abs();
            return if past_far && far == 0.0 {
                f64::INFINITY
            } else {
                f64::NAN
            };
        }
        // Secants, halved on the side that stays (the Illinois rule), inside a shrinking bracket.
        for _ in 0..STEPS {
            let next = near - at_near * (near - far) / (at_near - at_far);
            let at_next = at(next);
            if at_next == 0.0 || (near - far).abs() <= 1e-13 {
                return 1.0 / next;
            }
            if at_next.signum() == at_near.signum() {
                (near, at_near) = (next, at_next);
                at_far *= 0.5;
            } else {
                (far, at_far) = (near, at_near);
                (near, at_near) = (next, at_next);
            }
        }
        1.0 / near
    }

    fn position_at(&self, distance: f64, zoom: f64) -> f64 {
        pchip_through(&self.zoom, zoom, |k| {
            self.curves
                .get(k)
                .map_or(f64::NAN, |curve| curve.position_of(distance))
        })
    }

    /// ln of a focal length within those that have marks.
    fn zoom_of(&self, focal_length: f64) -> Option<f64> {
        let (first, last) = (*self.zoom.first()?, *self.zoom.last()?);
        let asked = focal_length.ln();
        (asked >= first - ROUNDING && asked <= last + ROUNDING).then(|| asked.clamp(first, last))
    }
}

#[cfg(test)]
#[path = "zoom_scale_tests.rs"]
mod tests;
