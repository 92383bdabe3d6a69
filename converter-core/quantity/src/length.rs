//! A length, whatever unit it came in.

use crate::{Conversion, QuantityError, Unit};

/// A length, kept in metres. Offsets may be negative.
///
/// The `from_…` constructors take numbers the program knows to be finite; [`Length::of`] is the one for data.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Length {
    metres: f64,
}

impl Length {
    /// A length in metres.
    pub const fn from_metres(metres: f64) -> Self {
        Self { metres }
    }

    /// A length in millimetres.
    pub const fn from_mm(mm: f64) -> Self {
        Self {
            metres: mm / 1000.0,
        }
    }

    /// A length in inches.
    pub const fn from_inches(inches: f64) -> Self {
        Self {
            metres: inches * 127.0 / 5000.0,
        }
    }

    /// A length in decimal feet.
    pub const fn from_feet(feet: f64) -> Self {
        Self {
            metres: feet * 381.0 / 1250.0,
        }
    }

    /// A finite length in any unit of length; dioptres are refused at 0, which is infinity.
    pub fn of(value: f64, unit: Unit) -> Result<Self, QuantityError> {
        let metres = Conversion::between(unit, Unit::Metre)?.apply(value);
        if metres.is_finite() {
            Ok(Self { metres })
        } else {
            Err(QuantityError::Value {
                quantity: "length",
                value,
                unit,
                expected: "a finite number",
                help: "infinity is a focus distance, not a length; leave out what is not recorded",
            })
        }
    }

    /// In metres.
    pub const fn metres(self) -> f64 {
        self.metres
    }

    /// In millimetres.
    pub const fn mm(self) -> f64 {
        self.metres * 1000.0
    }

    /// In inches.
    pub const fn inches(self) -> f64 {
        self.metres * 5000.0 / 127.0
    }

    /// In decimal feet.
    pub const fn feet(self) -> f64 {
        self.metres * 1250.0 / 381.0
    }

    /// In any unit of length.
    pub fn in_unit(self, unit: Unit) -> Result<f64, QuantityError> {
        Ok(Conversion::between(Unit::Metre, unit)?.apply(self.metres))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    // Engraved marks in metres, computed from 1 in = 25.4 mm by hand.
    #[test]
    fn engraved_marks() {
        for (inches, metres) in [
            (12.0, 0.3048),
            (30.0, 0.762),
            (39.5, 1.0033),
            (60.0, 1.524),
            (82.0, 2.0828),
            (120.0, 3.048),
            (300.0, 7.62),
        ] {
            assert!((Length::from_inches(inches).metres() - metres).abs() < 1e-15);
            assert_eq!(
                Length::from_inches(inches),
                Length::of(inches, Unit::FeetInches).unwrap()
            );
        }
    }

    #[test]
    fn constructors_agree_with_units() {
        assert_eq!(
            Length::from_mm(50.0),
            Length::of(50.0, Unit::Millimetre).unwrap()
        );
        assert_eq!(Length::from_feet(5.6), Length::of(5.6, Unit::Foot).unwrap());
        assert_eq!(Length::from_feet(5.0).inches(), 60.0);
        assert_eq!(Length::from_mm(50.0).mm(), 50.0);
        assert_eq!(Length::from_metres(0.5).in_unit(Unit::Dioptre), Ok(2.0));
    }

    #[test]
    fn refuses_what_is_no_length() {
        for (value, unit) in [
            (f64::NAN, Unit::Metre),
            (f64::INFINITY, Unit::Metre),
            (0.0, Unit::Dioptre),
            (1.0, Unit::Degree),
        ] {
            assert!(Length::of(value, unit).is_err(), "{value} {unit:?}");
        }
        assert!(Length::from_metres(1.0).in_unit(Unit::TStop).is_err());
    }
}
