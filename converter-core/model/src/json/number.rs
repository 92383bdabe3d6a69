//! Numbers as JSON text and back, bit for bit.

/// Whole numbers below are written without a point and read back exactly.
const WHOLE: f64 = 9_007_199_254_740_992.0;

/// Appends a finite number: its shortest text that reads back to the same bits. -0 becomes 0.
#[inline]
pub(super) fn push_finite(out: &mut Vec<u8>, value: f64) {
    let whole = value as i64;
    if whole as f64 == value && value.abs() < WHOLE {
        out.extend_from_slice(itoa::Buffer::new().format(whole).as_bytes());
    } else {
        out.extend_from_slice(zmij::Buffer::new().format_finite(value).as_bytes());
    }
}

/// Appends any number: NaN is `null`, infinity `"inf"`.
#[inline]
pub(super) fn push_value(out: &mut Vec<u8>, value: f64) {
    if value.is_finite() {
        push_finite(out, value);
    } else {
        out.extend_from_slice(word(value));
    }
}

/// JSON for what is no finite number.
pub(super) const fn word(value: f64) -> &'static [u8] {
    if value.is_nan() {
        b"null"
    } else if value > 0.0 {
        b"\"inf\""
    } else {
        b"\"-inf\""
    }
}

/// The text of finite metres in millimetres. The point is moved in the text: a product of
/// floats would not read back to the same bits.
pub(super) fn metres_to_mm_text(metres: f64) -> String {
    let text = format!("{:e}", metres + 0.0);
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    let exponent = exponent.parse::<i32>().unwrap_or(0) + 3;
    let (sign, mantissa) = mantissa
        .strip_prefix('-')
        .map_or(("", mantissa), |rest| ("-", rest));
    let digits = mantissa.replace('.', "");
    let whole = match usize::try_from(exponent) {
        Ok(exponent) if exponent < 16 => exponent + 1,
        _ => return format!("{sign}{mantissa}e{exponent}"),
    };
    match digits.split_at_checked(whole) {
        Some((digits, "")) => format!("{sign}{digits}"),
        Some((before, after)) => format!("{sign}{before}.{after}"),
        None if digits == "0" => digits,
        None => format!("{sign}{digits:0<whole$}"),
    }
}

/// The inverse: metres from the text of a number of millimetres.
pub(super) fn mm_text_to_metres(text: &str) -> Option<f64> {
    let (mantissa, exponent) = text.split_once(['e', 'E']).unwrap_or((text, "0"));
    let exponent = exponent.parse::<i32>().ok()?.checked_sub(3)?;
    let metres: f64 = format!("{mantissa}e{exponent}").parse().ok()?;
    metres.is_finite().then_some(metres + 0.0)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    fn text(value: f64) -> String {
        let mut out = Vec::new();
        push_value(&mut out, value);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn whole_numbers_have_no_point() {
        for (value, expected) in [
            (50.0, "50"),
            (0.0, "0"),
            (-0.0, "0"),
            (-7.0, "-7"),
            (1.5, "1.5"),
            (9_007_199_254_740_991.0, "9007199254740991"),
            (f64::NAN, "null"),
            (f64::INFINITY, "\"inf\""),
            (f64::NEG_INFINITY, "\"-inf\""),
        ] {
            assert_eq!(text(value), expected);
        }
    }

    #[test]
    fn millimetres_are_plain() {
        for (metres, expected) in [
            (0.0277, "27.7"),
            (0.03, "30"),
            (12.0, "12000"),
            (0.0005, "5e-1"),
            (0.0, "0"),
            (-0.0, "0"),
            (-0.0277, "-27.7"),
            (1e30, "1e33"),
        ] {
            assert_eq!(metres_to_mm_text(metres), expected);
        }
    }

    proptest! {
        #[test]
        fn every_finite_number_reads_back(bits in any::<u64>()) {
            let value = f64::from_bits(bits);
            prop_assume!(value.is_finite());
            let read: f64 = serde_json::from_str::<serde_json::Value>(&text(value)).unwrap()
                .to_string().parse().unwrap();
            let exact: f64 = text(value).parse().unwrap();
            prop_assert_eq!(exact.to_bits(), (value + 0.0).to_bits());
            prop_assert!((read - value).abs() <= value.abs() * 1e-15);
            let mm = metres_to_mm_text(value);
            if let Some(metres) = mm_text_to_metres(&mm) {
                prop_assert_eq!(metres.to_bits(), (value + 0.0).to_bits());
            } else {
                prop_assert!(false, "{}", mm);
            }
            prop_assert!(serde_json::from_str::<serde_json::Value>(&mm).is_ok() || value.abs() > 1e304);
        }
    }
}
