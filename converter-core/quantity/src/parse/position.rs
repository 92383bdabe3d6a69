//! Ring positions.

use nom::Parser;

use super::DecimalMark;
use super::number::{not_a_number, sign, unsigned};
use crate::{QuantityError, Unit};

/// Reads a ring position: a finite number, and the unit if the text says one (`50 %`, `140°`, `31000 counts`).
///
/// A bare number has no unit of its own: what it means depends on the ring's scale ([`crate::RingScale`]).
pub fn position(text: &str) -> Result<(f64, Option<Unit>), QuantityError> {
    position_with(text, DecimalMark::Point)
}

/// Reads a ring position with the decimal mark given; otherwise as [`position`].
pub fn position_with(text: &str, mark: DecimalMark) -> Result<(f64, Option<Unit>), QuantityError> {
    let trimmed = text.trim();
    let (unsigned_text, factor) = sign(trimmed).unwrap_or((trimmed, 1.0));
    let Ok((rest, size)) = unsigned(mark).parse(unsigned_text) else {
        return Err(not_a_number(text, trimmed, mark));
    };
    let symbol = rest.trim_start();
    if symbol.is_empty() {
        return Ok((factor * size, None));
    }
    match Unit::from_symbol(symbol) {
        Some(unit @ (Unit::Percent | Unit::Degree | Unit::Count | Unit::Ratio)) => {
            Ok((factor * size, Some(unit)))
        }
        _ if symbol.starts_with(['.', ',']) => Err(not_a_number(text, symbol, mark)),
        _ => Err(QuantityError::in_text(
            text,
            symbol,
            "a unit of ring position",
            "write the unit as %, deg or count, or none",
        )),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn positions_as_people_write_them() {
        for (text, value, unit) in [
            ("0.5025", 0.5025, None),
            ("-0.01", -0.01, None),
            ("50 %", 50.0, Some(Unit::Percent)),
            ("50%", 50.0, Some(Unit::Percent)),
            ("140°", 140.0, Some(Unit::Degree)),
            ("31000", 31_000.0, None),
            ("31000 counts", 31_000.0, Some(Unit::Count)),
        ] {
            assert_eq!(position(text), Ok((value, unit)), "{text}");
        }
        assert_eq!(position_with("0,5", DecimalMark::Comma), Ok((0.5, None)));
    }

    #[test]
    fn what_is_no_position() {
        for text in [
            "",
            "%",
            "50 m",
            "0,5",
            "inf",
            "∞",
            "nan",
            "5'6\"",
            "50 arcmin",
        ] {
            let error = position(text).unwrap_err();
            assert!(error.to_string().contains(&format!("“{text}”")), "{error}");
        }
    }
}
