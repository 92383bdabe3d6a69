//! Ways a distance is mistyped: what the text of a mark may have meant.

use ringmark_model::{Mark, Ring};
use ringmark_quantity::{Length, Unit};

/// A distance the text may have meant.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Rewriting {
    pub metres: f64,
    /// What happened, as `feet written in a scale in metres`.
    pub story: String,
}

/// All rewritings of a mark's text, the likeliest first; of several with one value the first.
pub(crate) fn rewritings(ring: &Ring, mark: &Mark) -> Vec<Rewriting> {
    let mut found: Vec<Rewriting> = Vec::new();
    let mut add = |metres: f64, story: &str| {
        let new = metres > 0.0 && metres.is_finite() && (metres / mark.value - 1.0).abs() > 1e-3;
        if new
            && found
                .iter()
                .all(|known| (known.metres / metres - 1.0).abs() > 0.004)
        {
            found.push(Rewriting {
                metres,
                story: story.to_owned(),
            });
        }
    };
    if let Some(metres) = as_feet_inches(ring, mark) {
        add(metres, "feet and inches typed as decimal feet");
    }
    match ring.source_unit {
        Unit::Foot | Unit::FeetInches => {
            add(mark.value / 0.3048, "metres written in a scale in feet")
        }
        _ => add(
            rounded_like(mark.value * 0.3048, mark.value),
            "feet written in a scale in metres",
        ),
    }
    if let Some(number) = number_of(ring, mark) {
        for swapped in swaps(&text_of(ring, mark)) {
            add(mark.value * swapped / number, "digits swapped");
        }
    }
    for factor in [0.1, 10.0, 0.01, 100.0] {
        add(mark.value * factor, "decimal point slipped");
    }
    found
}

/// `3.6` in a scale of decimal feet read as 3'6": in metres. `5.10` is 5'10".
pub(crate) fn as_feet_inches(ring: &Ring, mark: &Mark) -> Option<f64> {
    if ring.source_unit != Unit::Foot {
        return None;
    }
    let text = text_of(ring, mark);
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
    let number = Length::from_metres(mark.value)
        .in_unit(ring.source_unit)
        .ok()?;
    (number > 0.0 && number.is_finite()).then_some(number)
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
            .map(|r| (format!("{:.4}", r.metres), r.story))
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
            (Unit::Metre, "8.0", 8.0, "0.8000", "digits swapped"),
            (Unit::Metre, "10", 10.0, "1.0000", "digits swapped"),
            (Unit::Metre, "25", 25.0, "2.5000", "decimal point slipped"),
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
