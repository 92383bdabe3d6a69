//! Rationals as Exif and XMP have them, and the best one for a number.

use std::fmt;

/// Largest numerator and denominator that are written. One less than 32 bits hold: the numerator
/// FFFFFFFF says infinity in one property, and is written in none.
pub const MOST: u128 = 0xffff_fffe;

/// What the best rational for a number from 1/[`MOST`] to [`MOST`] is off by at most, as a part
/// of the number: neighbouring fractions with parts up to M are at most 2/M apart.
pub const PRECISION: f64 = 2.4e-10;

/// Numerator and denominator as they stand in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ratio {
    /// Numerator.
    pub n: i64,
    /// Denominator; 0 makes the value undefined.
    pub d: i64,
}

impl fmt::Display for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.n, self.d)
    }
}

impl Ratio {
    /// The quotient; `None` if the denominator is 0, whatever the numerator: infinity is never meant by it.
    pub fn value(self) -> Option<f64> {
        (self.d != 0).then(|| self.n as f64 / self.d as f64)
    }

    /// Reads `19/10` or `-1/3`.
    pub fn parse(text: &str) -> Option<Ratio> {
        let (n, d) = text.split_once('/')?;
        Some(Ratio {
            n: integer(n)?,
            d: integer(d)?,
        })
    }
}

/// A whole number in decimal digits, with nothing else around it than a sign.
pub fn integer(text: &str) -> Option<i64> {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    let plain = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    plain.then(|| text.parse().ok()).flatten()
}

/// The simplest convergent near `target` that `read` turns into `wanted`; if there is none, the
/// rational with parts up to [`MOST`] that is closest to `target`. `None` for numbers below
/// 1/[`MOST`], above [`MOST`], and for what is no number.
pub fn best(target: f64, wanted: f64, read: impl Fn(f64) -> f64) -> Option<Ratio> {
    let most = MOST as f64;
    if !(target >= 1.0 / most && target <= most) {
        return None;
    }
    let (mut numerator, mut denominator) = exact(target);
    // Convergents of the continued fraction: the one before last, and the last.
    let (mut before, mut last) = ((0_u128, 1_u128), (1_u128, 0_u128));
    while denominator != 0 {
        let digit = numerator / denominator;
        let next = (
            digit.saturating_mul(last.0).saturating_add(before.0),
            digit.saturating_mul(last.1).saturating_add(before.1),
        );
        if next.0 > MOST || next.1 > MOST {
            return Some(closest(target, before, last));
        }
        if let Some(ratio) = ratio(next)
            && ratio.value().map(&read) == Some(wanted)
        {
            return Some(ratio);
        }
        (before, last) = (last, next);
        (numerator, denominator) = (denominator, numerator % denominator);
    }
    ratio(last)
}

/// The best rational for a number, and whether it reads back to the same number.
pub fn of_number(number: f64) -> Option<(Ratio, bool)> {
    let ratio = best(number, number, |value| value)?;
    Some((ratio, ratio.value() == Some(number)))
}

/// Either the last convergent or the last intermediate fraction that fits, whichever is closer:
/// `target` lies between both, and no fraction with parts that fit lies between them.
fn closest(target: f64, before: (u128, u128), last: (u128, u128)) -> Ratio {
    let room = |old: u128, new: u128| match new {
        0 => u128::MAX,
        new => (MOST - old) / new,
    };
    let steps = room(before.0, last.0).min(room(before.1, last.1));
    let between = (before.0 + steps * last.0, before.1 + steps * last.1);
    let off = |parts: (u128, u128)| match ratio(parts).and_then(Ratio::value) {
        Some(value) => (value - target).abs(),
        None => f64::INFINITY,
    };
    let parts = if off(between) < off(last) {
        between
    } else {
        last
    };
    ratio(parts).unwrap_or(Ratio { n: 0, d: 0 })
}

fn ratio((n, d): (u128, u128)) -> Option<Ratio> {
    Some(Ratio {
        n: i64::try_from(n).ok()?,
        d: i64::try_from(d).ok()?,
    })
}

/// The float as an exact fraction. Its magnitude is between 2^-33 and 2^32, so that both parts fit.
fn exact(number: f64) -> (u128, u128) {
    let bits = number.to_bits();
    let exponent = ((bits >> 52) & 0x7ff) as i32 - 1075;
    let mantissa = u128::from(bits & ((1 << 52) - 1) | 1 << 52);
    if exponent >= 0 {
        (mantissa << exponent, 1)
    } else {
        (mantissa, 1 << -exponent)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn usual_numbers_give_their_usual_fractions() {
        for (number, text) in [
            (1.9, "19/10"),
            (32.25, "129/4"),
            (32.21, "3221/100"),
            (1.0 / 48.0, "1/48"),
            (1.23456, "3858/3125"),
            (1.0 / 8000.0, "1/8000"),
            (50.0, "50/1"),
            (MOST as f64, "4294967294/1"),
            (1.0 / MOST as f64, "1/4294967294"),
        ] {
            let (ratio, exact) = of_number(number).unwrap();
            assert_eq!(ratio.to_string(), text);
            assert!(exact, "{text}");
        }
    }

    #[test]
    fn what_has_no_rational() {
        for number in [
            0.0,
            -1.0,
            1e-10,
            4294967295.0,
            1e300,
            f64::INFINITY,
            f64::NAN,
        ] {
            assert_eq!(of_number(number), None, "{number}");
        }
    }

    #[test]
    fn text_is_digits_and_a_slash() {
        assert_eq!(Ratio::parse("19/10"), Some(Ratio { n: 19, d: 10 }));
        assert_eq!(Ratio::parse("-1/3"), Some(Ratio { n: -1, d: 3 }));
        for text in ["19/ten", "1.9", "", "/", "1/", "0x1/2", "1 / 2", "1/2/3"] {
            assert_eq!(Ratio::parse(text), None, "{text}");
        }
        assert_eq!(Ratio { n: 5, d: 0 }.value(), None);
    }

    fn within(number: f64) {
        let (ratio, exact) = of_number(number).unwrap();
        let value = ratio.value().unwrap();
        let off = (value - number).abs() / number;
        assert!(off <= PRECISION, "{number} became {ratio}, off by {off:e}");
        assert_eq!(exact, value == number);
        assert!(ratio.n as u128 <= MOST && ratio.d as u128 <= MOST);
    }

    #[test]
    fn next_to_simple_fractions_the_bound_holds() {
        // The worst places: fractions with small parts have the widest gaps around them.
        for n in 1..40_u32 {
            for d in 1..40_u32 {
                let simple = f64::from(n) / f64::from(d);
                for shift in [0.1, 0.5, 0.9, 1.0, 1.9, 2.5] {
                    let gap = shift / (f64::from(d) * MOST as f64);
                    within(simple + gap);
                    within((simple - gap).max(1.0 / MOST as f64));
                    let gap = simple * shift / (f64::from(n) * MOST as f64);
                    within(simple + gap);
                }
            }
        }
        for number in [3.0e9 + 0.25, 4294967293.5, 3.3e-10, 2147483647.5] {
            within(number);
        }
    }

    proptest! {
        #[test]
        fn the_bound_holds(exponent in -32.0..32.0_f64) {
            let number = exponent.exp2().clamp(1.0 / MOST as f64, MOST as f64);
            within(number);
        }

        #[test]
        fn every_fraction_leads_back(n in 1..0xffff_fffe_u32, d in 1..0xffff_fffe_u32) {
            let number = f64::from(n) / f64::from(d);
            let (_, exact) = of_number(number).unwrap();
            prop_assert!(exact);
        }
    }
}
