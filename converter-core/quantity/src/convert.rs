//! From one unit to another with the fewest roundings.

use std::f64::consts::PI;

use crate::{Dimension, QuantityError, Unit};

/// A conversion between two units, worked out once and applied to many numbers.
///
/// Numbers are multiplied and divided by whole numbers, never by a rounded factor: 5.5 ft is 1.6764 m to the last bit, and
/// to a unit and back is within 2 units in the last place. `NaN` stays `NaN`. Infinite lengths stay
/// infinite; in dioptres they are 0, and 0 D (also -0 D) is `+inf` in any length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conversion(Step);

#[derive(Debug, Clone, Copy, PartialEq)]
enum Step {
    Same,
    Multiply(f64),
    Divide(f64),
    /// `value * numerator / denominator`, both whole numbers.
    Scale(f64, f64),
    /// `constant / value`: dioptres.
    DivideInto(f64),
}

/// Number of `unit` in one base unit (metre, degree, ratio) as an exact fraction, and nothing for others.
const fn per_base(unit: Unit) -> Option<(u64, u64)> {
    match unit {
        Unit::Metre | Unit::Degree | Unit::Ratio => Some((1, 1)),
        Unit::Centimetre | Unit::Percent => Some((100, 1)),
        Unit::Millimetre => Some((1_000, 1)),
        Unit::Micrometre => Some((1_000_000, 1)),
        // 1 in = 25.4 mm exactly, so 1 m = 5000/127 in: international yard and pound agreement, 1959.
        Unit::Inch | Unit::FeetInches => Some((5_000, 127)),
        // 1 ft = 12 in = 0.3048 m exactly.
        Unit::Foot => Some((1_250, 381)),
        Unit::ArcMinute => Some((60, 1)),
        _ => None,
    }
}

impl Conversion {
    /// The conversion of numbers in `from` to numbers in `to`.
    pub fn between(from: Unit, to: Unit) -> Result<Conversion, QuantityError> {
        if from == to {
            return Ok(Conversion(Step::Same));
        }
        let step = match (from, to) {
            _ if from.dimension() != to.dimension() => None,
            (Unit::Dioptre, length) | (length, Unit::Dioptre) => reciprocal(length),
            (Unit::Radian, angle) => Some(Step::Divide(radians_in(angle))),
            (angle, Unit::Radian) => Some(Step::Multiply(radians_in(angle))),
            _ => proportional(from, to),
        };
        step.map(Conversion)
            .ok_or_else(|| QuantityError::Conversion {
                from,
                to,
                help: why_not(from, to),
            })
    }

    /// Whether numbers stay as they are.
    pub fn is_identity(self) -> bool {
        self.0 == Step::Same
    }

    /// Converts one number.
    #[inline]
    pub fn apply(self, value: f64) -> f64 {
        match self.0 {
            Step::Same => value,
            Step::Multiply(factor) => value * factor,
            Step::Divide(factor) => value / factor,
            Step::Scale(n, d) => value * n / d,
            Step::DivideInto(constant) => divide_into(constant, value),
        }
    }

    /// Converts numbers in place.
    pub fn apply_all(self, values: &mut [f64]) {
        match self.0 {
            Step::Same => {}
            Step::Multiply(factor) => values.iter_mut().for_each(|v| *v *= factor),
            Step::Divide(factor) => values.iter_mut().for_each(|v| *v /= factor),
            Step::Scale(n, d) => values.iter_mut().for_each(|v| *v = *v * n / d),
            Step::DivideInto(constant) => {
                values
                    .iter_mut()
                    .for_each(|v| *v = divide_into(constant, *v));
            }
        }
    }
}

/// Adding 0 turns -0 into +0: no focus distance is minus infinity.
#[inline]
fn divide_into(constant: f64, value: f64) -> f64 {
    constant / (value + 0.0)
}

/// Metres times dioptres is 1, so length to dioptre and dioptre to length are one function.
fn reciprocal(length: Unit) -> Option<Step> {
    per_base(length).map(|(n, d)| Step::DivideInto(n as f64 / d as f64))
}

/// Radians in one `angle`.
fn radians_in(angle: Unit) -> f64 {
    if angle == Unit::ArcMinute {
        PI / 10_800.0
    } else {
        PI / 180.0
    }
}

fn proportional(from: Unit, to: Unit) -> Option<Step> {
    let (from_n, from_d) = per_base(from)?;
    let (to_n, to_d) = per_base(to)?;
    let (n, d) = (to_n * from_d, to_d * from_n);
    let common = gcd(n, d);
    let (n, d) = (n / common, d / common);
    Some(match (n, d) {
        (1, 1) => Step::Same,
        (n, 1) => Step::Multiply(n as f64),
        (1, d) => Step::Divide(d as f64),
        (n, d) => Step::Scale(n as f64, d as f64),
    })
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn why_not(from: Unit, to: Unit) -> &'static str {
    use Dimension::{Angle, FNumber, RingPosition, TStop};
    match (from.dimension(), to.dimension()) {
        (TStop, FNumber) | (FNumber, TStop) => {
            "T = f-number / sqrt(transmittance): the lens's transmittance is needed"
        }
        (RingPosition, RingPosition) => {
            "the encoder's range is needed: say its counts at both end stops"
        }
        (RingPosition, Angle) | (Angle, RingPosition) => {
            "the ring's range is needed: say its degrees at both end stops"
        }
        _ => "they measure different things: check the unit of the column",
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    fn convert(value: f64, from: Unit, to: Unit) -> f64 {
        Conversion::between(from, to).unwrap().apply(value)
    }

    #[test]
    fn exact_factors() {
        use Unit::*;
        for (value, from, to, expected) in [
            // Exact by definition of the inch.
            (1.0, Inch, Millimetre, 25.4),
            (1.0, Foot, Metre, 0.3048),
            (5.0, Foot, Metre, 1.524),
            (1.524, Metre, Foot, 5.0),
            (0.3048, Metre, Foot, 1.0),
            (1.0, Foot, Inch, 12.0),
            (66.0, FeetInches, Foot, 5.5),
            (5.5, Foot, FeetInches, 66.0),
            (66.0, FeetInches, Metre, 1.6764),
            (66.0, FeetInches, Inch, 66.0),
            (1676.0, Millimetre, Metre, 1.676),
            (1.2, Metre, Centimetre, 120.0),
            (1.0, Millimetre, Micrometre, 1000.0),
            (50.8, Millimetre, Inch, 2.0),
            (2.54, Centimetre, Inch, 1.0),
            (12.5, Degree, ArcMinute, 750.0),
            (750.0, ArcMinute, Degree, 12.5),
            (180.0, Degree, Radian, PI),
            (50.0, Percent, Ratio, 0.5),
            (0.07, Ratio, Percent, 7.000000000000001),
            (2.0, Dioptre, Metre, 0.5),
            (2.0, Dioptre, Millimetre, 500.0),
            (500.0, Millimetre, Dioptre, 2.0),
            (1.0, Dioptre, Foot, 1250.0 / 381.0),
        ] {
            assert_eq!(
                convert(value, from, to),
                expected,
                "{value} {from:?} in {to:?}"
            );
        }
    }

    #[test]
    fn roundings_are_the_fewest() {
        use Unit::*;
        for (from, to, step) in [
            (Millimetre, Metre, Step::Divide(1000.0)),
            (Metre, Millimetre, Step::Multiply(1000.0)),
            (Foot, Metre, Step::Scale(381.0, 1250.0)),
            (Metre, Foot, Step::Scale(1250.0, 381.0)),
            (Inch, Millimetre, Step::Scale(127.0, 5.0)),
            (Millimetre, Inch, Step::Scale(5.0, 127.0)),
            (Inch, Foot, Step::Divide(12.0)),
            (Foot, Inch, Step::Multiply(12.0)),
            (FeetInches, Metre, Step::Scale(127.0, 5000.0)),
            (Metre, FeetInches, Step::Scale(5000.0, 127.0)),
            (Centimetre, Foot, Step::Scale(25.0, 762.0)),
            (Micrometre, Inch, Step::Divide(25_400.0)),
            (Inch, FeetInches, Step::Same),
        ] {
            assert_eq!(
                Conversion::between(from, to),
                Ok(Conversion(step)),
                "{from:?} to {to:?}"
            );
        }
    }

    #[test]
    fn what_a_barrel_can_say_is_exact() {
        // Quarter inches are exact in binary, so the metres must be the nearest double of the exact decimal.
        for quarters in 1..4800_u32 {
            let exact = format!("{}e-5", quarters * 635);
            let metres = convert(f64::from(quarters) / 4.0, Unit::FeetInches, Unit::Metre);
            assert_eq!(
                metres,
                exact.parse::<f64>().unwrap(),
                "{quarters} quarter inches"
            );
        }
        assert_eq!(convert(5.5, Unit::Foot, Unit::Metre), 1.6764);
    }

    #[test]
    fn infinity_and_not_recorded() {
        for unit in [Unit::Metre, Unit::Foot, Unit::FeetInches, Unit::Micrometre] {
            assert_eq!(convert(f64::INFINITY, Unit::Metre, unit), f64::INFINITY);
            assert_eq!(convert(0.0, Unit::Dioptre, unit), f64::INFINITY);
            assert_eq!(convert(-0.0, Unit::Dioptre, unit), f64::INFINITY);
            assert_eq!(convert(f64::INFINITY, unit, Unit::Dioptre), 0.0);
            assert!(convert(f64::NAN, unit, Unit::Dioptre).is_nan());
            assert!(convert(f64::NAN, Unit::Metre, unit).is_nan());
        }
    }

    #[test]
    fn what_does_not_convert_says_what_is_missing() {
        for (from, to, needed) in [
            (Unit::TStop, Unit::FNumber, "transmittance"),
            (Unit::FNumber, Unit::TStop, "transmittance"),
            (Unit::Count, Unit::Ratio, "encoder's range"),
            (Unit::Degree, Unit::Ratio, "degrees at both end stops"),
            (Unit::Metre, Unit::Degree, "different things"),
            (Unit::One, Unit::Metre, "bare number"),
        ] {
            let said = Conversion::between(from, to).unwrap_err().to_string();
            assert!(said.contains(needed), "{said}");
        }
    }

    fn units() -> impl Strategy<Value = Unit> {
        prop::sample::select(Unit::ALL.to_vec())
    }

    /// Steps of one unit in the last place between two positive numbers.
    fn ulps(a: f64, b: f64) -> u64 {
        a.to_bits().abs_diff(b.to_bits())
    }

    proptest! {
        // Each way is one multiplication or division by the same constant, so one rounding of at most half a unit of
        // the result, which is below one unit of the first number: below two units for both.
        #[test]
        fn back_and_forth_is_within_two_ulp(from in units(), to in units(), mantissa in 1.0..2.0f64, exponent in -600..600i32) {
            if let Ok(there) = Conversion::between(from, to) {
                let back = Conversion::between(to, from).unwrap();
                let value = mantissa * 2f64.powi(exponent);
                let returned = back.apply(there.apply(value));
                prop_assert!(ulps(value, returned) <= 2, "{value} {from:?} {to:?} {returned}");
            }
        }

        #[test]
        fn many_are_converted_as_one(from in units(), to in units(), value in any::<f64>()) {
            if let Ok(conversion) = Conversion::between(from, to) {
                let mut values = [value; 3];
                conversion.apply_all(&mut values);
                for converted in values {
                    prop_assert_eq!(converted.to_bits(), conversion.apply(value).to_bits());
                }
                prop_assert_eq!(conversion.is_identity(), from == to || conversion.apply(3.0) == 3.0);
            }
        }

        #[test]
        fn one_dimension_converts_both_ways_and_nothing_else_does(from in units(), to in units()) {
            let converts = from == to || from.dimension() == to.dimension() && from != Unit::Count && to != Unit::Count;
            prop_assert_eq!(Conversion::between(from, to).is_ok(), converts);
            prop_assert_eq!(Conversion::between(to, from).is_ok(), converts);
        }
    }
}
