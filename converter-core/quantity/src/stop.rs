//! T-stops and f-numbers, and differences in stops.
//!
//! f-number = focal length / entrance pupil diameter; T = f-number / sqrt(transmittance). Each stop is half the light,
//! so whole stops are `2^(k/2)` and fractions of a stop are added to the logarithm, never to the number.
//! Engraved values are rounded marks of that series (2.8 for 2.8284, 11 for 11.3137) and are kept as engraved.

use crate::{QuantityError, Unit};

/// Stops from `a` to `b`, `2 log2(b / a)`: above zero if `b` lets less light through.
pub fn stops_between(a: f64, b: f64) -> f64 {
    2.0 * (b / a).log2()
}

/// The number `stops` further closed: `number * 2^(stops / 2)`.
pub fn plus_stops(number: f64, stops: f64) -> f64 {
    number * (stops / 2.0).exp2()
}

macro_rules! stop_number {
    ($(#[$doc:meta])* $name:ident, $quantity:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// A number above zero and finite; a closed iris has none.
            pub fn new(value: f64) -> Result<Self, QuantityError> {
                if value > 0.0 && value.is_finite() {
                    Ok(Self(value))
                } else {
                    Err(QuantityError::Value {
                        quantity: $quantity,
                        value,
                        unit: Unit::$name,
                        expected: "a number above 0",
                        help: "leave out what is not recorded, and a closed iris where only open stops make sense",
                    })
                }
            }

            /// The number.
            pub const fn value(self) -> f64 {
                self.0
            }

            /// Stops from this one to `other`, above zero if `other` lets less light through.
            pub fn stops_between(self, other: Self) -> f64 {
                stops_between(self.0, other.0)
            }

            /// This one closed by `stops` (opened if below zero).
            pub fn plus_stops(self, stops: f64) -> Result<Self, QuantityError> {
                Self::new(plus_stops(self.0, stops))
            }
        }
    };
}

stop_number!(
    /// A T-stop: what the lens transmits.
    TStop,
    "T-stop"
);
stop_number!(
    /// An f-number: focal length over entrance pupil diameter.
    FNumber,
    "f-number"
);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    // Whole stops N = 2^(k/2) and the marks in use for them (ISO 517, from memory), error of the mark in stops.
    #[test]
    #[allow(
        clippy::approx_constant,
        reason = "a table to four decimals, as printed"
    )]
    fn whole_stops_and_their_marks() {
        for (k, exact, mark, error) in [
            (-1.0, 0.7071, 0.7, -0.029),
            (0.0, 1.0, 1.0, 0.0),
            (1.0, 1.4142, 1.4, -0.029),
            (2.0, 2.0, 2.0, 0.0),
            (3.0, 2.8284, 2.8, -0.029),
            (4.0, 4.0, 4.0, 0.0),
            (5.0, 5.6569, 5.6, -0.029),
            (6.0, 8.0, 8.0, 0.0),
            (7.0, 11.3137, 11.0, -0.081),
            (8.0, 16.0, 16.0, 0.0),
            (9.0, 22.6274, 22.0, -0.081),
            (10.0, 32.0, 32.0, 0.0),
            (11.0, 45.2548, 45.0, -0.016),
            (12.0, 64.0, 64.0, 0.0),
        ] {
            let value = plus_stops(1.0, k);
            assert!((value - exact).abs() < 5e-5, "{k}: {value}");
            let off = FNumber::new(value)
                .unwrap()
                .stops_between(FNumber::new(mark).unwrap());
            assert!((off - error).abs() < 5e-4, "{mark}: {off}");
        }
    }

    // Thirds N = 2^(k/6) and halves N = 2^(k/4) with their marks (marks from memory, exact values computed apart).
    // 1.2 and 13 are marks of both series and mean different stops.
    #[test]
    #[allow(
        clippy::approx_constant,
        reason = "a table to four decimals, as printed"
    )]
    fn thirds_and_halves() {
        let thirds = [
            (1.1, 1.1225),
            (1.2, 1.2599),
            (1.4, 1.4142),
            (1.6, 1.5874),
            (1.8, 1.7818),
            (2.0, 2.0),
            (2.2, 2.2449),
            (2.5, 2.5198),
            (2.8, 2.8284),
            (3.2, 3.1748),
            (3.5, 3.5636),
            (4.0, 4.0),
            (4.5, 4.4898),
            (5.0, 5.0397),
            (5.6, 5.6569),
            (6.3, 6.3496),
            (7.1, 7.1272),
            (8.0, 8.0),
            (9.0, 8.9797),
            (10.0, 10.0794),
            (11.0, 11.3137),
            (13.0, 12.6992),
            (14.0, 14.2544),
            (16.0, 16.0),
            (18.0, 17.9594),
            (20.0, 20.1587),
            (22.0, 22.6274),
        ];
        let halves = [
            (1.2, 1.1892),
            (1.4, 1.4142),
            (1.7, 1.6818),
            (2.0, 2.0),
            (2.4, 2.3784),
            (2.8, 2.8284),
            (3.3, 3.3636),
            (4.0, 4.0),
            (4.8, 4.7568),
            (5.6, 5.6569),
            (6.7, 6.7272),
            (8.0, 8.0),
            (9.5, 9.5137),
            (11.0, 11.3137),
            (13.0, 13.4543),
            (16.0, 16.0),
            (19.0, 19.0273),
        ];
        for (series, parts) in [(thirds.as_slice(), 3.0), (halves.as_slice(), 2.0)] {
            for (index, &(mark, exact)) in series.iter().enumerate() {
                let value = plus_stops(1.0, (index + 1) as f64 / parts);
                assert!((value - exact).abs() < 5.1e-5, "{exact}: {value}");
                assert!(stops_between(value, mark).abs() < 0.15, "{mark}: {value}");
            }
        }
    }

    #[test]
    fn closing_by_stops() {
        let t = TStop::new(2.8).unwrap();
        let closed = t.plus_stops(1.0 / 3.0).unwrap();
        assert!((closed.value() - 3.142_893_7).abs() < 1e-6, "{closed:?}");
        assert!((t.stops_between(closed) - 1.0 / 3.0).abs() < 1e-12);
        assert_eq!(t.plus_stops(2.0).unwrap().value(), 5.6);
        assert_eq!(t.plus_stops(-2.0).unwrap().value(), 1.4);
    }

    #[test]
    fn refuses_what_is_no_stop() {
        for value in [0.0, -2.8, f64::NAN, f64::INFINITY] {
            assert!(
                TStop::new(value).is_err() && FNumber::new(value).is_err(),
                "{value}"
            );
        }
        assert!(TStop::new(2.8).unwrap().plus_stops(1e9).is_err());
    }
}
