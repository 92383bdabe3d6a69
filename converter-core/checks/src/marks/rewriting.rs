//! Ways a mark is mistyped: what its text may have meant.

use ringmark_model::{Mark, Ring, ScaleQuantity};
use ringmark_quantity::{Length, Unit};

/// A value the text may have meant.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Rewriting {
    /// In the canonical unit of the ring.
    pub value: f64,
    /// What happened, as `feet written in a scale in metres`.
    pub story: String,
    /// Whether that is a round number in the unit of the scale, as engraved ones are.
    pub is_round: bool,
}

/// All rewritings of a mark's text, the likeliest first; of several with one value the first.
pub(crate) fn rewritings(ring: &Ring, mark: &Mark) -> Vec<Rewriting> {
    let mut found: Vec<Rewriting> = Vec::new();
    let mut add = |value: f64, story: &str| {
        let new = value > 0.0 && value.is_finite() && (value / mark.value - 1.0).abs() > 1e-3;
        if new
            && found
                .iter()
                .all(|known| (known.value / value - 1.0).abs() > 0.004)
        {
            let (story, is_round) = (story.to_owned(), is_round(ring, value));
            found.push(Rewriting {
                value,
                story,
                is_round,
            });
        }
    };
    if !mark.value.is_finite() {
        return found;
    }
    if ring.quantity == ScaleQuantity::FocusDistance {
        if let Some(metres) = as_feet_inches(ring, mark) {
            add(metres, "feet and inches typed as decimal feet");
        }
        let feet = rounded_like(mark.value * 0.3048, mark.value);
        match ring.source_unit {
            Unit::Foot | Unit::FeetInches => {
                add(mark.value / 0.3048, "metres written in a scale in feet")
            }
            Unit::Centimetre => {
                add(
                    mark.value * 100.0,
                    "metres written in a scale in centimetres",
                );
                add(mark.value * 30.48, "feet written in a scale in centimetres");
            }
            _ => {
                add(feet, "feet written in a scale in metres");
                add(
                    mark.value / 100.0,
                    "centimetres written in a scale in metres",
                );
            }
        }
    }
    for factor in [10.0, 100.0] {
        // Divided, not times 0.1: 7 becomes 0.7 to the last bit.
        add(mark.value / factor, "decimal point slipped");
        add(mark.value * factor, "decimal point slipped");
    }
    if let Some(number) = number_of(ring, mark) {
        for swapped in swaps(&text_of(ring, mark)) {
            add(mark.value * swapped / number, "digits swapped");
        }
    }
    found
}

/// Engraved numbers: whole inches and quarter feet, else two digits.
pub(crate) fn is_round(ring: &Ring, value: f64) -> bool {
    let Some(number) = in_scale_unit(ring, value) else {
        return false;
    };
    let near = |number: f64| (number - number.round()).abs() < 0.012;
    if matches!(ring.source_unit, Unit::Foot | Unit::FeetInches) {
        return near(number * 12.0) || near(number * 4.0);
    }
    near(number / 10f64.powf(number.log10().floor() - 1.0))
}

fn in_scale_unit(ring: &Ring, value: f64) -> Option<f64> {
    let number = match ring.quantity {
        ScaleQuantity::FocusDistance => {
            Length::from_metres(value).in_unit(ring.source_unit).ok()?
        }
        _ => value,
    };
    (number > 0.0 && number.is_finite()).then_some(number)
}

/// `3.6` in a scale of decimal feet read as 3'6": in metres. `5.10` is 5'10". The same for `3.6 ft` among feet and inches.
pub(crate) fn as_feet_inches(ring: &Ring, mark: &Mark) -> Option<f64> {
    let text = match ring.source_unit {
        Unit::Foot => text_of(ring, mark),
        Unit::FeetInches => {
            let text = mark.engraved.as_deref()?.trim();
            let number = text
                .strip_suffix("ft")
                .or_else(|| text.strip_suffix('\''))?;
            number.trim_end().replace(',', ".")
        }
        _ => return None,
    };
    let (feet, inches) = text.split_once('.')?;
    let (feet, inches): (u32, u32) = (feet.parse().ok()?, inches.parse().ok()?);
    let typed_so = (1..=2).contains(&text.len().saturating_sub(text.find('.')? + 1));
    (typed_so && (1..=11).contains(&inches))
        .then(|| Length::from_inches(f64::from(feet * 12 + inches)).metres())
}

/// The text as it stands, else the value in the scale's unit, with a decimal point.
fn text_of(ring: &Ring, mark: &Mark) -> String {
    match mark
        .engraved
        .as_deref()
        .map(str::trim)
        .filter(|text| !text.is_empty())
    {
        Some(text) => text.replace(',', "."),
        None => number_of(ring, mark).map_or_else(String::new, |number| {
            let text = crate::words::short(number);
            if text.contains('.') {
                text
            } else {
                text + ".0"
            }
        }),
    }
}

/// The mark's number in the unit of the scale.
fn number_of(ring: &Ring, mark: &Mark) -> Option<f64> {
    in_scale_unit(ring, mark.value)
}

/// Numbers that come of exchanging two neighbouring digits; the point stays in its place.
fn swaps(text: &str) -> Vec<f64> {
    let digits: Vec<usize> = text
        .bytes()
        .enumerate()
        .filter(|(_, b)| b.is_ascii_digit())
        .map(|(at, _)| at)
        .collect();
    let pairs = digits.iter().zip(digits.iter().skip(1));
    pairs
        .filter_map(|(a, b)| {
            let mut bytes = text.as_bytes().to_vec();
            bytes.swap(*a, *b);
            String::from_utf8(bytes).ok()?.parse().ok()
        })
        .collect()
}

/// `value` rounded to the digits that a number of the size of `typed` with two decimals warrants.
fn rounded_like(value: f64, typed: f64) -> f64 {
    let slack = 0.006 / typed.max(0.006);
    (1..=4)
        .map(|digits| {
            let unit = 10f64.powf(value.log10().floor() + 1.0 - f64::from(digits));
            (value / unit).round() * unit
        })
        .find(|round| (round / value - 1.0).abs() <= slack)
        .unwrap_or(value)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::marks::leave_one_out::tests::focus_ring;

    fn of(unit: Unit, text: &str, metres: f64) -> Vec<(String, String)> {
        let mut ring = focus_ring(&[(0.5, metres)]);
        ring.source_unit = unit;
        ring.marks[0].engraved = Some(text.to_owned());
        let mark = ring.marks[0].clone();
        rewritings(&ring, &mark)
            .into_iter()
            .map(|r| (format!("{:.4}", r.value), r.story))
            .collect()
    }

    #[test]
    fn each_slip_is_undone() {
        for (unit, text, metres, expected, story) in [
            (
                Unit::Metre,
                "5.91",
                5.91,
                "1.8000",
                "feet written in a scale in metres",
            ),
            (
                Unit::Metre,
                "8.20",
                8.20,
                "2.5000",
                "feet written in a scale in metres",
            ),
            (Unit::Metre, "5.2", 5.2, "2.5000", "digits swapped"),
            (Unit::Metre, "8.0", 8.0, "0.8000", "decimal point slipped"),
            (Unit::Metre, "10", 10.0, "1.0000", "decimal point slipped"),
            (Unit::Metre, "12", 12.0, "21.0000", "digits swapped"),
            (Unit::Metre, "25", 25.0, "2.5000", "decimal point slipped"),
            (
                Unit::FeetInches,
                "5.6 ft",
                1.70688,
                "1.6764",
                "feet and inches typed as decimal feet",
            ),
            (
                Unit::Foot,
                "3.6",
                1.09728,
                "1.0668",
                "feet and inches typed as decimal feet",
            ),
            (
                Unit::Foot,
                "5.10",
                1.55448,
                "1.7780",
                "feet and inches typed as decimal feet",
            ),
            (
                Unit::FeetInches,
                "1'2\"",
                0.3556,
                "1.1667",
                "metres written in a scale in feet",
            ),
        ] {
            let found = of(unit, text, metres);
            assert!(
                found.contains(&(expected.to_owned(), story.to_owned())),
                "{text}: {found:?}"
            );
        }
    }

    #[test]
    fn whole_numbers_and_long_decimals_are_no_inches() {
        for text in ["3", "3.0", "3.25", "3.75", "3.125", "3.12"] {
            let mut ring = focus_ring(&[(0.5, 1.0)]);
            ring.source_unit = Unit::Foot;
            ring.marks[0].engraved = Some(text.to_owned());
            assert_eq!(as_feet_inches(&ring, &ring.marks[0]), None, "{text}");
        }
    }
}
