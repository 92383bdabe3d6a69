//! The one way to show each quantity to a person, and the exact way to write feet and inches back.
//!
//! Shown numbers are rounded to what a person reads on a barrel; files get full precision elsewhere, except
//! [`feet_inches_exact`], which loses nothing. `NaN` is shown as `not recorded`.

use crate::{DistanceReference, FocusDistance, Timecode, Unit};

const NOT_RECORDED: &str = "not recorded";

/// A distance in metres: `0.455 m`, `1.68 m`, `12.5 m`, `120 m`, `∞`.
pub fn metric(metres: f64) -> String {
    if let Some(words) = special(metres) {
        return words.to_owned();
    }
    let decimals = match metres.abs() {
        size if size < 1.0 => 3,
        size if size < 10.0 => 2,
        size if size < 100.0 => 1,
        _ => 0,
    };
    format!("{metres:.decimals$} m")
}

/// A distance in metres shown as feet and inches: `5'6 1/8"` to 1/8 inch, from 10 feet on to whole inches, `∞`.
pub fn imperial(metres: f64) -> String {
    if let Some(words) = special(metres) {
        return words.to_owned();
    }
    let inches = metres.abs() / 0.0254;
    let eighths = if inches < 120.0 {
        (inches * 8.0).round()
    } else {
        inches.round() * 8.0
    };
    let minus = if metres < 0.0 && eighths > 0.0 {
        "-"
    } else {
        ""
    };
    format!("{minus}{}", feet_inches_exact(eighths / 8.0))
}

/// A focus distance with what it is measured from: `1.68 m (5'6 1/8") from the image plane`.
pub fn focus_distance(distance: FocusDistance) -> String {
    let from = match distance.reference() {
        DistanceReference::ImagePlane => "from the image plane",
        DistanceReference::EntrancePupil => "from the entrance pupil",
        DistanceReference::FrontVertex => "from the front vertex",
        DistanceReference::Unstated => "from an unstated reference",
    };
    let metres = distance.metres();
    if distance.is_infinite() {
        format!("∞ {from}")
    } else {
        format!("{} ({}) {from}", metric(metres), imperial(metres))
    }
}

/// A T-stop: `T2.8`; `closed` for a closed iris.
pub fn t_stop(number: f64) -> String {
    stop_number("T", number)
}

/// An f-number: `f/4`; `closed` for a closed iris.
pub fn f_number(number: f64) -> String {
    stop_number("f/", number)
}

fn stop_number(prefix: &str, number: f64) -> String {
    match special(number) {
        Some(NOT_RECORDED) => NOT_RECORDED.to_owned(),
        Some(_) => "closed".to_owned(),
        None => format!("{prefix}{}", rounded(number, 2)),
    }
}

/// A focal length in millimetres: `50 mm`, `51.27 mm`.
pub fn focal_length(mm: f64) -> String {
    match special(mm) {
        Some(words) => words.to_owned(),
        None => format!("{} mm", rounded(mm, 2)),
    }
}

/// An angle in degrees: `12.5°`.
pub fn angle(degrees: f64) -> String {
    match special(degrees) {
        Some(words) => words.to_owned(),
        None => format!("{}°", rounded(degrees, 3)),
    }
}

/// A ring position from 0 to 1: `0.5025`.
pub fn position(ratio: f64) -> String {
    special(ratio).map_or_else(|| rounded(ratio, 4), str::to_owned)
}

/// A timecode label.
pub fn timecode(label: Timecode) -> String {
    label.to_string()
}

/// A number in the unit it came in, to six decimals at most: `1.2 m`, `5'6"`, `T2.8`, `50 %`.
pub fn value(number: f64, unit: Unit) -> String {
    match unit {
        Unit::FeetInches => feet_inches_exact(number),
        Unit::TStop => t_stop(number),
        Unit::FNumber => f_number(number),
        Unit::Degree => angle(number),
        Unit::Ratio => position(number),
        Unit::Iso => {
            special(number).map_or_else(|| format!("ISO {}", rounded(number, 2)), str::to_owned)
        }
        Unit::One => special(number).map_or_else(|| rounded(number, 6), str::to_owned),
        _ => special(number).map_or_else(
            || format!("{} {}", rounded(number, 6), unit.symbol()),
            str::to_owned,
        ),
    }
}

/// Inches as feet and inches that read back as the very same number: `10"`, `5'6"`, `5'6 1/2"` (down to 1/16), else
/// decimal inches, `5'6.3"`. Infinity is `∞`. `NaN` and negative numbers have no such text: they are written as
/// `not recorded` and with a minus, which the parser of lengths refuses.
pub fn feet_inches_exact(inches: f64) -> String {
    if let Some(words) = special(inches) {
        return words.to_owned();
    }
    if inches < 0.0 {
        return format!("-{}", feet_inches_exact(-inches));
    }
    let mut feet = (inches / 12.0).floor();
    if feet * 12.0 > inches {
        feet -= 1.0; // the quotient was rounded up to a whole number
    }
    // More feet than a whole number of feet can be read back: decimal inches only.
    if feet > f64::from(u32::MAX) {
        return format!("{inches}\"");
    }
    let rest = inches - feet * 12.0;
    let feet_text = if feet > 0.0 {
        format!("{feet}'")
    } else {
        String::new()
    };
    match sixteenths(rest) {
        Some((0, 0)) if feet > 0.0 => feet_text,
        Some((whole, 0)) => format!("{feet_text}{whole}\""),
        Some((0, over)) if feet == 0.0 => format!("{}\"", reduced(over)),
        Some((whole, over)) => format!("{feet_text}{whole} {}\"", reduced(over)),
        None => format!("{feet_text}{}\"", decimal_rest(inches, feet, rest)),
    }
}

/// Whole inches and sixteenths, if `rest` (0 to 12) is made of them exactly.
fn sixteenths(rest: f64) -> Option<(u32, u32)> {
    let all = rest * 16.0;
    (all.fract() == 0.0 && (0.0..192.0).contains(&all))
        .then_some((all as u32 / 16, all as u32 % 16))
}

/// `8` sixteenths as `1/2`.
fn reduced(over: u32) -> String {
    let twos = over.trailing_zeros().min(4);
    format!("{}/{}", over >> twos, 16 >> twos)
}

/// The inches left after the feet, with no more decimals than the sum needs to come out the same.
fn decimal_rest(inches: f64, feet: f64, rest: f64) -> String {
    for decimals in 1..=17 {
        let text = format!("{rest:.decimals$}");
        if let Ok(shown) = text.parse::<f64>()
            && shown < 12.0
            && feet * 12.0 + shown == inches
        {
            return text;
        }
    }
    rest.to_string()
}

/// Words for what is no finite number.
fn special(number: f64) -> Option<&'static str> {
    if number.is_nan() {
        Some(NOT_RECORDED)
    } else if number == f64::INFINITY {
        Some("∞")
    } else if number == f64::NEG_INFINITY {
        Some("-∞")
    } else {
        None
    }
}

/// At most `decimals`, without zeros at the end; a number that would round to 0 keeps two significant digits.
fn rounded(number: f64, decimals: usize) -> String {
    let mut text = format!("{number:.decimals$}");
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    match text.as_str() {
        "0" | "-0" if number != 0.0 => format!("{number:.1e}"),
        "-0" => "0".to_owned(),
        _ => text,
    }
}

#[cfg(test)]
#[path = "print_tests.rs"]
mod tests;
