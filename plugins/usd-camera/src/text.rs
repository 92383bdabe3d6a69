//! Texts and numbers as `.usda` has them.

/// The text of a quoted token.
pub fn unquote(token: &str) -> String {
    let mark = token.get(..1).unwrap_or_default();
    let three = mark.repeat(3);
    let inside = match token.strip_prefix(&three) {
        Some(rest) if token.len() >= 6 => rest.strip_suffix(&three).unwrap_or(rest),
        _ => {
            let rest = token.get(1..).unwrap_or_default();
            rest.strip_suffix(mark).unwrap_or(rest)
        }
    };
    if !inside.contains('\\') {
        return inside.to_owned();
    }
    unescape(inside)
}

/// A file name without its `@`.
pub fn unquote_asset(token: &str) -> String {
    match token
        .strip_prefix("@@@")
        .and_then(|t| t.strip_suffix("@@@"))
    {
        Some(inside) => inside.replace("\\@@@", "@@@"),
        None => token.trim_matches('@').to_owned(),
    }
}

/// Escapes as OpenUSD reads them: those of C, `\x` with at most two digits, and any other
/// character stands for itself. Escaped bytes may make up UTF-8.
fn unescape(text: &str) -> String {
    let bytes = text.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while let Some(&byte) = bytes.get(at) {
        at += 1;
        if byte != b'\\' {
            out.push(byte);
            continue;
        }
        let Some(&escaped) = bytes.get(at) else { break };
        at += 1;
        let digits = |from: usize, most: usize, radix: u32| {
            bytes[from..]
                .iter()
                .take(most)
                .take_while(|b| char::from(**b).is_digit(radix))
                .count()
        };
        let number = |from: usize, count: usize, radix: u32| {
            bytes[from..from + count].iter().fold(0, |sum, b| {
                sum * radix + char::from(*b).to_digit(radix).unwrap_or(0)
            }) as u8
        };
        out.push(match escaped {
            b'a' => 0x07,
            b'b' => 0x08,
            b'f' => 0x0c,
            b'n' => b'\n',
            b'r' => b'\r',
            b't' => b'\t',
            b'v' => 0x0b,
            b'x' => {
                let count = digits(at, 2, 16);
                let value = number(at, count, 16);
                at += count;
                value
            }
            b'0'..=b'7' => {
                let count = digits(at - 1, 3, 8);
                let value = number(at - 1, count, 8);
                at += count - 1;
                value
            }
            other => other,
        });
    }
    match String::from_utf8(out) {
        Ok(text) => text,
        Err(error) => String::from_utf8_lossy(error.as_bytes()).into_owned(),
    }
}

/// Appends a text in quotation marks.
pub fn push_text(out: &mut Vec<u8>, text: &str) {
    out.push(b'"');
    for &byte in text.as_bytes() {
        match byte {
            b'"' => out.extend_from_slice(b"\\\""),
            b'\\' => out.extend_from_slice(b"\\\\"),
            b'\n' => out.extend_from_slice(b"\\n"),
            b'\r' => out.extend_from_slice(b"\\r"),
            b'\t' => out.extend_from_slice(b"\\t"),
            0..0x20 | 0x7f => {
                const HEX: &[u8; 16] = b"0123456789abcdef";
                out.extend_from_slice(b"\\x");
                out.push(HEX[usize::from(byte >> 4)]);
                out.push(HEX[usize::from(byte & 15)]);
            }
            _ => out.push(byte),
        }
    }
    out.push(b'"');
}

/// Appends a double as the shortest text that reads back exactly; NaN is a block.
pub fn push_double(out: &mut Vec<u8>, value: f64) {
    if value.is_nan() {
        out.extend_from_slice(b"None");
    } else if value.is_infinite() {
        out.extend_from_slice(if value > 0.0 { b"inf" } else { b"-inf" });
    } else {
        let mut buffer = zmij::Buffer::new();
        let text = buffer.format_finite(value);
        out.extend_from_slice(short(text).as_bytes());
    }
}

/// Whole numbers need no point, but for -0 and what is too large for an integer.
fn short(text: &str) -> &str {
    match text.strip_suffix(".0") {
        Some(whole) if whole != "-0" && whole.len() <= 16 => whole,
        _ => text,
    }
}

/// Appends a 32-bit float. OpenUSD reads it by way of a double: where the shortest text would
/// then round to its neighbour, more digits are written.
pub fn push_float(out: &mut Vec<u8>, value: f32) {
    if !value.is_finite() {
        return push_double(out, f64::from(value));
    }
    let mut buffer = zmij::Buffer::new();
    let text = buffer.format_finite(value);
    let back = text.parse::<f64>().map(|v| v as f32);
    if back.is_ok_and(|back| back.to_bits() == value.to_bits()) {
        out.extend_from_slice(short(text).as_bytes());
    } else {
        push_double(out, f64::from(value));
    }
}

/// Appends the key of a sample.
pub fn push_key(out: &mut Vec<u8>, key: i64) {
    out.extend_from_slice(itoa::Buffer::new().format(key).as_bytes());
}

/// A word that OpenUSD takes as a name, made of `text`: letters, digits and `_`.
pub fn identifier(text: &str) -> String {
    let mut name: String = text
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '_' })
        .take(100)
        .collect();
    if name.is_empty() || name.starts_with(|c: char| c.is_ascii_digit()) {
        name.insert(0, '_');
    }
    name
}

/// Whether `text` is one or more such words with `:` between them.
pub fn is_identifier(text: &str) -> bool {
    text.len() <= 200
        && text
            .split(':')
            .all(|part| !part.is_empty() && part.len() <= 100 && identifier(part) == part)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn written(write: impl Fn(&mut Vec<u8>)) -> String {
        let mut out = Vec::new();
        write(&mut out);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn texts_read_back() {
        for text in [
            "",
            "a",
            "\"\\\n\r\t\u{1}\u{7f}",
            "ä😀",
            "'''",
            "\\x41",
            "\u{0}1",
            "\u{1}f",
        ] {
            assert_eq!(unquote(&written(|o| push_text(o, text))), text, "{text:?}");
        }
    }

    #[test]
    fn texts_of_other_authors() {
        // As usd-core 26.11 reads them.
        for (token, text) in [
            ("'it''", "it'"),
            ("\"\"\"a\nb\"\"\"", "a\nb"),
            ("\"\"", ""),
            ("\"\"\"\"\"\"", ""),
            ("\"\\101\\x4A\\q\\0\"", "AJq\0"),
            ("\"\\xc3\\xa9\"", "é"),
            ("\"\\x41f\"", "Af"),
            ("\"\\1012\"", "A2"),
        ] {
            assert_eq!(unquote(token), text, "{token}");
        }
        assert_eq!(unquote_asset("@a/b.usd@"), "a/b.usd");
        assert_eq!(unquote_asset("@@@a@b\\@@@c@@@"), "a@b@@@c");
    }

    #[test]
    fn numbers_read_back() {
        for value in [0.1_f32, -0.0, 1.0, 16777216.0, 1e-45, f32::MAX, 1.9, 0.25] {
            let text = written(|o| push_float(o, value));
            assert_eq!(
                (text.parse::<f64>().unwrap() as f32).to_bits(),
                value.to_bits(),
                "{text}"
            );
        }
        for value in [0.1, -0.0, 1e300, 5e-324, 29.97002997002997] {
            let text = written(|o| push_double(o, value));
            assert_eq!(
                text.parse::<f64>().unwrap().to_bits(),
                value.to_bits(),
                "{text}"
            );
        }
        assert_eq!(written(|o| push_float(o, 90.0)), "90");
        assert_eq!(written(|o| push_float(o, f32::INFINITY)), "inf");
        assert_eq!(written(|o| push_double(o, f64::NEG_INFINITY)), "-inf");
        assert_eq!(written(|o| push_double(o, f64::NAN)), "None");
    }

    #[test]
    fn names() {
        assert_eq!(identifier("A017C003"), "A017C003");
        assert_eq!(identifier("12 äb/c"), "_12__b_c");
        assert_eq!(identifier(""), "_");
        assert!(is_identifier("a:b_1:c") && !is_identifier("a:") && !is_identifier("a.b"));
    }
}
