//! A focus distance: never a bare number.

use crate::{Conversion, Length, QuantityError, Unit};

/// What a focus distance is measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum DistanceReference {
    /// The image plane (film or sensor plane): what barrels are engraved for.
    ImagePlane,
    /// The entrance pupil.
    EntrancePupil,
    /// The front vertex of the lens.
    FrontVertex,
    /// The source does not say.
    #[default]
    Unstated,
}

impl DistanceReference {
    /// Every reference.
    pub const ALL: [Self; 4] = [
        Self::ImagePlane,
        Self::EntrancePupil,
        Self::FrontVertex,
        Self::Unstated,
    ];

    /// The name in files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::ImagePlane => "image-plane",
            Self::EntrancePupil => "entrance-pupil",
            Self::FrontVertex => "front-vertex",
            Self::Unstated => "unstated",
        }
    }

    /// The reference of a name; case, and space or `_` for `-`, do not matter.
    pub fn from_name(name: &str) -> Option<Self> {
        let name = name.trim();
        Self::ALL.into_iter().find(|reference| {
            let own = reference.name();
            own.len() == name.len()
                && own
                    .bytes()
                    .zip(name.bytes())
                    .all(|(own, given)| match given {
                        b' ' | b'_' => own == b'-',
                        _ => own == given.to_ascii_lowercase(),
                    })
        })
    }
}

/// A distance above zero, or infinity, with what it is measured from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FocusDistance {
    /// Above zero; `+inf` for infinity; never `NaN`.
    metres: f64,
    reference: DistanceReference,
}

impl FocusDistance {
    /// A distance in metres; `+inf` is infinity. Zero, negative numbers and `NaN` are refused.
    pub fn new(metres: f64, reference: DistanceReference) -> Result<Self, QuantityError> {
        Self::of(metres, Unit::Metre, reference)
    }

    /// A distance in any unit of length; 0 dioptres is infinity.
    pub fn of(value: f64, unit: Unit, reference: DistanceReference) -> Result<Self, QuantityError> {
        let metres = Conversion::between(unit, Unit::Metre)?.apply(value);
        if metres > 0.0 {
            Ok(Self { metres, reference })
        } else {
            Err(QuantityError::Value {
                quantity: "focus distance",
                value,
                unit,
                expected: "a number above 0, or infinity",
                help: "leave out what is not recorded; a ring past its infinity mark has no distance",
            })
        }
    }

    /// Infinity.
    pub const fn infinity(reference: DistanceReference) -> Self {
        Self {
            metres: f64::INFINITY,
            reference,
        }
    }

    /// What it is measured from.
    pub const fn reference(self) -> DistanceReference {
        self.reference
    }

    /// In metres; `+inf` for infinity.
    pub const fn metres(self) -> f64 {
        self.metres
    }

    /// The length, unless it is infinity.
    pub fn length(self) -> Option<Length> {
        self.metres
            .is_finite()
            .then(|| Length::from_metres(self.metres))
    }

    /// In dioptres, 1 / metres; 0 for infinity.
    pub const fn dioptres(self) -> f64 {
        1.0 / self.metres
    }

    /// Whether it is infinity.
    pub const fn is_infinite(self) -> bool {
        self.metres.is_infinite()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn names_read_back() {
        for reference in DistanceReference::ALL {
            assert_eq!(
                DistanceReference::from_name(reference.name()),
                Some(reference)
            );
        }
        assert_eq!(
            DistanceReference::from_name(" Image plane"),
            Some(DistanceReference::ImagePlane)
        );
        assert_eq!(
            DistanceReference::from_name("FRONT_VERTEX"),
            Some(DistanceReference::FrontVertex)
        );
        for wrong in [
            "",
            "image",
            "imageplane",
            "image-plane-",
            "nodal-point",
            "image plané",
        ] {
            assert_eq!(DistanceReference::from_name(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn infinity_is_a_distance() {
        let far = FocusDistance::of(0.0, Unit::Dioptre, DistanceReference::ImagePlane).unwrap();
        assert_eq!(far, FocusDistance::infinity(DistanceReference::ImagePlane));
        assert_eq!(
            far,
            FocusDistance::new(f64::INFINITY, DistanceReference::ImagePlane).unwrap()
        );
        assert_eq!(
            (far.metres(), far.dioptres(), far.length()),
            (f64::INFINITY, 0.0, None)
        );
        assert!(far.is_infinite());
    }

    #[test]
    fn finite_distance() {
        let near =
            FocusDistance::of(500.0, Unit::Millimetre, DistanceReference::EntrancePupil).unwrap();
        assert_eq!(near.length(), Some(Length::from_metres(0.5)));
        assert_eq!(near.dioptres(), 2.0);
        assert_eq!(near.reference(), DistanceReference::EntrancePupil);
        assert_ne!(
            near,
            FocusDistance::new(0.5, DistanceReference::FrontVertex).unwrap()
        );
    }

    #[test]
    fn refuses_zero_negative_and_not_recorded() {
        for value in [0.0, -0.0, -1.5, f64::NAN, f64::NEG_INFINITY] {
            assert!(
                FocusDistance::new(value, DistanceReference::Unstated).is_err(),
                "{value}"
            );
        }
    }
}
