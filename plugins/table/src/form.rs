//! How the rows of a file are written.

use ringmark_sdk::quantity::parse::DecimalMark;

/// How the rows of a file are written.
#[derive(Debug)]
pub struct Form {
    /// Byte between cells.
    pub delimiter: u8,
    /// Decimal mark.
    pub mark: DecimalMark,
    /// Cells that mean 'not recorded' besides empty ones.
    pub missing: Vec<String>,
    /// Whether a blank line is a frame.
    pub blank_lines_are_frames: bool,
}

impl Form {
    /// The byte between whole part and decimals.
    pub fn point(&self) -> u8 {
        match self.mark {
            DecimalMark::Point => b'.',
            DecimalMark::Comma => b',',
        }
    }

    /// Whether a cell means that nothing was recorded.
    pub fn is_missing(&self, text: &[u8]) -> bool {
        text.is_empty()
            || self
                .missing
                .iter()
                .any(|missing| missing.as_bytes() == text)
    }
}
