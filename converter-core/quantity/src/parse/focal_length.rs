//! Focal lengths.

use super::{DecimalMark, length_with};
use crate::{Conversion, QuantityError, Unit};

/// Reads a focal length above 0, `50`, `50mm` or `5 cm`, and gives millimetres; a bare number is in millimetres.
pub fn focal_length(text: &str) -> Result<f64, QuantityError> {
    focal_length_with(text, DecimalMark::Point)
}

/// Reads a focal length with the decimal mark given; otherwise as [`focal_length`].
pub fn focal_length_with(text: &str, mark: DecimalMark) -> Result<f64, QuantityError> {
    let (value, unit) = length_with(text, Unit::Millimetre, mark)?;
    let mm = Conversion::between(unit, Unit::Millimetre)?.apply(value);
    if mm > 0.0 && mm.is_finite() && unit != Unit::Dioptre {
        Ok(mm)
    } else {
        Err(QuantityError::in_text(
            text,
            text.trim(),
            "a focal length above 0",
            "write millimetres, such as 50; leave out what is not recorded",
        ))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn focal_lengths_as_people_write_them() {
        for (text, mm) in [
            ("50", 50.0),
            ("50mm", 50.0),
            (" 50.5 mm", 50.5),
            ("5 cm", 50.0),
            ("0.05 m", 50.0),
            ("2 in", 50.8),
        ] {
            assert_eq!(focal_length(text), Ok(mm), "{text}");
        }
        assert_eq!(focal_length_with("50,5 mm", DecimalMark::Comma), Ok(50.5));
    }

    #[test]
    fn what_is_no_focal_length() {
        for text in [
            "0", "-50", "inf", "∞", "", "2 D", "50 T", "2\"", "24-70", "50,5",
        ] {
            let error = focal_length(text).unwrap_err();
            assert!(error.to_string().contains(&format!("“{text}”")), "{error}");
        }
    }
}
