//! Stop numbers in 16 bits: eight stops of two, f/256 down to just above f/1.
//!
//! N = 2^(8 · (1 − code / 65536)), as an independent open decoder reads it.

/// Codes for one unit of log2 N.
const PER_DOUBLING: f64 = 8192.0;

/// Numbers at or below cannot be stored: the next code would be that of 1.
pub const ABOVE: f64 = 1.0000424;
/// The largest number.
pub const MOST: f64 = 256.0;
/// Half a code step as a part of the value.
#[cfg(test)]
pub const RELATIVE: f64 = 4.24e-5;

/// The stop number of a code.
pub fn decode(code: u16) -> f64 {
    (8.0 - f64::from(code) / PER_DOUBLING).exp2()
}

/// The nearest code.
pub fn encode(number: f64) -> Option<u16> {
    if !(number > ABOVE && number <= MOST) {
        return None;
    }
    let code = (65_536.0 - number.log2() * PER_DOUBLING).round();
    Some(code.clamp(0.0, 65_535.0) as u16)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn every_code_leads_back() {
        for code in 0..=u16::MAX {
            assert_eq!(encode(decode(code)), Some(code), "{code}");
        }
        assert_eq!(decode(0), 256.0);
        assert_eq!(decode(0xe000), 2.0);
    }

    #[test]
    fn f_0_95_and_1_are_refused() {
        for number in [
            0.95,
            1.0,
            ABOVE,
            256.001,
            f64::NAN,
            f64::INFINITY,
            -2.0,
            0.0,
        ] {
            assert_eq!(encode(number), None, "{number}");
        }
    }

    #[test]
    fn the_error_is_at_most_half_a_step() {
        let mut worst: f64 = 0.0;
        for step in 0..2_000_000 {
            let number =
                ABOVE * 1.000_000_1 * (MOST / ABOVE / 1.000_001).powf(f64::from(step) / 2e6);
            let back = decode(encode(number).unwrap());
            worst = worst.max((back - number).abs() / number);
        }
        assert!(worst <= RELATIVE && worst > 0.99 * RELATIVE, "{worst}");
    }
}
