//! An angle, whatever unit it came in.

use crate::{Conversion, QuantityError, Unit};

/// An angle, kept in degrees.
///
/// The `from_…` constructors take numbers the program knows to be finite; [`Angle::of`] is the one for data.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Angle {
    degrees: f64,
}

impl Angle {
    /// An angle in degrees.
    pub const fn from_degrees(degrees: f64) -> Self {
        Self { degrees }
    }

    /// An angle in minutes of arc, 60 to the degree.
    pub const fn from_arc_minutes(minutes: f64) -> Self {
        Self {
            degrees: minutes / 60.0,
        }
    }

    /// An angle in radians.
    pub const fn from_radians(radians: f64) -> Self {
        Self {
            degrees: radians / (std::f64::consts::PI / 180.0),
        }
    }

    /// A finite angle in any unit of angle.
    pub fn of(value: f64, unit: Unit) -> Result<Self, QuantityError> {
        let degrees = Conversion::between(unit, Unit::Degree)?.apply(value);
        if degrees.is_finite() {
            Ok(Self { degrees })
        } else {
            Err(QuantityError::Value {
                quantity: "angle",
                value,
                unit,
                expected: "a finite number",
                help: "leave out what is not recorded",
            })
        }
    }

    /// In degrees.
    pub const fn degrees(self) -> f64 {
        self.degrees
    }

    /// In minutes of arc.
    pub const fn arc_minutes(self) -> f64 {
        self.degrees * 60.0
    }

    /// In radians.
    pub const fn radians(self) -> f64 {
        self.degrees * (std::f64::consts::PI / 180.0)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn units_agree() {
        assert_eq!(Angle::from_degrees(180.0).radians(), std::f64::consts::PI);
        assert_eq!(Angle::from_arc_minutes(750.0).degrees(), 12.5);
        assert_eq!(Angle::from_degrees(12.5).arc_minutes(), 750.0);
        assert_eq!(
            Angle::of(0.3, Unit::Radian).unwrap(),
            Angle::from_radians(0.3)
        );
    }

    #[test]
    fn refuses_what_is_no_angle() {
        assert!(Angle::of(f64::NAN, Unit::Degree).is_err());
        assert!(Angle::of(f64::INFINITY, Unit::Degree).is_err());
        assert!(Angle::of(1.0, Unit::Metre).is_err());
    }
}
