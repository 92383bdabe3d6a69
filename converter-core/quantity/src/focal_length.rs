//! Three focal lengths that are three different facts.

use crate::{QuantityError, Unit};

macro_rules! focal_length {
    ($(#[$doc:meta])* $name:ident, $quantity:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// In millimetres, above zero and finite.
            pub fn from_mm(mm: f64) -> Result<Self, QuantityError> {
                if mm > 0.0 && mm.is_finite() {
                    Ok(Self(mm))
                } else {
                    Err(QuantityError::Value {
                        quantity: $quantity,
                        value: mm,
 unit: Unit::Millimetre,
                        expected: "millimetres above 0",
                        help: "leave out what is not recorded",
                    })
                }
            }

            /// In millimetres.
            pub const fn mm(self) -> f64 {
                self.0
            }
        }
    };
}

focal_length!(
    /// What is engraved on the lens: a name as much as a measure.
    NominalFocalLength,
    "nominal focal length"
);
focal_length!(
    /// Distance from the projection centre to the image plane of the pinhole model: what the field of view follows from.
    /// It changes with focus.
    PinholeFocalLength,
    "pinhole focal length"
);
focal_length!(
    /// The focal length of thick-lens optics, from the rear principal plane to the focal plane.
    EffectiveFocalLength,
    "effective focal length"
);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn keeps_millimetres_and_refuses_the_rest() {
        assert_eq!(NominalFocalLength::from_mm(50.0).unwrap().mm(), 50.0);
        assert_eq!(PinholeFocalLength::from_mm(51.3).unwrap().mm(), 51.3);
        assert_eq!(EffectiveFocalLength::from_mm(49.8).unwrap().mm(), 49.8);
        for value in [0.0, -50.0, f64::NAN, f64::INFINITY] {
            let said = NominalFocalLength::from_mm(value).unwrap_err().to_string();
            assert!(said.contains("nominal focal length"), "{said}");
        }
    }
}
