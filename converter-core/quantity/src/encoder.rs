//! How the raw positions of a ring map to 0..1.

use crate::{QuantityError, Unit};

/// The raw positions of a ring at its two end stops.
///
/// `low` is the raw value at ratio 0 and `high` at ratio 1; an encoder that counts backwards has `low` above `high`.
/// Positions outside the range give ratios below 0 or above 1: whether that is a fault is for a check to say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingScale {
    low: f64,
    high: f64,
    unit: Unit,
}

impl RingScale {
    /// A scale in encoder counts.
    pub fn counts(low: f64, high: f64) -> Result<Self, QuantityError> {
        Self::checked(low, high, Unit::Count)
    }

    /// A scale in degrees of rotation.
    pub fn degrees(zero: f64, full: f64) -> Result<Self, QuantityError> {
        Self::checked(zero, full, Unit::Degree)
    }

    /// A scale that is 0..1 already.
    pub const fn ratio() -> Self {
        Self {
            low: 0.0,
            high: 1.0,
            unit: Unit::Ratio,
        }
    }

    /// A scale from 0 to 100 per cent.
    pub const fn percent() -> Self {
        Self {
            low: 0.0,
            high: 100.0,
            unit: Unit::Percent,
        }
    }

    fn checked(low: f64, high: f64, unit: Unit) -> Result<Self, QuantityError> {
        if low == high {
            return Err(QuantityError::Value {
                quantity: "ring range",
                value: low,
                unit,
                expected: "two different end stops",
                help: "read the position at both end stops of the ring",
            });
        }
        if !(high - low).is_finite() {
            return Err(QuantityError::Value {
                quantity: "ring range",
                value: if low.is_finite() { high } else { low },
                unit,
                expected: "two finite end stops",
                help: "read the position at both end stops of the ring",
            });
        }
        Ok(Self { low, high, unit })
    }

    /// Raw position at ratio 0.
    pub const fn low(self) -> f64 {
        self.low
    }

    /// Raw position at ratio 1.
    pub const fn high(self) -> f64 {
        self.high
    }

    /// Unit of the raw positions.
    pub const fn unit(self) -> Unit {
        self.unit
    }

    /// Whether raw positions fall as the ratio rises.
    pub fn is_reversed(self) -> bool {
        self.low > self.high
    }

    /// Ratio of a raw position; `NaN` stays `NaN`.
    #[inline]
    pub fn to_ratio(self, raw: f64) -> f64 {
        (raw - self.low) / (self.high - self.low)
    }

    /// Raw position of a ratio, exact at both end stops; `NaN` stays `NaN`.
    #[inline]
    pub fn from_ratio(self, ratio: f64) -> f64 {
        self.low * (1.0 - ratio) + self.high * ratio
    }

    /// [`to_ratio`](Self::to_ratio) of many, in place.
    pub fn to_ratio_all(self, positions: &mut [f64]) {
        positions.iter_mut().for_each(|p| *p = self.to_ratio(*p));
    }

    /// [`from_ratio`](Self::from_ratio) of many, in place.
    pub fn from_ratio_all(self, positions: &mut [f64]) {
        positions.iter_mut().for_each(|p| *p = self.from_ratio(*p));
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn forward_and_reversed() {
        let scale = RingScale::counts(1000.0, 61_000.0).unwrap();
        assert_eq!(scale.to_ratio(1000.0), 0.0);
        assert_eq!(scale.to_ratio(31_000.0), 0.5);
        assert_eq!(scale.to_ratio(61_000.0), 1.0);
        assert!(!scale.is_reversed());
        let back = RingScale::counts(61_000.0, 1000.0).unwrap();
        assert_eq!(back.to_ratio(61_000.0), 0.0);
        assert_eq!(back.to_ratio(16_000.0), 0.75);
        assert!(back.is_reversed());
        assert_eq!(RingScale::degrees(0.0, 280.0).unwrap().to_ratio(140.0), 0.5);
        assert_eq!(RingScale::percent().to_ratio(25.0), 0.25);
        assert_eq!(RingScale::ratio().to_ratio(0.1), 0.1);
    }

    #[test]
    fn many_as_one_and_not_recorded() {
        let scale = RingScale::degrees(10.0, 290.0).unwrap();
        let mut positions = [10.0, 150.0, 290.0, f64::NAN, 304.0];
        scale.to_ratio_all(&mut positions);
        assert_eq!(positions[..3], [0.0, 0.5, 1.0]);
        assert!(positions[3].is_nan());
        assert_eq!(positions[4], 1.05);
        scale.from_ratio_all(&mut positions);
        assert_eq!(positions[..3], [10.0, 150.0, 290.0]);
    }

    #[test]
    fn refuses_no_range() {
        for (low, high) in [
            (5.0, 5.0),
            (0.0, f64::INFINITY),
            (f64::NAN, 1.0),
            (f64::MIN, f64::MAX),
        ] {
            assert!(RingScale::counts(low, high).is_err(), "{low} {high}");
        }
    }

    proptest! {
        #[test]
        fn round_trip(low in -1e6..1e6f64, span in 1.0..1e6f64, reversed in any::<bool>(), ratio in 0.0..1.0f64) {
            let (low, high) = if reversed { (low + span, low) } else { (low, low + span) };
            let scale = RingScale::counts(low, high).unwrap();
            prop_assert_eq!(scale.from_ratio(0.0), low);
            prop_assert_eq!(scale.from_ratio(1.0), high);
            prop_assert!((scale.to_ratio(scale.from_ratio(ratio)) - ratio).abs() < 1e-9);
        }
    }
}
