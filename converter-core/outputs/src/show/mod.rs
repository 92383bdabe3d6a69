//! What is in a document, for people: facts, scales and channels in metric and imperial, with curves and traces.

mod curve;
pub(crate) mod lens;
mod round;
pub(crate) mod scale;
mod scale_report;
pub(crate) mod scale_words;
mod take;

use std::fmt::{self, Write};

use ringmark_model::{Extra, ExtraValue};
use ringmark_quantity::{DistanceReference, Unit, print};
use unicode_width::UnicodeWidthStr;

pub use lens::show_lens;
pub use round::{System, round_values, spaced};
pub use scale::show_answers;
pub use scale_report::{
    Drive, InfinityPlace, MarkResidual, ScaleAnswer, ScalePoint, ScaleReport, Standing,
};
pub use take::show_take;

use crate::paint::Paint;
use crate::plot::Canvas;
use crate::safe::safe;

/// How documents are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShowOptions {
    /// Whether terminal colours are written.
    pub colour: bool,
    /// Columns of the terminal that plots may fill.
    pub width: usize,
}

impl Default for ShowOptions {
    fn default() -> Self {
        ShowOptions {
            colour: false,
            width: 80,
        }
    }
}

impl ShowOptions {
    fn paint(self) -> Paint {
        Paint {
            colour: self.colour,
        }
    }
}

/// Named values, one a line, with the values below one another.
#[derive(Default)]
pub(crate) struct Facts(pub(crate) Vec<(String, String)>);

impl Facts {
    fn add(&mut self, name: &str, value: Option<impl AsRef<str>>) {
        if let Some(value) = value {
            self.0
                .push((safe(name).into_owned(), safe(value.as_ref()).into_owned()));
        }
    }

    fn extras(&mut self, extras: &[Extra]) {
        for extra in extras {
            let value = match &extra.value {
                ExtraValue::Number(number, unit) => {
                    format!("{} {unit}", print::value(*number, Unit::One))
                }
                ExtraValue::Text(_, text) => text.clone(),
            };
            self.add(&format!("extra {}", extra.name), Some(value.trim_end()));
        }
    }

    fn write(&self, out: &mut dyn Write) -> fmt::Result {
        let width = self
            .0
            .iter()
            .map(|(name, _)| name.width())
            .max()
            .unwrap_or(0);
        for (name, value) in &self.0 {
            let pad = width - name.width();
            writeln!(out, "  {name}{:pad$}  {value}", "")?;
        }
        Ok(())
    }
}

/// `0.500 m (1'7 5/8")`.
fn distance(metres: f64) -> String {
    if metres.is_finite() {
        format!("{} ({})", print::metric(metres), print::imperial(metres))
    } else {
        print::metric(metres)
    }
}

pub(crate) fn reference_words(reference: DistanceReference) -> &'static str {
    match reference {
        DistanceReference::ImagePlane => "measured from the image plane",
        DistanceReference::EntrancePupil => "measured from the entrance pupil",
        DistanceReference::FrontVertex => "measured from the front vertex",
        DistanceReference::Unstated => "measured from an unstated reference",
    }
}

/// How values of a quantity are laid out on an axis, so that equal steps look equal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scale {
    /// Distances by their reciprocal: near is up, infinity is 0.
    Reciprocal,
    /// Stops.
    Logarithmic,
    /// Anything else.
    Linear,
}

impl Scale {
    pub(crate) fn of(unit: Unit, is_distance: bool) -> Self {
        match unit {
            Unit::Metre if is_distance => Scale::Reciprocal,
            Unit::TStop | Unit::FNumber => Scale::Logarithmic,
            _ => Scale::Linear,
        }
    }

    /// Height of a value; `None` for values without a place on the axis.
    pub(crate) fn height(self, value: f64) -> Option<f64> {
        let height = match self {
            Scale::Reciprocal if value > 0.0 => 1.0 / value,
            Scale::Logarithmic if value > 0.0 => value.log2(),
            Scale::Linear => value,
            _ => f64::NAN,
        };
        height.is_finite().then_some(height)
    }

    /// The value at a height.
    fn value(self, height: f64) -> f64 {
        match self {
            Scale::Reciprocal => 1.0 / height,
            Scale::Logarithmic => height.exp2(),
            Scale::Linear => height,
        }
    }

    const fn title(self) -> &'static str {
        match self {
            Scale::Reciprocal => " (by dioptres, near is up)",
            Scale::Logarithmic => " (by stops)",
            Scale::Linear => "",
        }
    }
}

/// The range of an axis, never empty: a value leads to 0 to 1 in it.
#[derive(Debug, Clone, Copy)]
struct Span {
    low: f64,
    high: f64,
}

impl Span {
    fn around(values: impl IntoIterator<Item = f64>) -> Option<Span> {
        let (low, high) = values
            .into_iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(v), high.max(v))
            });
        (low <= high && (high - low).is_finite()).then_some(Span { low, high })
    }

    fn part(self, value: f64) -> f64 {
        if self.high > self.low {
            (value - self.low) / (self.high - self.low)
        } else {
            0.5
        }
    }
}

/// A plot with what its upper and lower edge stand for at the left, and its ends below.
fn write_plot(
    out: &mut dyn Write,
    canvas: &Canvas,
    top: &str,
    bottom: &str,
    ends: (&str, &str),
) -> fmt::Result {
    let width = top.width().max(bottom.width());
    let rows: Vec<String> = canvas.rows().collect();
    for (index, row) in rows.iter().enumerate() {
        let label = match index {
            0 => top,
            last if last + 1 == rows.len() => bottom,
            _ => "",
        };
        let pad = width - label.width();
        writeln!(out, "  {:pad$}{label} │{row}", "")?;
    }
    let between = (canvas.columns() / 2).saturating_sub(ends.0.width() + ends.1.width());
    let line = format!("  {:width$}  {}{:between$}{}", "", ends.0, "", ends.1);
    writeln!(out, "{}", line.trim_end())
}
