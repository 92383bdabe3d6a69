//! Distances in 16 bits: four bits of decimal exponent, twelve of mantissa, in metres.
//!
//! Several codes have one value: 2.5 m is 2500 · 10^-3 and 250 · 10^-2. Written is the one with
//! the largest mantissa, which is the one with the finest step.

const MANTISSAS: f64 = 4095.0;

/// Values below are stored with less than the precision that the manifest states.
pub const LEAST: f64 = 4.1e-6;
/// The largest value that a code has.
pub const MOST: f64 = 4.095e10;
/// Distances from here on are read as infinity. The sets have no code for infinity; nothing is
/// focused on at a thousand kilometres.
pub const INFINITE: f64 = 1e6;
/// The largest distance that is not read as infinity.
pub const MOST_FINITE: f64 = 999_000.0;
/// The largest error as a part of the value.
#[cfg(test)]
pub const RELATIVE: f64 = 0.00122;

/// Ten to the power of 0 to 8: exact, so that dividing by it rounds once.
const POWERS: [f64; 9] = [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8];

fn scaled(value: f64, exponent: i32) -> f64 {
    let power = POWERS[(exponent.unsigned_abs() as usize).min(8)];
    if exponent < 0 {
        value / power
    } else {
        value * power
    }
}

/// The value of a code in metres.
pub fn decode(code: u16) -> f64 {
    // The exponent is the upper four bits as a signed number.
    let exponent = i32::from(code as i16 >> 12);
    scaled(f64::from(code & 0xfff), exponent)
}

/// The code with the largest mantissa whose value is nearest.
pub fn encode(metres: f64) -> Option<u16> {
    if !(LEAST..=MOST).contains(&metres) {
        return None;
    }
    (-8..=7).find_map(|exponent| {
        let mantissa = scaled(metres, -exponent).round();
        (mantissa <= MANTISSAS).then_some((exponent as u16) << 12 | mantissa as u16)
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn one_value_has_one_written_code() {
        assert_eq!(decode(0xd9c4), 2.5);
        assert_eq!(decode(0xe0fa), 2.5);
        assert_eq!(encode(2.5), Some(0xd9c4));
        for code in 0..=u16::MAX {
            let value = decode(code);
            let Some(written) = encode(value) else {
                assert!(value < LEAST, "{value}");
                continue;
            };
            // Another code of the same value reads equal, and its mantissa is no smaller.
            assert_eq!(decode(written), value, "{code:04x}");
            assert!(written & 0xfff >= code & 0xfff);
            assert_eq!(encode(decode(written)), Some(written));
        }
    }

    #[test]
    fn the_ends_of_the_code() {
        assert_eq!(decode(0x7fff), MOST);
        assert_eq!(decode(0x8001), 1e-8);
        assert_eq!(encode(MOST_FINITE).map(decode), Some(MOST_FINITE));
        for metres in [0.0, -1.0, f64::NAN, f64::INFINITY, 4.096e10, 4e-6] {
            assert_eq!(encode(metres), None, "{metres}");
        }
    }

    #[test]
    fn the_error_is_what_the_manifest_says() {
        let mut worst: f64 = 0.0;
        for step in 0..=2_000_000 {
            let metres = LEAST * (MOST / LEAST).powf(f64::from(step) / 2e6);
            let back = decode(encode(metres.min(MOST)).unwrap());
            worst = worst.max((back - metres).abs() / metres);
        }
        // Half a step of the smallest mantissa in use: 4104.9 is no mantissa, 410.5 is half way.
        for digit in 0..9 {
            let metres = scaled(410.499_999, digit - 5);
            worst = worst.max((decode(encode(metres).unwrap()) - metres).abs() / metres);
        }
        assert!(worst <= RELATIVE && worst > 0.99 * RELATIVE, "{worst}");
    }

    #[test]
    fn near_distances_never_become_infinite() {
        for step in 0..100_000 {
            let metres = 900_000.0 + f64::from(step) * 0.99;
            assert!(decode(encode(metres).unwrap()) < INFINITE, "{metres}");
        }
    }
}
