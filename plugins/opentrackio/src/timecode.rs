//! Time code labels: `01:00:00:00`, with `;` before the frames where the count drops labels.

use std::fmt::Write;

/// The numbers of a label as they stand, possible or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Label {
    /// Hours, minutes, seconds and frames.
    pub parts: [u32; 4],
    /// Whether the label is of a drop-frame count.
    pub drop: bool,
}

/// Largest number that is taken for part of a label.
pub const MAX_PART: u32 = 9999;

impl Label {
    /// The label that is written exactly so.
    pub fn parse(text: &str) -> Option<Label> {
        let bytes = text.as_bytes();
        if bytes.len() < 11 || bytes.len() > 13 || bytes[2] != b':' || bytes[5] != b':' {
            return None;
        }
        let drop = match bytes[8] {
            b':' => false,
            b';' => true,
            _ => return None,
        };
        let mut parts = [0; 4];
        for (part, range) in parts.iter_mut().zip([0..2, 3..5, 6..8, 9..bytes.len()]) {
            for digit in &bytes[range] {
                if !digit.is_ascii_digit() {
                    return None;
                }
                *part = *part * 10 + u32::from(digit - b'0');
            }
        }
        // Three and four digits are for frames that need them.
        let needed = match parts[3] {
            0..=99 => 11,
            100..=999 => 12,
            _ => 13,
        };
        (bytes.len() == needed).then_some(Label { parts, drop })
    }

    /// Writes the label behind `text`.
    pub fn write(self, text: &mut String) {
        let [h, m, s, f] = self.parts;
        let separator = if self.drop { ';' } else { ':' };
        // Writing into a string cannot fail.
        let _ = write!(text, "{h:02}:{m:02}:{s:02}{separator}{f:02}");
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn labels_lead_back() {
        for (text, parts, drop) in [
            ("01:00:59;29", [1, 0, 59, 29], true),
            ("23:59:59:119", [23, 59, 59, 119], false),
            ("99:99:99:99", [99, 99, 99, 99], false),
        ] {
            let label = Label::parse(text).unwrap();
            assert_eq!(label, Label { parts, drop });
            let mut again = String::new();
            label.write(&mut again);
            assert_eq!(again, text);
        }
    }

    #[test]
    fn other_spellings_are_none() {
        for text in [
            "",
            "1:00:00:00",
            "01:00:00.00",
            "01:00:00:0",
            "01:00:00:000",
            "01:00:00:012",
            "01;00:00:00",
            "01:00:0x:00",
            "01:00:00:12345",
            "०1:00:00:0",
        ] {
            assert_eq!(Label::parse(text), None, "{text}");
        }
    }
}
