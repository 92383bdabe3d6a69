//! How wide the band of a scale is, in depths of field.

use super::READING_ERROR;
use crate::curve::RingCurve;

/// Places at which the band is looked at, even in dioptres from close focus to infinity.
const PLACES: u32 = 96;

/// Power of the mean that stands for the maximum where marks are compared: a maximum has plateaus, on which no single mark
/// seems to help.
const POWER: i32 = 40;

/// A lens at the bench.
pub struct Bench<'a> {
    /// Nearest distance in metres that is to be on the scale.
    pub near: f64,
    /// Focal length in metres, if known.
    pub focal_length: Option<f64>,
    /// Full depth of field at a distance in metres, in dioptres.
    pub depth: &'a dyn Fn(f64) -> Option<f64>,
}

/// The widest place of the band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Widest {
    /// Half width of the 95 % band in full depths of field; infinite where the scale does not reach or tells nothing.
    pub depths: f64,
    /// Where that is, in metres.
    pub metres: f64,
}

/// A band over the whole scale.
pub(super) struct Band {
    pub widest: Widest,
    /// Little above the average of wide places, little below the widest: what a good mark brings down.
    pub smooth: f64,
}

impl Band {
    /// Of a scale that tells nothing at a distance.
    pub fn nothing_at(metres: f64) -> Band {
        Band {
            widest: Widest {
                depths: f64::INFINITY,
                metres,
            },
            smooth: f64::INFINITY,
        }
    }
}

impl Bench<'_> {
    /// The band of a scale, as wide as a reading error of `error` makes it.
    pub(super) fn band(&self, curve: &RingCurve, error: f64) -> Band {
        let wider = (error / curve.reading_error()).max(1.0);
        let mut widest = Widest {
            depths: 0.0,
            metres: self.near,
        };
        let mut sum = 0.0;
        for place in 0..=PLACES {
            let y = (1.0 - f64::from(place) / f64::from(PLACES)) / self.near;
            let metres = if y > 0.0 { 1.0 / y } else { f64::INFINITY };
            let reading = curve.reading_at(curve.position_of(metres));
            let half = (1.0 / reading.low - y).max(y - 1.0 / reading.high);
            let depth = (self.depth)(metres).unwrap_or(f64::NAN);
            let depths = wider * half / depth;
            // Off the scale there is no band: nothing is wider.
            if depths.is_nan() {
                return Band::nothing_at(metres);
            }
            sum += depths.powi(POWER);
            if depths > widest.depths {
                widest = Widest { depths, metres };
            }
        }
        Band {
            widest,
            smooth: (sum / f64::from(PLACES + 1)).powf(1.0 / f64::from(POWER)),
        }
    }

    /// The reading error to plan with.
    pub(super) fn reading_error(curve: Option<&RingCurve>) -> f64 {
        curve.map_or(READING_ERROR, RingCurve::reading_error)
    }
}
