//! What can be wrong with a quantity, said so that it can be put right.

use std::borrow::Cow;
use std::fmt::Write as _;
use std::ops::Range;

use thiserror::Error;

use crate::Unit;

/// Longest text kept in an error, in bytes: a faulty cell may be a whole file.
const LONGEST_TEXT: usize = 200;

/// A text, a number or a pair of units that is not the quantity asked for.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// Text that does not read as the quantity.
    #[error("{}", say_text(text, span, expected, help))]
    Text {
        /// The whole text, cut to 200 bytes if longer.
        text: String,
        /// The part of `text`, in bytes, that is wrong; empty where something is missing.
        span: Range<usize>,
        /// What should have stood there.
        expected: Cow<'static, str>,
        /// What to do about it.
        help: Cow<'static, str>,
    },
    /// A number that the quantity cannot have.
    #[error("“{}” is no {quantity}: expected {expected}; {help}", format!("{value} {}", unit.symbol()).trim_end())]
    Value {
        /// The quantity, in words.
        quantity: &'static str,
        /// The number.
        value: f64,
        /// Its unit.
        unit: Unit,
        /// What is possible.
        expected: &'static str,
        /// What to do about it.
        help: &'static str,
    },
    /// Two units that do not convert into each other.
    #[error("“{}” does not convert to “{}”: {help}", show_unit(*from), show_unit(*to))]
    Conversion {
        /// Unit of the number.
        from: Unit,
        /// Unit asked for.
        to: Unit,
        /// What is needed for it.
        help: &'static str,
    },
}

impl QuantityError {
    /// An error in `part`, which must be a slice of `whole`.
    pub(crate) fn in_text(
        whole: &str,
        part: &str,
        expected: impl Into<Cow<'static, str>>,
        help: impl Into<Cow<'static, str>>,
    ) -> Self {
        let mut end = whole.len().min(LONGEST_TEXT);
        while !whole.is_char_boundary(end) {
            end -= 1;
        }
        let start = (part.as_ptr() as usize)
            .saturating_sub(whole.as_ptr() as usize)
            .min(end);
        Self::Text {
            text: whole.get(..end).unwrap_or_default().to_owned(),
            span: start..(start + part.len()).min(end),
            expected: expected.into(),
            help: help.into(),
        }
    }

    /// The offending text, if the error is about text.
    pub fn text(&self) -> Option<&str> {
        match self {
            Self::Text { text, .. } => Some(text),
            _ => None,
        }
    }

    /// The wrong bytes of [`text`](Self::text).
    pub fn span(&self) -> Option<Range<usize>> {
        match self {
            Self::Text { span, .. } => Some(span.clone()),
            _ => None,
        }
    }

    /// What should have been there; empty for a conversion.
    pub fn expected(&self) -> &str {
        match self {
            Self::Text { expected, .. } => expected,
            Self::Value { expected, .. } => expected,
            Self::Conversion { .. } => "",
        }
    }

    /// What to do about it.
    pub fn help(&self) -> &str {
        match self {
            Self::Text { help, .. } => help,
            Self::Value { help, .. } | Self::Conversion { help, .. } => help,
        }
    }
}

/// `symbol` of a unit, or words for the unit that has none.
fn show_unit(unit: Unit) -> &'static str {
    if unit == Unit::One {
        "a bare number"
    } else {
        unit.symbol()
    }
}

fn say_text(text: &str, span: &Range<usize>, expected: &str, help: &str) -> String {
    let mut said = format!("{}: ", quoted(text));
    let part = text.get(span.clone()).unwrap_or_default();
    if part.is_empty() || part == text {
        let _ = write!(said, "expected {expected}");
    } else {
        let _ = write!(said, "found {}, expected {expected}", quoted(part));
    }
    if !help.is_empty() {
        let _ = write!(said, "; {help}");
    }
    said
}

/// Text between quotes that feet and inches do not use, control characters made visible.
fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 6);
    out.push('“');
    for character in text.chars() {
        if character.is_control() {
            out.extend(character.escape_default());
        } else {
            out.push(character);
        }
    }
    out.push('”');
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{DistanceReference, FocusDistance, RingScale};

    #[test]
    fn names_text_part_and_remedy() {
        let text = "5'14\"";
        let error = QuantityError::in_text(text, &text[2..4], "inches below 12", "write 6'2\"");
        assert_eq!(error.span(), Some(2..4));
        assert_eq!(
            error.to_string(),
            "“5'14\"”: found “14”, expected inches below 12; write 6'2\""
        );
    }

    #[test]
    fn control_characters_are_shown_not_sent_to_the_terminal() {
        let text = "1\u{1b}[31m";
        let said = QuantityError::in_text(text, &text[1..], "a number", "").to_string();
        assert!(!said.contains('\u{1b}'), "{said}");
        assert!(said.contains("\\u{1b}"), "{said}");
    }

    #[test]
    fn a_number_is_shown_with_its_unit() {
        let said = FocusDistance::of(-1.5, Unit::Foot, DistanceReference::ImagePlane)
            .map_err(|error| error.to_string());
        assert!(said.is_err_and(|said| {
            said.starts_with("“-1.5 ft” is no focus distance: expected a number above 0")
        }));
        let said = RingScale::counts(5.0, 5.0).map_err(|error| error.to_string());
        assert!(said.is_err_and(|said| said.starts_with("“5 count” is no ring range")));
    }

    #[test]
    fn long_text_is_cut_at_a_character_and_the_span_with_it() {
        let text = "µ".repeat(5000) + "x";
        let error = QuantityError::in_text(&text, &text[10_000..], "a number", "");
        assert_eq!(error.text().map(str::len), Some(200));
        assert_eq!(error.span(), Some(200..200));
        let odd = "x".to_owned() + &"µ".repeat(5000);
        assert_eq!(
            QuantityError::in_text(&odd, &odd, "a number", "")
                .text()
                .map(str::len),
            Some(199)
        );
    }
}
