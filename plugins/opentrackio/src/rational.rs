//! `{num, denom}` and the texts and numbers it stands for.

/// A quotient within the limits of the standard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rational {
    /// 1 to 2147483647.
    pub num: u32,
    /// 1 to 4294967295.
    pub denom: u32,
}

impl Rational {
    /// A quotient the standard allows.
    pub fn new(num: f64, denom: f64) -> Option<Self> {
        let whole = |value: f64, most: f64| {
            (value >= 1.0 && value <= most && value.fract() == 0.0).then_some(value as u32)
        };
        Some(Rational {
            num: whole(num, f64::from(i32::MAX))?,
            denom: whole(denom, f64::from(u32::MAX))?,
        })
    }

    /// The rate written as `24` or `24000/1001`; the text is exactly [`Rational::rate_text`].
    pub fn from_rate_text(text: &str) -> Option<Self> {
        let (num, denom) = text.split_once('/').unwrap_or((text, "1"));
        let rational = Rational::new(
            num.parse::<u32>().ok()?.into(),
            denom.parse::<u32>().ok()?.into(),
        )?;
        (rational.rate_text() == text).then_some(rational)
    }

    /// `24` or `24000/1001`.
    pub fn rate_text(self) -> String {
        match self.denom {
            1 => self.num.to_string(),
            _ => format!("{}/{}", self.num, self.denom),
        }
    }

    /// The number it stands for.
    pub fn value(self) -> f64 {
        f64::from(self.num) / f64::from(self.denom)
    }

    /// The simplest quotient that stands for exactly `value`: convergents of its continued
    /// fraction are tried in turn.
    pub fn exactly(value: f64) -> Option<Self> {
        if !value.is_finite() || value <= 0.0 {
            return None;
        }
        let (mut before, mut last) = ((0.0, 1.0), (1.0, 0.0));
        let mut rest = value;
        for _ in 0..40 {
            let whole = rest.floor();
            let next = (whole * last.0 + before.0, whole * last.1 + before.1);
            if let Some(rational) = Rational::new(next.0, next.1)
                && rational.value() == value
            {
                return Some(rational);
            }
            (before, last) = (last, next);
            rest = 1.0 / (rest - whole);
        }
        None
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn numbers_lead_back_exactly() {
        for (value, num, denom) in [
            (1.0, 1, 1),
            (1.33, 133, 100),
            (4.0 / 3.0, 4, 3),
            (1.8, 9, 5),
            (0.5, 1, 2),
        ] {
            assert_eq!(Rational::exactly(value), Some(Rational { num, denom }));
        }
        for value in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e300, 1e-300] {
            assert_eq!(Rational::exactly(value), None, "{value}");
        }
        if let Some(found) = Rational::exactly(std::f64::consts::PI) {
            assert_eq!(found.value(), std::f64::consts::PI);
        }
    }

    #[test]
    fn rates() {
        assert_eq!(
            Rational::from_rate_text("24000/1001"),
            Rational::new(24000.0, 1001.0)
        );
        assert_eq!(Rational::from_rate_text("24"), Rational::new(24.0, 1.0));
        for text in [
            "24/1",
            "",
            "024",
            "+24",
            "23.976",
            "24/0",
            "0",
            "24/",
            "4294967295",
        ] {
            assert_eq!(Rational::from_rate_text(text), None, "{text}");
        }
        assert_eq!(Rational::new(30.5, 1.0), None);
        assert_eq!(Rational::new(30.0, 0.0), None);
    }
}
