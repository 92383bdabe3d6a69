//! The fast, exact path from decimal digits to a float.
//!
//! A mantissa up to 2^53 and a power of ten up to 10^22 are both exact as 64-bit floats, and one
//! division rounds correctly: the result is the float nearest to the text. Everything else
//! is left to the standard library's parser.

use crate::words;

/// Powers of ten that are exact as 64-bit floats and that 19 digits can need.
const POWERS: [f64; 20] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19,
];

/// Powers of ten for up to seven decimals.
const TENS: [u64; 8] = [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000];

/// Largest mantissa that is exact.
const EXACT: u64 = 1 << 53;

/// The plain decimal that starts at `at`, and where it ends. `None` where there is none, or none
/// that this path reads exactly. `point` is the decimal mark.
pub fn plain(bytes: &[u8], at: usize, point: u8) -> Option<(f64, usize)> {
    short(bytes, at, point).or_else(|| long(bytes, at, point))
}

/// A decimal without a sign and with at most seven digits on each side of the mark, a word of
/// text ahead of the end of the bytes: nearly all that recorders write.
#[inline(always)]
pub fn short(bytes: &[u8], at: usize, point: u8) -> Option<(f64, usize)> {
    let word = words::load(bytes, at)?;
    let count = words::leading_digits(word);
    if count.wrapping_sub(1) > 6 {
        return None;
    }
    let whole = words::decimal(word, count as u32);
    let mark = at + count;
    if *bytes.get(mark)? != point {
        return Some((whole as i64 as f64, mark));
    }
    let word = words::load(bytes, mark + 1)?;
    let decimals = words::leading_digits(word);
    if decimals.wrapping_sub(1) > 6 {
        return None;
    }
    // 14 digits are always exact.
    let (Some(shift), Some(divisor)) = (TENS.get(decimals), POWERS.get(decimals)) else {
        return None;
    };
    let mantissa = whole * shift + words::decimal(word, decimals as u32);
    // Signed numbers become floats in one instruction, unsigned ones take several.
    Some((mantissa as i64 as f64 / divisor, mark + 1 + decimals))
}

/// Any plain decimal.
#[inline(never)]
pub fn long(bytes: &[u8], at: usize, point: u8) -> Option<(f64, usize)> {
    let mut at = at;
    let negative = bytes.get(at) == Some(&b'-');
    if negative {
        at += 1;
    }
    let start = at;
    let mut mantissa: u64 = 0;
    while let Some(digit) = digit(bytes, at) {
        mantissa = mantissa.wrapping_mul(10).wrapping_add(digit);
        at += 1;
    }
    let mut digits = at - start;
    let mut decimals = 0;
    if bytes.get(at) == Some(&point) {
        at += 1;
        let fraction = at;
        while let Some(digit) = digit(bytes, at) {
            mantissa = mantissa.wrapping_mul(10).wrapping_add(digit);
            at += 1;
        }
        decimals = at - fraction;
        digits += decimals;
    }
    // 19 digits cannot overflow 64 bits; no digit at all is no number.
    if digits.wrapping_sub(1) > 18 || mantissa > EXACT {
        return None;
    }
    let mut value = mantissa as f64;
    if decimals > 0 {
        value /= POWERS.get(decimals)?;
    }
    Some((if negative { -value } else { value }, at))
}

#[inline(always)]
fn digit(bytes: &[u8], at: usize) -> Option<u64> {
    let digit = bytes.get(at)?.wrapping_sub(b'0');
    (digit < 10).then_some(u64::from(digit))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn reads_up_to_the_first_other_byte() {
        for (text, value, end) in [
            ("1001,", 1001.0, 4),
            ("-0.5", -0.5, 4),
            ("-0", -0.0, 2),
            (".5;", 0.5, 2),
            ("5.\n", 5.0, 2),
            ("1.5.2", 1.5, 3),
            ("0.15421", 0.15421, 7),
            ("9007199254740992", 9_007_199_254_740_992.0, 16),
        ] {
            let (read, stop) = plain(text.as_bytes(), 0, b'.').unwrap();
            assert_eq!((read.to_bits(), stop), (f64::to_bits(value), end), "{text}");
        }
        assert_eq!(plain(b"1,5;", 0, b','), Some((1.5, 3)));
    }

    #[test]
    fn leaves_the_rest_to_others() {
        for text in [
            "",
            "-",
            ".",
            "-.",
            ",",
            "inf",
            "+1",
            "9007199254740993",
            "0.00000000000000000001",
        ] {
            assert_eq!(plain(text.as_bytes(), 0, b'.'), None, "{text}");
        }
    }

    proptest! {
        #[test]
        fn equals_the_standard_library(text in "-?[0-9]{1,17}(\\.[0-9]{0,18})?", behind in ",|,        |,1.5,2.5,3.5") {
            let bytes = [text.as_bytes(), behind.as_bytes()].concat();
            if let Some((value, end)) = plain(&bytes, 0, b'.') {
                prop_assert_eq!(end, text.len());
                prop_assert_eq!(value.to_bits(), text.parse::<f64>().unwrap().to_bits());
            }
        }

        #[test]
        fn short_and_long_agree(bytes in "[0-9.,; -]{0,24}") {
            let bytes = bytes.as_bytes();
            if let Some(read) = short(bytes, 0, b'.') {
                prop_assert_eq!(Some(read), long(bytes, 0, b'.'));
            }
        }
    }
}
