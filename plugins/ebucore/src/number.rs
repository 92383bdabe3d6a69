//! Numbers as text, and back.

use crate::fields::Form;

/// How infinity is written in acquisition data.
const INFINITE: &str = "Infinite";

/// Beyond, a float is not written as an integer.
const INTEGERS: f64 = 9_007_199_254_740_992.0;

/// Largest denominator that a time of exposure is written with.
const MAX_DENOMINATOR: f64 = 1e6;

/// The number that an item stands for; `None` if it stands for none.
pub fn read(item: &str, form: Form) -> Option<f64> {
    match form {
        Form::Plain => decimal(item),
        Form::Time | Form::Rate => match item.split_once('/') {
            Some((num, den)) => Some(decimal(num)? / decimal(den)?).filter(|v| !v.is_nan()),
            None => decimal(item),
        },
        Form::Density => match item.strip_prefix("1/") {
            Some(density) => decimal(density),
            None if item.eq_ignore_ascii_case("clear") => Some(1.0),
            None => decimal(item).filter(|v| v.is_nan()),
        },
    }
}

fn decimal(item: &str) -> Option<f64> {
    if let Ok(number) = item.parse::<f64>() {
        // Digits that overflow are no infinity.
        let words = !item.bytes().any(|b| b.is_ascii_digit());
        return (number.is_finite() || words).then_some(number);
    }
    item.eq_ignore_ascii_case(INFINITE).then_some(f64::INFINITY)
}

/// Appends the item of a number: the shortest text that reads back exactly. NaN is 'not recorded'.
pub fn push(out: &mut Vec<u8>, value: f64, form: Form) {
    match form {
        Form::Density if value == 1.0 => out.extend_from_slice(b"Clear"),
        Form::Density if !value.is_nan() => {
            out.extend_from_slice(b"1/");
            push_decimal(out, value);
        }
        Form::Time => match quotient(value) {
            Some((num, den)) => {
                push_decimal(out, num);
                out.push(b'/');
                push_decimal(out, den);
            }
            None => push_decimal(out, value),
        },
        _ => push_decimal(out, value),
    }
}

fn push_decimal(out: &mut Vec<u8>, value: f64) {
    if value.is_nan() {
        out.extend_from_slice(crate::escape::ABSENT.as_bytes());
    } else if value.is_infinite() {
        out.extend_from_slice(if value > 0.0 { INFINITE } else { "-INF" }.as_bytes());
    } else if is_integer(value) {
        out.extend_from_slice(itoa::Buffer::new().format(value as i64).as_bytes());
    } else {
        out.extend_from_slice(zmij::Buffer::new().format_finite(value).as_bytes());
    }
}

/// Whether the integer of the same value reads back as this very double.
fn is_integer(value: f64) -> bool {
    value.fract() == 0.0 && value.abs() <= INTEGERS && !(value == 0.0 && value.is_sign_negative())
}

/// The simplest fraction that reads back as exactly `value`, as exposure times are written:
/// convergents of the continued fraction are tried in turn.
fn quotient(value: f64) -> Option<(f64, f64)> {
    if !(value > 0.0 && value < INTEGERS) || value.fract() == 0.0 {
        return None;
    }
    let (mut before, mut last) = ((0.0, 1.0), (1.0, 0.0));
    let mut rest = value;
    for _ in 0..40 {
        let whole: f64 = rest.floor();
        let next = (whole * last.0 + before.0, whole * last.1 + before.1);
        if next.1 > MAX_DENOMINATOR || next.0 > INTEGERS {
            return None;
        }
        if next.1 > 0.0 && next.0 / next.1 == value {
            return Some(next);
        }
        (before, last) = (last, next);
        rest = 1.0 / (rest - whole);
    }
    None
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    fn text(value: f64, form: Form) -> String {
        let mut out = Vec::new();
        push(&mut out, value, form);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn what_numbers_look_like() {
        for (value, form, expected) in [
            (2.0, Form::Plain, "2"),
            (1.900034, Form::Plain, "1.900034"),
            (-0.0, Form::Plain, "-0.0"),
            (f64::INFINITY, Form::Plain, "Infinite"),
            (f64::NEG_INFINITY, Form::Plain, "-INF"),
            (f64::NAN, Form::Plain, "NaN"),
            (1.0 / 48.0, Form::Time, "1/48"),
            (1001.0 / 48000.0, Form::Time, "1001/48000"),
            (2.0, Form::Time, "2"),
            (f64::NAN, Form::Density, "NaN"),
            (1.0, Form::Density, "Clear"),
            (8.0, Form::Density, "1/8"),
            (29.97, Form::Rate, "29.97"),
        ] {
            assert_eq!(text(value, form), expected);
        }
    }

    #[test]
    fn what_others_write() {
        for (item, form, value) in [
            ("2.000000", Form::Plain, 2.0),
            ("infinite", Form::Plain, f64::INFINITY),
            ("INF", Form::Plain, f64::INFINITY),
            ("+1.5e1", Form::Plain, 15.0),
            ("clear", Form::Density, 1.0),
            ("30000/1001", Form::Rate, 30000.0 / 1001.0),
        ] {
            assert_eq!(read(item, form), Some(value), "{item}");
        }
        for (item, form) in [
            ("1,5", Form::Plain),
            ("1/8", Form::Plain),
            ("1e999", Form::Plain),
            ("0/0", Form::Time),
            ("8", Form::Density),
            ("", Form::Plain),
            ("2.8m", Form::Plain),
        ] {
            assert_eq!(read(item, form), None, "{item}");
        }
        assert!(read("nan", Form::Plain).unwrap().is_nan());
    }

    proptest! {
        #[test]
        fn every_number_reads_back(bits in any::<u64>(), whole in 0u32..100_000) {
            for value in [f64::from_bits(bits), f64::from(whole), 1.0 / f64::from(whole)] {
                for form in [Form::Plain, Form::Time, Form::Rate, Form::Density] {
                    let back = read(&text(value, form), form).unwrap();
                    prop_assert!(back.to_bits() == value.to_bits() || (back.is_nan() && value.is_nan()));
                }
            }
        }
    }
}
