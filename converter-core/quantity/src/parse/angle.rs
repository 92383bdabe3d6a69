//! Angles, also in degrees and minutes.

use nom::branch::alt;
use nom::bytes::complete::tag;
use nom::character::complete::{digit1, space0};
use nom::combinator::{all_consuming, map_opt, opt, verify};
use nom::sequence::{delimited, preceded, terminated};
use nom::{IResult, Parser};

use super::DecimalMark;
use super::number::{not_a_number, plain, sign, unsigned};
use crate::{Dimension, QuantityError, Unit};

/// Reads an angle; the unit in the answer is the one the text used.
///
/// A bare number is in the `default` unit. A unit behind the number wins (`12.5°`, `750 arcmin`, `0.2 rad`), and
/// degrees with minutes and seconds of arc (`12°30'`, `12° 30' 15"`) are degrees. Here `'` is a minute of arc.
pub fn angle(text: &str, default: Unit) -> Result<(f64, Unit), QuantityError> {
    angle_with(text, default, DecimalMark::Point)
}

/// Reads an angle with the decimal mark given; otherwise as [`angle`].
pub fn angle_with(
    text: &str,
    default: Unit,
    mark: DecimalMark,
) -> Result<(f64, Unit), QuantityError> {
    let trimmed = text.trim();
    let (unsigned_text, factor) = sign(trimmed).unwrap_or((trimmed, 1.0));
    if let Ok((_, degrees)) = all_consuming(degrees_minutes(mark)).parse(unsigned_text) {
        return Ok((factor * degrees, Unit::Degree));
    }
    let Ok((rest, size)) = unsigned(mark).parse(unsigned_text) else {
        return Err(not_a_number(text, trimmed, mark));
    };
    let unit = match rest.trim_start() {
        "" => Some(default),
        "'" | "′" | "’" => Some(Unit::ArcMinute),
        symbol => Unit::from_symbol(symbol),
    };
    match unit.filter(|unit| unit.dimension() == Dimension::Angle) {
        Some(unit) => Ok((factor * size, unit)),
        None if rest.starts_with(['.', ',']) => Err(not_a_number(text, rest, mark)),
        None => Err(QuantityError::in_text(
            text,
            rest.trim_start(),
            "a unit of angle",
            "write the unit as deg, arcmin or rad",
        )),
    }
}

/// `12°30'`, `12° 30' 15"`; minutes and seconds below 60.
fn degrees_minutes(mark: DecimalMark) -> impl FnMut(&str) -> IResult<&str, f64> {
    move |input| {
        let whole = map_opt(digit1, |digits: &str| digits.parse::<u32>().ok());
        let sixtieths = |mark| verify(plain(mark), |part: &f64| *part < 60.0);
        (
            terminated(whole, (space0, tag("°"))),
            delimited(space0, sixtieths(mark), alt((tag("'"), tag("′"), tag("’")))),
            opt(preceded(
                space0,
                terminated(sixtieths(mark), alt((tag("\""), tag("″"), tag("”")))),
            )),
        )
            .map(|(degrees, minutes, seconds)| {
                f64::from(degrees) + (minutes + seconds.unwrap_or(0.0) / 60.0) / 60.0
            })
            .parse(input)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn angles_as_people_write_them() {
        use Unit::{ArcMinute, Degree, Radian};
        for (text, default, value, unit) in [
            ("12.5", Degree, 12.5, Degree),
            ("12.5", Radian, 12.5, Radian),
            ("12.5°", Radian, 12.5, Degree),
            ("-12.5 deg", Radian, -12.5, Degree),
            ("−3°", Degree, -3.0, Degree),
            ("750'", Degree, 750.0, ArcMinute),
            ("750 arcmin", Degree, 750.0, ArcMinute),
            ("0.2rad", Degree, 0.2, Radian),
            ("12°30'", Radian, 12.5, Degree),
            ("-12° 30′", Radian, -12.5, Degree),
            ("12° 30' 36\"", Radian, 12.51, Degree),
            ("1e-3 rad", Degree, 0.001, Radian),
        ] {
            assert_eq!(angle(text, default), Ok((value, unit)), "{text}");
        }
        assert_eq!(
            angle_with("12,5°", Degree, DecimalMark::Comma),
            Ok((12.5, Degree))
        );
    }

    #[test]
    fn what_is_no_angle() {
        for text in [
            "", "°", "12 m", "12°70'", "12,5", "x", "inf", "12\"", "1.5°30'",
        ] {
            let error = angle(text, Unit::Degree).unwrap_err();
            assert!(error.to_string().contains(&format!("“{text}”")), "{error}");
        }
        assert!(angle("12", Unit::Metre).is_err());
        assert_eq!(angle("12 deg", Unit::One), Ok((12.0, Unit::Degree)));
    }
}
