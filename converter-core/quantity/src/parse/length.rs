//! Lengths: plain numbers, numbers with a unit, feet and inches.

use nom::Parser;
use nom::character::complete::space0;
use nom::sequence::terminated;

use super::DecimalMark;
use super::feet_inches::{FeetInchesText, dashed, marked};
use super::number::{digits_with_point, infinity, mixed, not_a_number, sign, unsigned};
use crate::{Dimension, QuantityError, Unit, print};

/// Reads a length of 0 or more, or infinity; the unit in the answer is the one the text used.
///
/// - A bare number is in the `default` unit: `5.6` where decimal feet are the default is 5.6 ft, never `5'6"`. Where
///   [`Unit::FeetInches`] is the default a bare number could be either, and is an error that shows both.
/// - Feet and inches as engraved (`5'6"`, `5' 6 1/2"`, `5ft 6in`, `5'6`, `5′6″`, `5'6½"`, `18"`) give inches in
///   [`Unit::FeetInches`]; they are accepted where the default is feet, inches or both, and `5-6` only for both.
/// - A unit behind the number (`1.2 m`, `120cm`, `5.5 ft`, `2 D`) wins over the default; the signs `'` and `"` do so
///   only among feet and inches, as they are minutes and seconds of arc elsewhere.
/// - Infinity (`∞`, `INF`, `inf`) is in the default unit, but in metres where that is dioptres, in which it would be 0.
pub fn length(text: &str, default: Unit) -> Result<(f64, Unit), QuantityError> {
    length_with(text, default, DecimalMark::Point)
}

/// Reads a length with the decimal mark given; otherwise as [`length`].
pub fn length_with(
    text: &str,
    default: Unit,
    mark: DecimalMark,
) -> Result<(f64, Unit), QuantityError> {
    let trimmed = text.trim();
    if mark == DecimalMark::Point
        && !trimmed.starts_with('-')
        && let Some(bare) = digits_with_point(trimmed)
    {
        return bare_number(text, trimmed, bare, default); // nearly every cell
    }
    if matches!(sign(trimmed), Ok((_, -1.0))) {
        return Err(QuantityError::in_text(
            text,
            trimmed,
            "a length of 0 or more",
            "a length below 0 is no distance: check the column, or leave it out",
        ));
    }
    if let Ok((rest, bare)) = unsigned(mark).parse(trimmed)
        && rest.is_empty()
    {
        return bare_number(text, trimmed, bare, default);
    }
    if let Ok((rest, infinite)) = infinity(trimmed) {
        let unit = if default == Unit::Dioptre {
            Unit::Metre
        } else {
            default
        };
        return match with_unit(rest) {
            None if rest.is_empty() => Ok((infinite, unit)),
            Some(unit) if unit != Unit::Dioptre => Ok((infinite, unit)),
            _ => Err(QuantityError::in_text(
                text,
                rest,
                "nothing after infinity",
                "write ∞ or inf",
            )),
        };
    }
    if let Ok(("", engraved)) = terminated(marked(mark), space0).parse(trimmed) {
        return feet_and_inches(text, trimmed, &engraved, default);
    }
    if let Ok(("", engraved)) = terminated(dashed(mark), space0).parse(trimmed) {
        if default == Unit::FeetInches {
            return feet_and_inches(text, trimmed, &engraved, default);
        }
        let help = match engraved.inches {
            Some((inches, _)) if inches < 12.0 => format!(
                "write {} if it means feet and inches",
                print::feet_inches_exact(engraved.total_inches())
            ),
            _ => "write one length, such as 1.2 m".to_owned(),
        };
        return Err(QuantityError::in_text(text, trimmed, "a length", help));
    }
    let number = unsigned(mark).parse(trimmed);
    let fractional = mixed(mark).parse(trimmed);
    for (rest, size) in number.iter().chain(&fractional) {
        if let Some(unit) = with_unit(rest) {
            let engraved = !rest
                .trim_start()
                .starts_with(|first: char| first.is_alphabetic() || first == '1');
            return if engraved && !takes_engraved(default) {
                Err(engraved_elsewhere(text, trimmed, default))
            } else {
                Ok((*size, unit))
            };
        }
    }
    match fractional {
        Ok(("", inches)) if default == Unit::Inch => Ok((inches, default)),
        Ok(("", _)) => Err(QuantityError::in_text(
            text,
            trimmed,
            "a decimal number, or a fraction with its unit",
            "write the unit behind it, such as 5 1/2 in or 5'6\"",
        )),
        _ => Err(wrong_end(
            text,
            trimmed,
            number.map_or(trimmed, |(rest, _)| rest),
            mark,
        )),
    }
}

/// The unit of length that `rest` is, if it is one.
fn with_unit(rest: &str) -> Option<Unit> {
    Unit::from_symbol(rest).filter(|unit| unit.dimension() == Dimension::Length)
}

fn bare_number(
    text: &str,
    part: &str,
    number: f64,
    default: Unit,
) -> Result<(f64, Unit), QuantityError> {
    match default {
        Unit::FeetInches => {
            let help = format!(
                "write {} for decimal feet or {} for inches",
                print::feet_inches_exact(number * 12.0),
                print::feet_inches_exact(number)
            );
            let help = match part.split_once(['.', ',']) {
                // Who writes 5.6 among feet and inches may mean 5'6".
                Some((feet, inches))
                    if inches.len() <= 2 && inches.parse().is_ok_and(|n: u8| n < 12) =>
                {
                    format!(
                        "write {feet}'{inches}\" for feet and inches or {part} ft for decimal feet"
                    )
                }
                _ => help,
            };
            Err(QuantityError::in_text(
                text,
                part,
                "feet and inches with their marks",
                help,
            ))
        }
        _ if default.dimension() == Dimension::Length => Ok((number, default)),
        _ => Err(QuantityError::in_text(
            text,
            part,
            "a number with a unit of length",
            "write the unit behind the number, such as 1.2 m",
        )),
    }
}

fn feet_and_inches(
    text: &str,
    part: &str,
    engraved: &FeetInchesText<'_>,
    default: Unit,
) -> Result<(f64, Unit), QuantityError> {
    let total = engraved.total_inches();
    if let (Some(_), Some((inches, inches_text))) = (engraved.feet, engraved.inches)
        && inches >= 12.0
    {
        let help = format!("write {} if that is meant", print::feet_inches_exact(total));
        return Err(QuantityError::in_text(
            text,
            inches_text,
            "inches below 12 after feet",
            help,
        ));
    }
    if takes_engraved(default) {
        Ok((total, Unit::FeetInches))
    } else {
        Err(engraved_elsewhere(text, part, default))
    }
}

/// Whether the signs of feet and inches are at home where `default` is the unit.
fn takes_engraved(default: Unit) -> bool {
    matches!(default, Unit::Foot | Unit::FeetInches | Unit::Inch)
}

#[cold]
fn engraved_elsewhere(text: &str, part: &str, default: Unit) -> QuantityError {
    QuantityError::in_text(
        text,
        part,
        format!("a length in {}", default.name()),
        "this is feet and inches: correct the unit of the column, or the text",
    )
}

/// The error for a text of which only the number, or nothing, was read.
#[cold]
fn wrong_end(text: &str, trimmed: &str, rest: &str, mark: DecimalMark) -> QuantityError {
    if rest.len() == trimmed.len() || rest.trim_start().starts_with(['.', ',']) {
        return not_a_number(text, rest, mark);
    }
    let after = rest.trim_start();
    let help = if after
        .starts_with(|first: char| first.is_ascii_digit() || "'’′\"″”".contains(first))
    {
        "write feet and inches as 5'6\" or 5' 6 1/2\", other lengths as 1.2 m"
    } else {
        "write the unit as m, cm, mm, um, in, ft or D"
    };
    QuantityError::in_text(text, after, "a unit of length", help)
}

#[cfg(test)]
#[path = "length_tests.rs"]
mod tests;
