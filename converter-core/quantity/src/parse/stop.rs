//! T-stops and f-numbers with fractions of a stop.

use nom::branch::alt;
use nom::bytes::complete::{tag, tag_no_case};
use nom::character::complete::{one_of, space0, space1};
use nom::combinator::{all_consuming, map, not, opt, value};
use nom::sequence::{preceded, terminated};
use nom::{IResult, Parser};

use super::DecimalMark;
use super::number::{fraction, infinity, not_a_number, plain, sign, vulgar};
use crate::{QuantityError, plus_stops};

/// Which of the two numbers a text says it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum StopKind {
    /// T-stop.
    T,
    /// f-number.
    F,
}

/// A stop as read from text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StopText {
    /// The number, fraction included; above 0. A closed iris is `+inf`: no light at all.
    pub value: f64,
    /// What the text calls it, if it does.
    pub kind: Option<StopKind>,
}

/// Reads `T2.8`, `2.8`, `f/4`, `F4`, and with a fraction of a stop `2.8⅓`, `2.8 1/3`, `T2.8+1/3`, `T2.8 -1/2`,
/// `2.8+0.3`.
///
/// The fraction is a part of a stop, not of the number: `N * 2^(fraction / 2)`. A closed iris (`C`, `close`, `closed`,
/// and infinity) is `+inf`. Zero and negative numbers are errors.
pub fn stop(text: &str) -> Result<StopText, QuantityError> {
    stop_with(text, DecimalMark::Point)
}

/// Reads a stop with the decimal mark given; otherwise as [`stop`].
pub fn stop_with(text: &str, mark: DecimalMark) -> Result<StopText, QuantityError> {
    let trimmed = text.trim();
    if let Ok((_, read)) = all_consuming(closed).parse(trimmed) {
        return Ok(read);
    }
    let (after_kind, kind) = opt(terminated(kind, space0))
        .parse(trimmed)
        .unwrap_or((trimmed, None));
    let Ok((after_number, number)) = plain(mark).parse(after_kind) else {
        return Err(wrong_start(text, after_kind, kind, mark));
    };
    let Ok((rest, stops)) = opt(offset(mark)).parse(after_number) else {
        return Err(not_a_number(text, after_number, mark));
    };
    if !rest.is_empty() {
        let rest = rest.trim_start();
        return Err(if rest.starts_with(['.', ',']) {
            not_a_number(text, rest, mark)
        } else {
            QuantityError::in_text(
                text,
                rest,
                "the end, or a fraction of a stop",
                "write stops as T2.8, f/4, 2.8⅓ or 2.8 1/3",
            )
        });
    }
    let closed_by = plus_stops(number, stops.unwrap_or(0.0));
    if closed_by > 0.0 && closed_by.is_finite() {
        let value = if stops.is_some() { closed_by } else { number };
        Ok(StopText { value, kind })
    } else {
        Err(QuantityError::in_text(
            text,
            trimmed,
            "a stop above 0",
            "leave out what is not recorded; write closed for a closed iris",
        ))
    }
}

#[cold]
fn wrong_start(text: &str, part: &str, kind: Option<StopKind>, mark: DecimalMark) -> QuantityError {
    if matches!(sign(part), Ok((_, -1.0))) {
        return QuantityError::in_text(
            text,
            part,
            "a stop above 0",
            "a stop is never negative: check the column",
        );
    }
    if part.starts_with(['.', ',']) || (kind.is_none() && part.trim().is_empty()) {
        return not_a_number(text, part, mark);
    }
    QuantityError::in_text(
        text,
        part,
        "a T-stop or f-number",
        "write stops as T2.8, f/4, 2.8⅓ or 2.8 1/3, a closed iris as closed",
    )
}

/// `T`, `T/`, `f`, `f/`, `ƒ`, in either case.
fn kind(input: &str) -> IResult<&str, StopKind> {
    terminated(
        alt((
            value(StopKind::T, one_of("tT")),
            value(StopKind::F, one_of("fFƒ")),
        )),
        opt(tag("/")),
    )
    .parse(input)
}

fn closed(input: &str) -> IResult<&str, StopText> {
    let word = alt((
        tag_no_case("closed").map(|_| f64::INFINITY),
        tag_no_case("close").map(|_| f64::INFINITY),
        tag_no_case("c").map(|_| f64::INFINITY),
        infinity,
    ));
    map((opt(terminated(kind, space0)), word), |(kind, value)| {
        StopText { value, kind }
    })
    .parse(input)
}

/// `⅓`, ` 1/3`, `+1/3`, ` + ⅓`, `-1/2`, `+0.3`: stops to close by.
fn offset<'a>(
    mark: DecimalMark,
) -> impl Parser<&'a str, Output = f64, Error = nom::error::Error<&'a str>> {
    let signed = (
        preceded(space0, sign),
        // A typing error such as 2.8+13 must not close the iris by 13 stops.
        preceded(space0, alt((fraction, below_one(mark)))),
    )
        .map(|(sign, stops)| sign * stops);
    alt((signed, preceded(space0, vulgar), preceded(space1, fraction)))
}

fn below_one<'a>(
    mark: DecimalMark,
) -> impl Parser<&'a str, Output = f64, Error = nom::error::Error<&'a str>> {
    terminated(
        nom::combinator::verify(plain(mark), |stops: &f64| *stops < 1.0),
        not(tag("/")),
    )
}

#[cfg(test)]
#[path = "stop_tests.rs"]
mod tests;
