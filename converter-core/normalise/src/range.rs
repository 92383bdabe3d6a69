//! Raw encoder ranges: two facts that make one value.

use ringmark_model::{EncoderRange, Extra};
use ringmark_quantity::Unit;

use crate::from_facts::half;

/// A raw encoder range while its facts come in one by one.
#[derive(Debug, Default, Clone, Copy)]
pub(crate) struct Range {
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// Counts or degrees, if the plugin said it.
    pub unit: Option<Unit>,
}

impl Range {
    /// Takes the fact `encoder-low` or `encoder-high`.
    pub fn set(&mut self, name: &str, raw: f64, unit: Option<Unit>) {
        match name {
            "encoder-low" => self.low = Some(raw),
            "encoder-high" => self.high = Some(raw),
            _ => return,
        }
        self.unit = self.unit.or(unit);
    }

    /// Both ends.
    pub fn both(&self) -> Option<EncoderRange> {
        let (low, high) = self.low.zip(self.high)?;
        Some(EncoderRange { low, high })
    }

    /// The one end of the range of `axis`, where the other is missing.
    pub fn half(&self, axis: &str) -> Option<Extra> {
        let name = |end: &str| format!("{axis}-encoder-{end}");
        let unit = self.unit.map_or("", Unit::symbol);
        half((&name("low"), self.low), (&name("high"), self.high), unit)
    }
}
