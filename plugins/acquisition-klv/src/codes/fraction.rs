//! Fractions of two 32-bit whole numbers.

/// Values below cannot be stored with the precision that the manifest states.
pub const LEAST: f64 = 1e-9;
/// The largest value.
pub const MOST: f64 = u32::MAX as f64;
/// The largest error as a part of the value.
#[cfg(test)]
pub const RELATIVE: f64 = 2.4e-10;

/// The simplest fraction of exactly this value, else the nearest. Zero is 0/1.
///
/// The same number always gives the same fraction, and that fraction gives itself again.
pub fn encode(value: f64) -> Option<(u32, u32)> {
    if value == 0.0 {
        return Some((0, 1));
    }
    if !(LEAST..=MOST).contains(&value) {
        return None;
    }
    // Where no fraction has exactly this value, the one found may have a simpler name itself.
    let mut value = value;
    let mut found = approach(value)?;
    for _ in 0..32 {
        if ratio(found) == value {
            break;
        }
        value = ratio(found);
        found = approach(value)?;
    }
    Some(found)
}

/// The number that a fraction is.
pub fn ratio((num, den): (u32, u32)) -> f64 {
    f64::from(num) / f64::from(den)
}

/// Convergents of the continued fraction until one is exact or the numbers grow too large; then
/// the last intermediate fraction, if it is nearer.
fn approach(value: f64) -> Option<(u32, u32)> {
    let limit = i128::from(u32::MAX);
    let (mut p0, mut q0, mut p1, mut q1) = (0i128, 1i128, 1i128, 0i128);
    let (mut num, mut den) = exact(value);
    let mut best = None;
    while den != 0 {
        let whole = num / den;
        let room = |before: i128, last: i128| match last {
            0 => whole,
            last => (limit - before) / last,
        };
        let taken = whole.min(room(p0, p1)).min(room(q0, q1));
        let next = (p0 + taken * p1, q0 + taken * q1);
        if let (Ok(p), Ok(q)) = (u32::try_from(next.0), u32::try_from(next.1))
            && p != 0
            && q != 0
        {
            let nearer =
                |other: (u32, u32)| (ratio((p, q)) - value).abs() < (ratio(other) - value).abs();
            if best.is_none_or(nearer) {
                best = Some((p, q));
            }
        }
        if taken < whole || best.is_some_and(|b| ratio(b) == value) {
            break;
        }
        (p0, q0, p1, q1) = (p1, q1, next.0, next.1);
        (num, den) = (den, num - whole * den);
    }
    best
}

/// A float from [`LEAST`] on as a fraction.
fn exact(value: f64) -> (i128, i128) {
    let bits = value.to_bits();
    let exponent = (bits >> 52 & 0x7ff) as i32 - 1075;
    let mantissa = i128::from(bits & ((1 << 52) - 1) | 1 << 52);
    if exponent >= 0 {
        (mantissa << exponent.min(64), 1)
    } else {
        (mantissa, 1 << (-exponent).min(120))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_usual_fractions() {
        for (num, den) in [
            (30_000, 1001),
            (24, 1),
            (1, 48),
            (1001, 60_000),
            (1, 4),
            (24_000, 1001),
            (1, 8000),
            (4_294_967_295, 1),
            (47_952, 1000),
        ] {
            let value = ratio((num, den));
            let found = encode(value).unwrap();
            assert_eq!(ratio(found), value);
            assert!(found.0 <= num && found.1 <= den, "{found:?}");
        }
        assert_eq!(encode(30_000.0 / 1001.0), Some((30_000, 1001)));
        assert_eq!(encode(0.25), Some((1, 4)));
        assert_eq!(encode(0.0), Some((0, 1)));
        for value in [f64::NAN, f64::INFINITY, -1.0, 1e-10, 5e9, 5e-324] {
            assert_eq!(encode(value), None, "{value}");
        }
    }

    #[test]
    fn the_error_is_what_the_manifest_says() {
        let mut worst: f64 = 0.0;
        for step in 0..400_000 {
            let value = LEAST * (MOST / LEAST).powf((f64::from(step) + 0.37) / 4e5);
            let found = encode(value).unwrap();
            let back = ratio(found);
            worst = worst.max((back - value).abs() / value);
            assert_eq!(encode(back), Some(found), "{value}");
        }
        assert!(worst <= RELATIVE, "{worst}");
    }
}
