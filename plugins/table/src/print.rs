//! Numbers and texts as cells and lines hold them: read back, they are the same.

use ringmark_sdk::{Failure, failure};

use crate::say::quoted;

/// Whole numbers up to here are exact, and are written without a fraction.
const WHOLE: f64 = 9_007_199_254_740_992.0;

/// Appends the shortest text that reads back as `value`; `inf` for infinity, nothing for NaN.
pub fn push_number(out: &mut Vec<u8>, value: f64) {
    if value.is_nan() {
        return;
    }
    if value.is_infinite() {
        out.extend_from_slice(if value > 0.0 { b"inf" } else { b"-inf" });
    } else if value.trunc() == value
        && value.abs() <= WHOLE
        && !(value == 0.0 && value.is_sign_negative())
    {
        out.extend_from_slice(itoa::Buffer::new().format(value as i64).as_bytes());
    } else {
        let mut buffer = zmij::Buffer::new();
        let text = buffer.format_finite(value);
        out.extend_from_slice(text.strip_suffix(".0").unwrap_or(text).as_bytes());
    }
}

/// The text of [`push_number`].
pub fn number(value: f64) -> String {
    let mut out = Vec::new();
    push_number(&mut out, value);
    String::from_utf8(out).unwrap_or_default()
}

/// Whether a cell needs quotes (RFC 4180 section 2, rules 6 and 7).
pub fn needs_quotes(text: &str) -> bool {
    text.bytes()
        .any(|byte| matches!(byte, b',' | b'"' | b'\n' | b'\r'))
}

/// Appends `text` as a cell; the empty text in quotes, since an empty cell means 'not recorded'.
pub fn push_text(out: &mut Vec<u8>, text: &str) {
    if text.is_empty() || needs_quotes(text) {
        push_quoted(out, text);
    } else {
        out.extend_from_slice(text.as_bytes());
    }
}

/// Whether a header cell needs quotes: other delimiters, space around it and a leading `#` would
/// be misread.
pub fn header_needs_quotes(text: &str) -> bool {
    needs_quotes(text) || text.contains([';', '\t']) || text.trim() != text || text.starts_with('#')
}

/// Appends a header cell.
pub fn push_header(out: &mut Vec<u8>, text: &str) {
    if header_needs_quotes(text) {
        push_quoted(out, text);
    } else {
        out.extend_from_slice(text.as_bytes());
    }
}

fn push_quoted(out: &mut Vec<u8>, text: &str) {
    out.push(b'"');
    for byte in text.bytes() {
        if byte == b'"' {
            out.push(b'"');
        }
        out.push(byte);
    }
    out.push(b'"');
}

/// Fails on a text that no table can hold.
pub fn refuse_nul(text: &str) -> Result<(), Failure> {
    if text.contains('\0') {
        return Err(failure(
            format!(
                "{} holds a NUL character, which a table cannot",
                quoted(text)
            ),
            "choose another target format",
            None,
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers_as_people_write_them() {
        for (value, text) in [
            (1001.0, "1001"),
            (-3.0, "-3"),
            (0.5741, "0.5741"),
            (0.0, "0"),
            (-0.0, "-0"),
            (f64::INFINITY, "inf"),
            (f64::NEG_INFINITY, "-inf"),
            (f64::NAN, ""),
            (9_007_199_254_740_992.0, "9007199254740992"),
        ] {
            assert_eq!(number(value), text);
        }
    }

    #[test]
    fn quoting() {
        let cell = |text: &str| {
            let mut out = Vec::new();
            push_text(&mut out, text);
            String::from_utf8(out).unwrap()
        };
        assert_eq!(cell("a b"), "a b");
        assert_eq!(cell(""), "\"\"");
        assert_eq!(cell("5'6\""), "\"5'6\"\"\"");
        assert_eq!(cell("a,b"), "\"a,b\"");
    }

    proptest! {
        #[test]
        fn every_number_reads_back(value in prop::num::f64::ANY) {
            prop_assume!(!value.is_nan());
            let text = number(value);
            let read = ringmark_sdk::quantity::parse::number(&text).unwrap();
            prop_assert_eq!(read.to_bits(), value.to_bits(), "{}", text);
        }
    }
}
