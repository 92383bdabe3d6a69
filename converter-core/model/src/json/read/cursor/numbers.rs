//! Numbers: the hot path of the parser.

use super::Cursor;
use crate::json::number;
use crate::json::read::error::Parsed;

impl<'a> Cursor<'a> {
    /// The text of a number.
    pub fn number_text(&mut self) -> Parsed<&'a str> {
        let start = self.at;
        self.finite()?;
        let text = self.text.get(start..self.at).unwrap_or(&[]);
        Ok(std::str::from_utf8(text).unwrap_or_default().trim_start())
    }

    /// A finite number; -0 is 0.
    #[inline]
    pub fn finite(&mut self) -> Parsed<f64> {
        let negative = self.take(b'-');
        let start = self.at;
        let mut digits = self.at;
        let mut mantissa: u64 = 0;
        let mut digit = |at: usize| {
            let value = self.text.get(at).map_or(10, |byte| byte.wrapping_sub(b'0'));
            if value < 10 {
                mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(value));
            }
            value < 10
        };
        while digit(digits) {
            digits += 1;
        }
        let whole = digits - start;
        let mut decimals = 0;
        if self.text.get(digits) == Some(&b'.') {
            digits += 1;
            let first = digits;
            while digit(digits) {
                digits += 1;
            }
            decimals = digits - first;
            if decimals == 0 {
                self.at = digits;
                return Err(self.unexpected("a digit after the point"));
            }
        }
        if whole == 0 {
            return Err(self.unexpected("a number"));
        }
        if whole > 1 && self.text.get(start) == Some(&b'0') {
            self.at = digits;
            return Err(self.fault(start, "a number with a leading 0", "remove it"));
        }
        self.at = digits;
        let exponent = matches!(self.text.get(self.at), Some(b'e' | b'E'));
        // Exact: both are whole numbers that a float holds, and a division is rounded once.
        if !exponent
            && whole + decimals <= 15
            && let Some(power) = POWERS.get(decimals)
        {
            let value = mantissa as f64 / power;
            return Ok(if negative { 0.0 - value } else { value });
        }
        self.long_number(start, negative)
    }

    fn long_number(&mut self, start: usize, negative: bool) -> Parsed<f64> {
        if matches!(self.text.get(self.at), Some(b'e' | b'E')) {
            self.at += 1;
            if matches!(self.text.get(self.at), Some(b'+' | b'-')) {
                self.at += 1;
            }
            let first = self.at;
            while self.text.get(self.at).is_some_and(u8::is_ascii_digit) {
                self.at += 1;
            }
            if self.at == first {
                return Err(self.unexpected("a digit of the exponent"));
            }
        }
        let text = self.text.get(start..self.at).unwrap_or(&[]);
        let text = std::str::from_utf8(text).unwrap_or_default();
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(if negative { 0.0 - value } else { value }),
            _ => Err(self.fault(
                start,
                "a number that is too large",
                "infinity is written \"inf\"",
            )),
        }
    }

    /// A number, `null` for not recorded, or `"inf"`.
    #[inline]
    pub fn value(&mut self) -> Parsed<f64> {
        match self.peek() {
            Some(b'-' | b'0'..=b'9') => self.finite(),
            Some(b'"') => self.infinity(),
            Some(b'n') => self.null().map(|()| f64::NAN),
            _ => Err(self.unexpected("a number, \"inf\" or null")),
        }
    }

    fn infinity(&mut self) -> Parsed<f64> {
        let start = self.at;
        match &*self.text()? {
            "inf" => Ok(f64::INFINITY),
            "-inf" => Ok(f64::NEG_INFINITY),
            _ => Err(self.fault(
                start,
                "a text where a number is expected",
                "write a number without quotes, \"inf\", or leave it out if it was not recorded",
            )),
        }
    }

    /// Two finite numbers in brackets.
    pub fn pair(&mut self) -> Parsed<(f64, f64)> {
        self.expect(b'[', "`[` and two numbers")?;
        let first = self.finite()?;
        self.expect(b',', "`,` and a second number")?;
        let second = self.finite()?;
        self.expect(b']', "`]` after two numbers")?;
        Ok((first, second))
    }

    /// A whole number from 0 to `most`.
    pub fn whole(&mut self, most: u64) -> Parsed<u64> {
        self.space();
        let start = self.at;
        let number = self.finite()?;
        let text = self.text.get(start..self.at).unwrap_or(&[]);
        match std::str::from_utf8(text)
            .ok()
            .and_then(|text| text.parse::<u64>().ok())
        {
            Some(whole) if whole <= most => Ok(whole),
            _ => Err(self.fault(
                start,
                format!("{number} where a whole number from 0 to {most} is expected"),
                "",
            )),
        }
    }

    /// A length written in millimetres, in metres.
    pub fn millimetres(&mut self) -> Parsed<f64> {
        self.space();
        let start = self.at;
        let text = self.number_text()?;
        number::mm_text_to_metres(text)
            .ok_or_else(|| self.fault(start, "a number out of range", ""))
    }
}

/// Powers of ten that a float holds exactly.
const POWERS: [f64; 16] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
];
