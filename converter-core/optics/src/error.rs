//! What cannot be computed, and why.

use ringmark_quantity::{DistanceReference, QuantityError};

/// Why a formula has no result for these numbers.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OpticsError {
    /// A number that the formula cannot take.
    #[error("{quantity} {value}{unit}: expected {expected}")]
    Value {
        /// The quantity, in words.
        quantity: &'static str,
        /// The number.
        value: f64,
        /// Its unit with a space before it, or nothing.
        unit: &'static str,
        /// What is possible.
        expected: &'static str,
    },
    /// A result that is no such quantity.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// A distance measured from a point of which the formula does not know where it is.
    #[error(
        "focus distance from {}: expected a distance from the image plane or the entrance pupil; convert it first",
        found.name()
    )]
    Reference {
        /// What it is measured from.
        found: DistanceReference,
    },
    /// A point of the lens of which nobody said where it is.
    #[error("{}", match point {
        DistanceReference::Unstated => "the source does not say what the distance is measured from".to_owned(),
        point => format!("how far the {} is from the image plane is not known", point.name()),
    })]
    PointUnknown {
        /// The point.
        point: DistanceReference,
    },
    /// A subject inside the lens.
    #[error(
        "focus distance {metres} m from {} lies behind the {}: check unit and reference",
        from.name(),
        to.name()
    )]
    Behind {
        /// The distance in metres.
        metres: f64,
        /// What it is measured from.
        from: DistanceReference,
        /// What it was to be measured from.
        to: DistanceReference,
    },
    /// A lens does not form an image of an object that near.
    #[error(
        "focus distance {metres} m from {}: no image is formed nearer than {nearest:.3} m; check unit and focal length",
        reference.name()
    )]
    TooNear {
        /// The distance in metres.
        metres: f64,
        /// What it is measured from.
        reference: DistanceReference,
        /// The limit of the lens in metres, from the same point.
        nearest: f64,
    },
    /// More light comes out than went in.
    #[error(
        "T{t_stop} with f/{f_number}: {percent} % of the light would pass; check which of the two columns is which"
    )]
    TransmittanceAboveOne {
        /// The T-stop.
        t_stop: f64,
        /// The f-number.
        f_number: f64,
        /// Transmittance in per cent.
        percent: f64,
    },
    /// Two points of the picture would fall on one.
    #[error(
        "the distortion folds at radius {fold:.6} {unit}: radius {radius:.6} lies beyond; check coefficients, direction and normalisation"
    )]
    Folds {
        /// Radius at which it folds, on the side the coefficients are applied to.
        fold: f64,
        /// The radius asked for. For an inverse it is on the side the coefficients give.
        radius: f64,
        /// The unit of both: the normalisation of the coefficients.
        unit: &'static str,
    },
    /// Columns of one table that differ in length.
    #[error("{what} has {found} values: expected {expected}, one a frame")]
    Lengths {
        /// The column.
        what: &'static str,
        /// Its length.
        found: usize,
        /// Length of the first column.
        expected: usize,
    },
}

/// `value` if it is above 0 and finite.
pub(crate) fn positive(
    quantity: &'static str,
    value: f64,
    unit: &'static str,
) -> Result<f64, OpticsError> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(OpticsError::Value {
            quantity,
            value,
            unit,
            expected: "a finite number above 0",
        })
    }
}

/// Checks that a column has one value a frame.
pub(crate) fn same_length(
    what: &'static str,
    found: usize,
    expected: usize,
) -> Result<(), OpticsError> {
    if found == expected {
        Ok(())
    } else {
        Err(OpticsError::Lengths {
            what,
            found,
            expected,
        })
    }
}
