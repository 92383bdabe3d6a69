//! 16-bit floats (IEEE 754 binary16).

/// The number; `None` for infinity and NaN.
pub fn decode(bits: u16) -> Option<f64> {
    let exponent = i32::from(bits >> 10 & 31);
    let fraction = f64::from(bits & 0x3ff);
    let size = match exponent {
        31 => return None,
        0 => fraction * (-24f64).exp2(),
        _ => (1024.0 + fraction) * f64::from(exponent - 25).exp2(),
    };
    Some(if bits >> 15 == 1 { -size } else { size })
}

/// The bits of a number that is exactly one; `None` for any other.
pub fn encode(number: f64) -> Option<u16> {
    let size = number.abs();
    let (mut low, mut high) = (0u16, 0x7bff);
    // Sizes grow with their bits.
    while low < high {
        let middle = low + (high - low) / 2;
        if decode(middle)? < size {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    let sign = u16::from(number.is_sign_negative()) << 15;
    (decode(low)? == size).then_some(sign | low)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_leads_back() {
        for bits in 0..=u16::MAX {
            match decode(bits) {
                Some(number) => assert_eq!(encode(number), Some(bits), "{bits:04x}"),
                None => assert!(bits & 0x7fff >= 0x7c00),
            }
        }
        assert_eq!(decode(0x3c00), Some(1.0));
        assert_eq!(decode(0xb800), Some(-0.5));
        assert_eq!(decode(0x7bff), Some(65_504.0));
        assert_eq!(encode(1.1), None);
        assert_eq!(encode(f64::NAN), None);
        assert_eq!(encode(f64::INFINITY), None);
    }
}
