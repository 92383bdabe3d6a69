//! Frame rates as exact rationals.

use std::fmt;

use num_rational::Ratio;

use crate::QuantityError;

/// Whole rates that are also run 1000/1001 slow, by common practice.
const SLOWED: [u32; 8] = [24, 30, 48, 60, 72, 96, 120, 240];

/// A decimal this near to a slowed rate, in frames per second, is more likely a cut one (23.9, 23.97) than meant.
const NEAR: f64 = 0.08;

/// A frame rate in frames per second, an exact fraction above zero in lowest terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct FrameRate(Ratio<u32>);

impl FrameRate {
    /// `num / den` frames per second; neither may be 0.
    pub fn new(num: u32, den: u32) -> Result<Self, QuantityError> {
        if num == 0 || den == 0 {
            let text = format!("{num}/{den}");
            return Err(refuse(&text, "a frame rate above 0"));
        }
        Ok(Self(Ratio::new(num, den)))
    }

    /// Reads `24`, `24000/1001`, `23.976`, `25.000`, each with or without `fps` or `Hz`.
    ///
    /// A decimal that is a multiple of 1000/1001 rounded to the digits it shows means that multiple: 23.976, 23.98 and
    /// 23.976024 are all 24000/1001. One that is only near such a rate is refused; any other decimal is taken exactly.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        let number = text.trim();
        let number = ["fps", "FPS", "Hz"]
            .iter()
            .find_map(|unit| number.strip_suffix(unit))
            .unwrap_or(number)
            .trim_end();
        let rate = match number.split_once('/') {
            Some((num, den)) => whole(num.trim()).zip(whole(den.trim())),
            None => whole(number).map(|num| (num, 1)),
        };
        match rate {
            Some((num, den)) if num > 0 && den > 0 => Ok(Self(Ratio::new(num, den))),
            Some(_) => Err(refuse(text, "a frame rate above 0")),
            None => decimal(text, number),
        }
    }

    /// The rate that a decimal number stands for, by the rule of [`FrameRate::parse`].
    pub fn from_decimal(rate: f64) -> Result<Self, QuantityError> {
        Self::parse(&rate.to_string())
    }

    /// Frames per second, rounded to a float.
    pub fn as_f64(self) -> f64 {
        f64::from(self.num()) / f64::from(self.den())
    }

    /// Numerator, in lowest terms.
    pub fn num(self) -> u32 {
        *self.0.numer()
    }

    /// Denominator, in lowest terms.
    pub fn den(self) -> u32 {
        *self.0.denom()
    }

    /// Labels per second: the rate rounded to a whole number, 24 for 24000/1001.
    pub fn nominal(self) -> u32 {
        self.0.round().to_integer()
    }

    /// Real time at the start of a frame, in seconds from frame 0.
    pub fn seconds(self, frame: u64) -> f64 {
        let ticks = u128::from(frame) * u128::from(self.den());
        ticks as f64 / f64::from(self.num())
    }
}

impl fmt::Display for FrameRate {
    /// `24000/1001`, or `24` for a whole rate; read back by [`FrameRate::parse`].
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// Digits only: the parser of the standard library would take a sign.
fn whole(text: &str) -> Option<u32> {
    text.bytes()
        .all(|byte| byte.is_ascii_digit())
        .then(|| text.parse().ok())
        .flatten()
}

fn decimal(text: &str, number: &str) -> Result<FrameRate, QuantityError> {
    let not_a_rate = || refuse(text, "a frame rate such as 24, 24000/1001 or 23.976");
    let (before, after) = number.split_once('.').ok_or_else(not_a_rate)?;
    let after = after.trim_end_matches('0');
    let integer = whole(before).ok_or_else(not_a_rate)?;
    if after.is_empty() {
        return FrameRate::new(integer, 1);
    }
    if !after.bytes().all(|byte| byte.is_ascii_digit()) {
        return Err(not_a_rate());
    }
    let value: f64 = number.parse().map_err(|_| not_a_rate())?;
    // Half a step of the last digit shown; a float printed in full may be off in its last digit.
    let half_step = 0.5 * 10f64.powi(-(after.len().min(12) as i32)) + 1e-9;
    for labels in SLOWED {
        let exact = f64::from(labels) * 1000.0 / 1001.0;
        let off = (value - exact).abs();
        if after.len() >= 2 && off <= half_step {
            return FrameRate::new(labels * 1000, 1001);
        }
        if off < NEAR {
            return Err(refuse(
                text,
                format!(
                    "{}/1001, which is not exactly this, or another rate",
                    labels * 1000
                ),
            ));
        }
    }
    let scale = u32::try_from(after.len())
        .ok()
        .and_then(|digits| 10u64.checked_pow(digits));
    let fraction: Option<u64> = after.parse().ok();
    scale
        .zip(fraction)
        .and_then(|(scale, fraction)| {
            let exact = Ratio::new(
                u64::from(integer)
                    .checked_mul(scale)?
                    .checked_add(fraction)?,
                scale,
            );
            let num = u32::try_from(*exact.numer()).ok()?;
            FrameRate::new(num, u32::try_from(*exact.denom()).ok()?).ok()
        })
        .ok_or_else(not_a_rate)
}

fn refuse(text: &str, expected: impl Into<std::borrow::Cow<'static, str>>) -> QuantityError {
    QuantityError::in_text(
        text,
        text,
        expected,
        "write the rate as a fraction, such as 24000/1001",
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn rates_as_people_write_them() {
        for (text, num, den, nominal) in [
            ("24", 24, 1, 24),
            ("24000/1001", 24000, 1001, 24),
            (" 24000 / 1001 ", 24000, 1001, 24),
            ("23.976", 24000, 1001, 24),
            ("23.98", 24000, 1001, 24),
            ("23.980", 24000, 1001, 24),
            ("23.976024", 24000, 1001, 24),
            ("23.976023976023978", 24000, 1001, 24),
            ("29.97", 30000, 1001, 30),
            ("29.970000", 30000, 1001, 30),
            ("29.97 fps", 30000, 1001, 30),
            ("47.952", 48000, 1001, 48),
            ("47.95", 48000, 1001, 48),
            ("59.94", 60000, 1001, 60),
            ("119.88", 120_000, 1001, 120),
            ("25.000", 25, 1, 25),
            ("24 fps", 24, 1, 24),
            ("24fps", 24, 1, 24),
            ("50 Hz", 50, 1, 50),
            ("48/2", 24, 1, 24),
            ("12.5", 25, 2, 13),
            ("33.333", 33333, 1000, 33),
        ] {
            let rate = FrameRate::parse(text).unwrap();
            assert_eq!(
                (rate.num(), rate.den(), rate.nominal()),
                (num, den, nominal),
                "{text}"
            );
        }
    }

    #[test]
    fn refuses_what_is_no_rate_and_what_is_near_one() {
        for text in [
            "",
            "fps",
            "0",
            "0/1",
            "24/0",
            "-24",
            "+24",
            "1/-2",
            "24,0",
            "23.97",
            "29.98",
            "23.9",
            "24x",
            "1e3",
            "inf",
            "nan",
            "99999999999",
            "1.00000000000000001",
            ".",
            ".5.",
        ] {
            let error = FrameRate::parse(text).unwrap_err();
            assert!(error.to_string().contains(text), "{error}");
        }
        assert!(FrameRate::new(0, 1).is_err() && FrameRate::new(1, 0).is_err());
        assert!(
            FrameRate::parse("23.97")
                .unwrap_err()
                .to_string()
                .contains("24000/1001")
        );
    }

    #[test]
    fn decimal_numbers() {
        assert_eq!(FrameRate::from_decimal(23.976), FrameRate::new(24000, 1001));
        assert_eq!(
            FrameRate::from_decimal(30000.0 / 1001.0),
            FrameRate::new(30000, 1001)
        );
        assert_eq!(FrameRate::from_decimal(25.0), FrameRate::new(25, 1));
        assert!(FrameRate::from_decimal(f64::NAN).is_err());
    }

    proptest! {
        #[test]
        fn text_reads_back(num in 1..=u32::MAX, den in 1..=u32::MAX) {
            let rate = FrameRate::new(num, den).unwrap();
            prop_assert_eq!(FrameRate::parse(&rate.to_string()).unwrap(), rate);
        }

        #[test]
        fn never_panics(text in "\\PC*") {
            let _ = FrameRate::parse(&text);
        }

        #[test]
        fn never_panics_on_near_numbers(text in "[0-9./ fpsHz-]{0,40}") {
            if let Ok(rate) = FrameRate::parse(&text) {
                prop_assert!(rate.num() > 0);
                rate.nominal();
            }
        }
    }
}
