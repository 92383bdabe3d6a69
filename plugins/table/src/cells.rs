//! Cells of numbers that are more than plain decimals: infinity, fractions, `5'6"`, `T2.8`.

use ringmark_sdk::quantity::parse::{
    DecimalMark, StopKind, angle_with, length_with, number_with, position_with, stop_with,
};
use ringmark_sdk::quantity::{FrameRate, QuantityError, Unit};

use crate::fields::Quantity;
use crate::say::quoted;

/// Help for a comment among the rows.
pub const COMMENT_HELP: &str = "lines that start with # stand above the header only";

/// How the cells of a column are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// What they are.
    pub quantity: Quantity,
    /// Their unit, which decides among spellings; [`Unit::One`] for extras.
    pub unit: Unit,
    /// Their decimal mark.
    pub mark: DecimalMark,
}

/// Why a cell cannot be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellError {
    /// What should have stood there.
    pub expected: String,
    /// What to do.
    pub help: String,
}

impl CellError {
    fn new(expected: impl Into<String>, help: impl Into<String>) -> Self {
        CellError {
            expected: expected.into(),
            help: help.into(),
        }
    }
}

impl From<QuantityError> for CellError {
    fn from(error: QuantityError) -> Self {
        CellError::new(error.expected(), error.help())
    }
}

impl Reading {
    /// Whether a bare number is a value of the column. Feet and inches need their marks:
    /// `5.6` could be either.
    pub fn takes_bare_numbers(self) -> bool {
        self.unit != Unit::FeetInches
    }

    /// The value of a cell, in the unit of the column.
    pub fn read(self, text: &str) -> Result<f64, CellError> {
        let text = text.trim();
        let plain = match number_with(text, self.mark) {
            Ok(value) if self.takes_bare_numbers() || value == f64::INFINITY => {
                return self.bare(value);
            }
            Ok(_) => None,
            Err(error) => Some(error),
        };
        match self.spelled(text) {
            Some(Ok(value)) => Ok(value),
            Some(Err(error)) => Err(self.advise(text, error)),
            None => Err(self.advise(
                text,
                plain.map_or_else(|| CellError::new("a number", ""), CellError::from),
            )),
        }
    }

    /// A number without more around it.
    fn bare(self, value: f64) -> Result<f64, CellError> {
        if self.unit == Unit::Dioptre && value.is_infinite() {
            // Who writes infinity among dioptres means the distance, which is 0 D.
            return if value > 0.0 {
                Ok(0.0)
            } else {
                Err(CellError::new("a focus distance", "write inf for infinity"))
            };
        }
        Ok(value)
    }

    /// Spellings that belong to the quantity; `None` where there are none.
    fn spelled(self, text: &str) -> Option<Result<f64, CellError>> {
        Some(match self.quantity {
            Quantity::Distance | Quantity::Length => length_with(text, self.unit, self.mark)
                .map_err(CellError::from)
                .and_then(|(value, unit)| self.length(value, unit)),
            Quantity::TStop => self.stop(text, StopKind::T),
            Quantity::FNumber => self.stop(text, StopKind::F),
            Quantity::Position | Quantity::RawPosition => position_with(text, self.mark)
                .map_err(CellError::from)
                .and_then(|(value, unit)| self.same(value, unit.unwrap_or(self.unit))),
            Quantity::Angle => angle_with(text, self.unit, self.mark)
                .map_err(CellError::from)
                .and_then(|(value, unit)| self.same(value, unit)),
            Quantity::Time => fraction(text)?,
            Quantity::Rate => FrameRate::parse(text)
                .map(FrameRate::as_f64)
                .map_err(CellError::from),
            Quantity::Pure | Quantity::Iso => return None,
        })
    }

    /// Feet and inches are the one spelling that a column of feet or of inches may have besides
    /// its own; both ways are exact.
    fn length(self, value: f64, unit: Unit) -> Result<f64, CellError> {
        match (unit, self.unit) {
            (Unit::FeetInches, Unit::Foot) => Ok(value / 12.0),
            (Unit::FeetInches, Unit::Inch) | (Unit::Inch, Unit::FeetInches) => Ok(value),
            (Unit::Foot, Unit::FeetInches) => Ok(value * 12.0),
            _ => self.same(value, unit),
        }
    }

    fn stop(self, text: &str, wanted: StopKind) -> Result<f64, CellError> {
        let stop = stop_with(text, self.mark)?;
        if stop.kind.is_none_or(|kind| kind == wanted) {
            return Ok(stop.value);
        }
        let (wanted, column) = match wanted {
            StopKind::T => ("a T-stop", "f-number"),
            StopKind::F => ("an f-number", "T-stop"),
        };
        Err(CellError::new(
            wanted,
            format!("keep it in a column {column}: the two differ by the light the glass loses"),
        ))
    }

    fn same(self, value: f64, unit: Unit) -> Result<f64, CellError> {
        if unit == self.unit {
            return Ok(value);
        }
        Err(CellError::new(
            format!("a value in {}", self.unit.name()),
            format!(
                "the cell is in {}: keep one unit a column, or correct the unit of the header",
                unit.name()
            ),
        ))
    }

    /// Help that knows how tables go wrong.
    fn advise(self, text: &str, error: CellError) -> CellError {
        let other = match self.mark {
            DecimalMark::Point => text.replace(',', "."),
            DecimalMark::Comma => text.replace('.', ","),
        };
        if other != text && number_with(&other, self.mark).is_ok() {
            let help = match self.mark {
                DecimalMark::Point => format!(
                    "write {other}; if the whole file has decimal commas, say so with a line `# decimal: comma` above the header, or decimal = \",\" in a mapping file"
                ),
                DecimalMark::Comma => {
                    format!("write {other}: this file has decimal commas, no digit groups")
                }
            };
            return CellError::new(error.expected, help);
        }
        if text.starts_with('#') {
            return CellError::new(error.expected, COMMENT_HELP);
        }
        let lower = text.to_ascii_lowercase();
        if ["nan", "n/a", "na", "null", "none", "-", "--", "x"].contains(&lower.as_str()) {
            return CellError::new(
                error.expected,
                format!(
                    "leave the cell empty if it was not recorded, or list it in a mapping file: missing = [{}]",
                    serde_json::Value::from(text)
                ),
            );
        }
        error
    }

    /// The message of a failure about a cell.
    pub fn message(text: &str, header: &str, error: &CellError) -> String {
        format!(
            "{} in column {}: expected {}",
            quoted(text),
            quoted(header),
            error.expected
        )
    }
}

/// `1/48` of a second.
fn fraction(text: &str) -> Option<Result<f64, CellError>> {
    let (over, under) = text.split_once('/')?;
    let whole = |part: &str| -> Option<f64> {
        let part = part.trim();
        let digits = part.bytes().all(|byte| byte.is_ascii_digit());
        (digits && part.len() <= 9)
            .then(|| part.parse().ok())
            .flatten()
    };
    Some(match (whole(over), whole(under)) {
        (Some(over), Some(under)) if under > 0.0 => Ok(over / under),
        _ => Err(CellError::new(
            "a number of seconds",
            "write 0.0208 or 1/48",
        )),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn reading(quantity: Quantity, unit: Unit) -> Reading {
        Reading {
            quantity,
            unit,
            mark: DecimalMark::Point,
        }
    }

    #[test]
    fn spellings_of_the_quantity() {
        use Quantity::*;
        for (quantity, unit, text, value) in [
            (Distance, Unit::Metre, " 1.2 ", 1.2),
            (Distance, Unit::Metre, "1.2 m", 1.2),
            (Distance, Unit::Metre, "∞", f64::INFINITY),
            (Distance, Unit::Metre, "INF", f64::INFINITY),
            (Distance, Unit::Metre, "-1", -1.0),
            (Distance, Unit::Dioptre, "inf", 0.0),
            (Distance, Unit::Foot, "5.6", 5.6),
            (Distance, Unit::Foot, "5'6\"", 5.5),
            (Distance, Unit::Inch, "5'6\"", 66.0),
            (Distance, Unit::FeetInches, "5'6\"", 66.0),
            (Distance, Unit::FeetInches, "18\"", 18.0),
            (Distance, Unit::FeetInches, "inf", f64::INFINITY),
            (TStop, Unit::TStop, "T2.8", 2.8),
            (FNumber, Unit::FNumber, "f/4", 4.0),
            (Length, Unit::Millimetre, "50mm", 50.0),
            (Position, Unit::Percent, "50 %", 50.0),
            (Angle, Unit::Degree, "172.8°", 172.8),
            (Time, Unit::Second, "1/48", 1.0 / 48.0),
            (Rate, Unit::Hertz, "24000/1001", 24000.0 / 1001.0),
            (Pure, Unit::One, "1e-3", 0.001),
        ] {
            assert_eq!(reading(quantity, unit).read(text), Ok(value), "{text}");
        }
    }

    #[test]
    fn what_is_refused_says_what_to_do() {
        use Quantity::*;
        for (quantity, unit, text, help) in [
            (Distance, Unit::Metre, "1,5", "# decimal: comma"),
            (Distance, Unit::Metre, "n/a", "missing = [\"n/a\"]"),
            (Distance, Unit::Metre, "NaN", "missing = [\"NaN\"]"),
            (Distance, Unit::Foot, "1.2 m", "the cell is in metres"),
            (Distance, Unit::FeetInches, "5.6", "5'6\""),
            (Distance, Unit::Dioptre, "-inf", "infinity"),
            (TStop, Unit::TStop, "f/2.8", "f-number"),
            (FNumber, Unit::FNumber, "T2.8", "T-stop"),
            (Position, Unit::Ratio, "50 %", "per cent"),
            (Time, Unit::Second, "1/x", "1/48"),
            (Pure, Unit::One, "# a comment", "above the header"),
        ] {
            let error = reading(quantity, unit).read(text).unwrap_err();
            assert!(error.help.contains(help), "{text}: {}", error.help);
        }
    }
}
