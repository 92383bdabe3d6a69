//! JSON text of single values.

use crate::aside::special_text;

/// Beyond, a float is not written as an integer.
const INTEGERS: f64 = 9_007_199_254_740_992.0;

/// Appends a string with its quotes.
pub fn push_text(out: &mut Vec<u8>, text: &str) {
    out.push(b'"');
    let bytes = text.as_bytes();
    let mut done = 0;
    for (at, &byte) in bytes.iter().enumerate() {
        if byte >= 0x20 && byte != b'"' && byte != b'\\' {
            continue;
        }
        out.extend_from_slice(&bytes[done..at]);
        done = at + 1;
        match byte {
            b'"' => out.extend_from_slice(b"\\\""),
            b'\\' => out.extend_from_slice(b"\\\\"),
            b'\n' => out.extend_from_slice(b"\\n"),
            b'\r' => out.extend_from_slice(b"\\r"),
            b'\t' => out.extend_from_slice(b"\\t"),
            _ => {
                const HEX: &[u8; 16] = b"0123456789abcdef";
                out.extend_from_slice(b"\\u00");
                out.push(HEX[usize::from(byte >> 4)]);
                out.push(HEX[usize::from(byte & 15)]);
            }
        }
    }
    out.extend_from_slice(&bytes[done..]);
    out.push(b'"');
}

/// Appends a number as the shortest text that reads back exactly. It has a point, also where it is whole.
pub fn push_float(out: &mut Vec<u8>, value: f64) {
    out.extend_from_slice(zmij::Buffer::new().format_finite(value).as_bytes());
}

/// Appends a number; whole ones as integers, and those that JSON does not have as texts.
pub fn push_number(out: &mut Vec<u8>, value: f64) {
    if !value.is_finite() {
        push_text(out, special_text(value));
    } else if is_integer(value) {
        out.extend_from_slice(itoa::Buffer::new().format(value as i64).as_bytes());
    } else {
        push_float(out, value);
    }
}

/// Whether the integer of the same value reads back as this very double.
fn is_integer(value: f64) -> bool {
    value.fract() == 0.0 && value.abs() <= INTEGERS && !(value == 0.0 && value.is_sign_negative())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn text(write: impl Fn(&mut Vec<u8>)) -> String {
        let mut out = Vec::new();
        write(&mut out);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn numbers_read_back_exactly() {
        for value in [
            0.1,
            -0.0,
            1.0,
            1e300,
            5e-324,
            9007199254740993.0,
            -1e22,
            f64::MAX,
            1e15,
            0.1 + 0.2,
        ] {
            for written in [
                text(|o| push_float(o, value)),
                text(|o| push_number(o, value)),
            ] {
                let back: f64 = serde_json::from_str(&written).unwrap();
                assert_eq!(back.to_bits(), value.to_bits(), "{written}");
            }
        }
        assert_eq!(text(|o| push_number(o, f64::INFINITY)), "\"inf\"");
        assert_eq!(text(|o| push_number(o, 1001.0)), "1001");
        assert_eq!(text(|o| push_float(o, 6.0)), "6.0");
    }

    #[test]
    fn texts_read_back_exactly() {
        for value in ["", "a\"b\\c\n\r\t\u{1}\u{1f}\u{7f}ä😀\u{2028}", "\\"] {
            let written = text(|o| push_text(o, value));
            assert_eq!(serde_json::from_str::<String>(&written).unwrap(), value);
        }
    }
}
