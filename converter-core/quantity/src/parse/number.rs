//! Numbers, fractions and infinity.

use std::borrow::Cow;

use nom::branch::alt;
use nom::bytes::complete::{tag, tag_no_case};
use nom::character::complete::{char, digit1, one_of, space0};
use nom::combinator::{map_opt, opt, recognize, value, verify};
use nom::sequence::preceded;
use nom::{IResult, Parser};

use crate::QuantityError;

/// The character between the whole part and the decimals. The other one is refused, never skipped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum DecimalMark {
    /// `1.5`
    #[default]
    Point,
    /// `1,5`
    Comma,
}

impl DecimalMark {
    fn as_char(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }
}

/// Vulgar fractions with a code point of their own.
const VULGAR: [(&str, f64); 15] = [
    ("½", 1.0 / 2.0),
    ("⅓", 1.0 / 3.0),
    ("⅔", 2.0 / 3.0),
    ("¼", 1.0 / 4.0),
    ("¾", 3.0 / 4.0),
    ("⅛", 1.0 / 8.0),
    ("⅜", 3.0 / 8.0),
    ("⅝", 5.0 / 8.0),
    ("⅞", 7.0 / 8.0),
    ("⅕", 1.0 / 5.0),
    ("⅖", 2.0 / 5.0),
    ("⅗", 3.0 / 5.0),
    ("⅘", 4.0 / 5.0),
    ("⅙", 1.0 / 6.0),
    ("⅚", 5.0 / 6.0),
];

/// Reads a number with a decimal point: `1.5`, `-0.25`, `−3` (typographic minus), `1e-3`, `inf`, `∞`, `-inf`.
///
/// `NaN`, the empty text, digit groups and numbers beyond the range of 64-bit floats are errors.
pub fn number(text: &str) -> Result<f64, QuantityError> {
    number_with(text, DecimalMark::Point)
}

/// Reads a number with the decimal mark given; otherwise as [`number`].
pub fn number_with(text: &str, mark: DecimalMark) -> Result<f64, QuantityError> {
    // Nearly every cell is this.
    if mark == DecimalMark::Point
        && let Some(plain) = digits_with_point(text)
    {
        return Ok(plain);
    }
    let trimmed = text.trim();
    match signed(mark).parse(trimmed) {
        Ok(("", read)) => Ok(read),
        Ok((rest, _)) => Err(not_a_number(text, rest, mark)),
        Err(_) => Err(not_a_number(text, trimmed, mark)),
    }
}

/// The number that the standard parser reads; its words (`nan`, `inf`) and its infinity for overflow are left out.
#[inline]
pub(super) fn digits_with_point(text: &str) -> Option<f64> {
    let first = match text.as_bytes() {
        [b'-', first, ..] | [first, ..] => first,
        [] => return None,
    };
    if !first.is_ascii_digit() {
        return None;
    }
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

/// The error for `part` of `text`, where a number or its end should be.
#[cold]
pub(super) fn not_a_number(text: &str, part: &str, mark: DecimalMark) -> QuantityError {
    let other = match mark {
        DecimalMark::Point => ',',
        DecimalMark::Comma => '.',
    };
    let help = if text.trim().is_empty() {
        "leave out what is not recorded"
    } else if text.contains(other) {
        match mark {
            DecimalMark::Point => {
                "write a decimal point, or say that the text has decimal commas; no digit groups"
            }
            DecimalMark::Comma => {
                "write a decimal comma, or say that the text has decimal points; no digit groups"
            }
        }
    } else if part.to_ascii_lowercase().starts_with("nan") {
        "leave out what is not recorded"
    } else if part.starts_with(|first: char| first.is_ascii_digit()) {
        "the number is beyond 1.8e308: check it"
    } else {
        "write digits, such as 1.5, or inf for infinity"
    };
    QuantityError::in_text(text, part, "a number", help)
}

/// A number with an optional sign; infinity too.
pub(super) fn signed<'a>(
    mark: DecimalMark,
) -> impl Parser<&'a str, Output = f64, Error = nom::error::Error<&'a str>> {
    (opt(sign), alt((infinity, unsigned(mark)))).map(|(sign, size)| sign.unwrap_or(1.0) * size)
}

/// `+` or a minus, ASCII or typographic.
pub(super) fn sign(input: &str) -> IResult<&str, f64> {
    alt((value(1.0, char('+')), value(-1.0, one_of("-−–")))).parse(input)
}

/// The ways to write infinity.
pub(super) fn infinity(input: &str) -> IResult<&str, f64> {
    value(
        f64::INFINITY,
        alt((tag("∞"), tag_no_case("infinity"), tag_no_case("inf"))),
    )
    .parse(input)
}

/// Digits with at most one decimal mark and an exponent; always finite.
pub(super) fn unsigned<'a>(
    mark: DecimalMark,
) -> impl Parser<&'a str, Output = f64, Error = nom::error::Error<&'a str>> {
    map_opt(
        recognize((
            decimal(mark),
            opt((one_of("eE"), opt(one_of("+-")), digit1)),
        )),
        move |digits: &str| to_float(digits, mark),
    )
}

/// [`unsigned`] without an exponent.
pub(super) fn plain<'a>(
    mark: DecimalMark,
) -> impl Parser<&'a str, Output = f64, Error = nom::error::Error<&'a str>> {
    map_opt(decimal(mark), move |digits: &str| to_float(digits, mark))
}

fn decimal<'a>(
    mark: DecimalMark,
) -> impl Parser<&'a str, Output = &'a str, Error = nom::error::Error<&'a str>> {
    let dot = mark.as_char();
    recognize(alt((
        (digit1, opt((char(dot), opt(digit1)))).map(|_| ()),
        (char(dot), digit1).map(|_| ()),
    )))
}

fn to_float(digits: &str, mark: DecimalMark) -> Option<f64> {
    let digits = match mark {
        DecimalMark::Point => Cow::Borrowed(digits),
        DecimalMark::Comma => Cow::Owned(digits.replace(',', ".")),
    };
    digits
        .parse()
        .ok()
        .filter(|number: &f64| number.is_finite())
}

/// A fraction below 1: `½`, or `1/2` with a denominator up to 64.
pub(super) fn fraction(input: &str) -> IResult<&str, f64> {
    alt((vulgar, slashed)).parse(input)
}

pub(super) fn vulgar(input: &str) -> IResult<&str, f64> {
    for (text, size) in VULGAR {
        if let Some(rest) = input.strip_prefix(text) {
            return Ok((rest, size));
        }
    }
    Err(nom::Err::Error(nom::error::Error::new(
        input,
        nom::error::ErrorKind::Alt,
    )))
}

fn slashed(input: &str) -> IResult<&str, f64> {
    let small = |input| map_opt(digit1, |digits: &str| digits.parse::<u8>().ok()).parse(input);
    let proper = verify(
        (small, preceded(one_of("/⁄"), small)),
        |&(over, under): &(u8, u8)| 0 < over && over < under && under <= 64,
    );
    proper
        .map(|(over, under)| f64::from(over) / f64::from(under))
        .parse(input)
}

/// `6`, `6.5`, `6½`, `6 1/2`, `6-1/2`, `½`, `1/2`.
pub(super) fn mixed<'a>(
    mark: DecimalMark,
) -> impl Parser<&'a str, Output = f64, Error = nom::error::Error<&'a str>> {
    let joined = alt((
        preceded(space0, vulgar),
        preceded(alt((tag("-"), nom::character::complete::space1)), slashed),
    ));
    let whole = map_opt(digit1, |digits: &str| digits.parse::<u32>().ok());
    alt((
        fraction,
        (whole, joined).map(|(whole, part)| f64::from(whole) + part),
        plain(mark),
    ))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers_as_people_write_them() {
        for (text, expected) in [
            ("1.5", 1.5),
            (" 1.5\t", 1.5),
            ("-0.25", -0.25),
            ("−3", -3.0),
            ("–3", -3.0),
            ("+3", 3.0),
            (".5", 0.5),
            ("5.", 5.0),
            ("1e-3", 0.001),
            ("1E+3", 1000.0),
            ("-0", -0.0),
            ("inf", f64::INFINITY),
            ("INF", f64::INFINITY),
            ("∞", f64::INFINITY),
            ("Infinity", f64::INFINITY),
            ("-inf", f64::NEG_INFINITY),
            ("−∞", f64::NEG_INFINITY),
            ("007", 7.0),
        ] {
            assert_eq!(
                number(text).unwrap().to_bits(),
                expected.to_bits(),
                "{text}"
            );
        }
    }

    #[test]
    fn what_is_no_number() {
        for (text, start, help) in [
            ("", 0, "not recorded"),
            ("  ", 0, "not recorded"),
            ("nan", 0, "not recorded"),
            ("-NaN", 0, ""),
            ("1,5", 1, "decimal comma"),
            ("1.234,5", 5, "decimal comma"),
            ("1 000", 1, "write digits"),
            ("1e999", 0, "beyond"),
            ("12x", 2, "write digits"),
            ("--1", 0, "write digits"),
            ("infinit", 3, "write digits"),
            ("0x10", 1, "write digits"),
            ("1_000", 1, "write digits"),
            ("٣", 0, "write digits"),
        ] {
            let error = number(text).unwrap_err();
            assert_eq!(error.span().unwrap().start, start, "{error}");
            assert!(error.help().contains(help), "{error}");
            assert!(
                error.to_string().starts_with(&format!("“{}”", text)),
                "{error}"
            );
        }
    }

    #[test]
    fn decimal_comma_only_when_asked_for() {
        let comma = |text| number_with(text, DecimalMark::Comma);
        assert_eq!(comma("1,5"), Ok(1.5));
        assert_eq!(comma("-1,5e2"), Ok(-150.0));
        assert_eq!(comma("15"), Ok(15.0));
        assert_eq!(comma("∞"), Ok(f64::INFINITY));
        for text in ["1.5", "1.234,5", "1,2,3"] {
            let error = comma(text).unwrap_err();
            assert!(error.to_string().contains(text), "{error}");
        }
    }

    #[test]
    fn fractions() {
        let all = |text| mixed(DecimalMark::Point).parse(text);
        for (text, expected) in [
            ("6 1/2", 6.5),
            ("6½", 6.5),
            ("6 ½", 6.5),
            ("6-1/2", 6.5),
            ("1/2", 0.5),
            ("⅜", 0.375),
            ("6", 6.0),
            ("6.25", 6.25),
            ("10 3⁄4", 10.75),
            ("0 63/64", 63.0 / 64.0),
        ] {
            assert_eq!(all(text), Ok(("", expected)), "{text}");
        }
        for (text, rest) in [
            ("6 3/2", " 3/2"),
            ("6 0/2", " 0/2"),
            ("6 1/99", " 1/99"),
            ("6/2", "/2"),
        ] {
            assert_eq!(all(text).unwrap().0, rest, "{text}");
        }
    }

    proptest! {
        #[test]
        fn every_float_reads_back(number_in in prop::num::f64::NORMAL | prop::num::f64::SUBNORMAL | prop::num::f64::ZERO) {
            for text in [number_in.to_string(), format!("{number_in:e}")] {
                prop_assert_eq!(number(&text).unwrap().to_bits(), number_in.to_bits());
                let comma = text.replace('.', ",");
                prop_assert_eq!(number_with(&comma, DecimalMark::Comma).unwrap().to_bits(), number_in.to_bits());
            }
        }
    }
}
