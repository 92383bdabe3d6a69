//! APEX values of Exif: powers of two as numbers.
//!
//! Av = 2 log2(N), Tv = -log2(t). From memory of CIPA DC-008; the values of its examples
//! (N = 1.4 has 0.97, 5.6 has 4.97) are tested.

/// Values outside are no aperture and no exposure time of any camera.
const POSSIBLE: std::ops::RangeInclusive<f64> = -32.0..=32.0;

/// The f-number of an aperture value.
pub fn f_number(av: f64) -> Option<f64> {
    POSSIBLE.contains(&av).then(|| (av / 2.0).exp2())
}

/// The aperture value of an f-number.
pub fn aperture(f_number: f64) -> f64 {
    2.0 * f_number.log2()
}

/// Seconds of a shutter speed value.
pub fn seconds(tv: f64) -> Option<f64> {
    POSSIBLE.contains(&tv).then(|| (-tv).exp2())
}

/// The shutter speed value of an exposure time in seconds.
pub fn shutter_speed(seconds: f64) -> f64 {
    -seconds.log2()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_values_of_the_standard() {
        // Exif rounds these to two places.
        for (number, av) in [(1.4, 0.97), (2.0, 2.0), (2.8, 2.97), (5.6, 4.97)] {
            assert!((aperture(number) - av).abs() < 0.005, "{number}");
        }
        assert_eq!(f_number(2.0), Some(2.0));
        assert_eq!(seconds(5.0), Some(1.0 / 32.0));
        assert_eq!(shutter_speed(0.25), 2.0);
        assert_eq!(f_number(4294967295.0), None);
        assert_eq!(seconds(f64::NAN), None);
    }
}
