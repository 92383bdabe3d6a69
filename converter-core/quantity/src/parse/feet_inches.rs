//! Feet and inches as engraved on lens barrels.

use nom::branch::alt;
use nom::bytes::complete::{tag, tag_no_case};
use nom::character::complete::{digit1, space0};
use nom::combinator::{map_opt, opt, recognize};
use nom::sequence::{preceded, terminated};
use nom::{IResult, Parser};

use super::number::{DecimalMark, fraction, mixed};

/// What was read, and the slice that holds the inches after a foot mark.
pub(super) struct FeetInchesText<'a> {
    /// Whole feet, if there is a part in feet.
    pub feet: Option<u32>,
    /// Inches, with the text that says so.
    pub inches: Option<(f64, &'a str)>,
}

impl FeetInchesText<'_> {
    /// All of it in inches.
    pub(super) fn total_inches(&self) -> f64 {
        f64::from(self.feet.unwrap_or(0)) * 12.0 + self.inches.map_or(0.0, |(inches, _)| inches)
    }
}

/// `5'6"`, `5' 6 1/2"`, `5'6½"`, `5'-6"`, `5ft 6in`, `5'6`, `5'`, `18"`; not `5 ft`, `18 in` or `5.5'`, which are plain numbers
/// with a unit. What follows is left over.
pub(super) fn marked(mark: DecimalMark) -> impl FnMut(&str) -> IResult<&str, FeetInchesText<'_>> {
    move |input| {
        alt((
            terminated(whole, foot_word)
                .and(preceded(between, (inch_number(mark), opt(inch_mark))))
                .map(|(feet, (inches, _))| FeetInchesText {
                    feet: Some(feet),
                    inches: Some(inches),
                }),
            terminated(whole, preceded(space0, foot_sign))
                .and(opt(preceded(between, (inch_number(mark), opt(inch_mark)))))
                .map(|(feet, inches)| FeetInchesText {
                    feet: Some(feet),
                    inches: inches.map(|(inches, _)| inches),
                }),
            terminated(inch_number(mark), preceded(space0, inch_sign)).map(|inches| {
                FeetInchesText {
                    feet: None,
                    inches: Some(inches),
                }
            }),
        ))
        .parse(input)
    }
}

/// `5-6`, `5-6 1/2`, `5-6"`: only where the column is known to hold feet and inches. The dash is not that of a
/// fraction: `5-1/2` is left alone.
pub(super) fn dashed(mark: DecimalMark) -> impl FnMut(&str) -> IResult<&str, FeetInchesText<'_>> {
    move |input| {
        let (rest, feet) = terminated(whole, alt((tag("-"), tag("–")))).parse(input)?;
        if fraction(rest).is_ok() {
            return Err(nom::Err::Error(nom::error::Error::new(
                rest,
                nom::error::ErrorKind::Not,
            )));
        }
        let (rest, (inches, _)) = (inch_number(mark), opt(inch_mark)).parse(rest)?;
        Ok((
            rest,
            FeetInchesText {
                feet: Some(feet),
                inches: Some(inches),
            },
        ))
    }
}

fn whole(input: &str) -> IResult<&str, u32> {
    map_opt(digit1, |digits: &str| digits.parse().ok()).parse(input)
}

/// The inches and the slice they were read from.
fn inch_number<'a>(
    mark: DecimalMark,
) -> impl Parser<&'a str, Output = (f64, &'a str), Error = nom::error::Error<&'a str>> {
    nom::combinator::consumed(mixed(mark)).map(|(text, inches)| (inches, text))
}

/// Between feet and inches: space, or a dash as in `5'-6"`.
fn between(input: &str) -> IResult<&str, &str> {
    recognize((space0, opt(tag("-")), space0)).parse(input)
}

fn foot_sign(input: &str) -> IResult<&str, &str> {
    // Two signs in a row are an inch.
    terminated(
        alt((tag("'"), tag("′"), tag("’"))),
        nom::combinator::not(tag("'")),
    )
    .parse(input)
}

fn inch_sign(input: &str) -> IResult<&str, &str> {
    alt((
        tag("\""),
        tag("″"),
        tag("”"),
        tag("''"),
        tag("′′"),
        tag("’’"),
    ))
    .parse(input)
}

fn foot_word(input: &str) -> IResult<&str, &str> {
    preceded(
        space0,
        alt((
            tag_no_case("feet"),
            tag_no_case("foot"),
            recognize((tag_no_case("ft"), opt(tag(".")))),
        )),
    )
    .parse(input)
}

fn inch_mark(input: &str) -> IResult<&str, &str> {
    preceded(
        space0,
        alt((
            inch_sign,
            tag_no_case("inches"),
            tag_no_case("inch"),
            recognize((tag_no_case("in"), opt(tag(".")))),
        )),
    )
    .parse(input)
}
