//! JSON text, compact for lines and indented for documents.

use super::error::WriteError;
use crate::json::number;

/// Appends JSON to a buffer. The first fault is kept and reported by [`Printer::finish`].
pub(super) struct Printer {
    out: Vec<u8>,
    indented: bool,
    /// Above 0: everything on one line.
    inline: u32,
    depth: usize,
    first: bool,
    fault: Option<WriteError>,
}

impl Printer {
    /// Without white space.
    pub fn compact() -> Self {
        Printer {
            out: Vec::new(),
            indented: false,
            inline: 0,
            depth: 0,
            first: true,
            fault: None,
        }
    }

    /// Indented by two spaces.
    pub fn indented() -> Self {
        Printer {
            indented: true,
            ..Printer::compact()
        }
    }

    /// The text, or the first fault.
    pub fn finish(self) -> Result<Vec<u8>, WriteError> {
        match self.fault {
            Some(fault) => Err(fault),
            None => Ok(self.out),
        }
    }

    /// Keeps a fault; printing goes on.
    pub fn fault(&mut self, message: impl Into<String>, help: &'static str) {
        if self.fault.is_none() {
            self.fault = Some(WriteError::content(message, help));
        }
    }

    pub fn object(&mut self, fill: impl FnOnce(&mut Self)) {
        self.bracketed(b'{', b'}', fill);
    }

    pub fn array(&mut self, fill: impl FnOnce(&mut Self)) {
        self.bracketed(b'[', b']', fill);
    }

    /// What `fill` prints stands on one line.
    pub fn on_one_line(&mut self, fill: impl FnOnce(&mut Self)) {
        self.inline += 1;
        fill(self);
        self.inline -= 1;
    }

    fn bracketed(&mut self, open: u8, close: u8, fill: impl FnOnce(&mut Self)) {
        self.out.push(open);
        self.depth += 1;
        self.first = true;
        fill(self);
        self.depth -= 1;
        if !self.first {
            self.break_line();
        }
        self.first = false;
        self.out.push(close);
    }

    fn break_line(&mut self) {
        if self.indented && self.inline == 0 {
            self.out.push(b'\n');
            self.out.resize(self.out.len() + 2 * self.depth, b' ');
        }
    }

    /// Goes to the next item of an array.
    pub fn item(&mut self) {
        if self.first {
            self.break_line();
        } else {
            self.out.push(b',');
            if self.indented && self.inline > 0 {
                self.out.push(b' ');
            }
            self.break_line();
        }
        self.first = false;
    }

    /// Goes to the next key of an object.
    pub fn key(&mut self, key: &str) {
        self.item();
        self.text(key);
        self.out.push(b':');
        if self.indented {
            self.out.push(b' ');
        }
    }

    pub fn text(&mut self, text: &str) {
        push_text(&mut self.out, text);
    }

    pub fn integer(&mut self, value: u64) {
        self.out
            .extend_from_slice(itoa::Buffer::new().format(value).as_bytes());
    }

    /// A number that may be infinite or not recorded.
    pub fn value(&mut self, value: f64) {
        number::push_value(&mut self.out, value);
    }

    /// A number that has to be finite; `what` names it in the fault.
    pub fn finite(&mut self, what: &str, value: f64) {
        self.check_finite(what, value);
        number::push_value(&mut self.out, value);
    }

    /// A length in millimetres, exactly.
    pub fn millimetres(&mut self, what: &str, metres: f64) {
        self.check_finite(what, metres);
        if metres.is_finite() {
            self.out
                .extend_from_slice(number::metres_to_mm_text(metres).as_bytes());
        }
    }

    fn check_finite(&mut self, what: &str, value: f64) {
        if !value.is_finite() {
            self.fault(
                format!("{what} is {value}, not a finite number"),
                "leave out what is not known",
            );
        }
    }

    /// `key: text`, if there is a text.
    pub fn text_field(&mut self, key: &str, text: Option<&str>) {
        if let Some(text) = text {
            self.key(key);
            self.text(text);
        }
    }

    /// `key: number`, if there is a number.
    pub fn number_field(&mut self, key: &str, value: Option<f64>) {
        if let Some(value) = value {
            self.key(key);
            self.finite(key, value);
        }
    }

    /// `key: [a, b]`, if there is a pair.
    pub fn pair_field(&mut self, key: &str, pair: Option<(f64, f64)>) {
        if let Some((a, b)) = pair {
            self.key(key);
            self.on_one_line(|p| {
                p.array(|p| {
                    p.item();
                    p.finite(key, a);
                    p.item();
                    p.finite(key, b);
                });
            });
        }
    }
}

/// Appends a JSON string.
pub(super) fn push_text(out: &mut Vec<u8>, text: &str) {
    if text.bytes().any(must_be_escaped) {
        escape(out, text);
    } else {
        out.push(b'"');
        out.extend_from_slice(text.as_bytes());
        out.push(b'"');
    }
}

/// `"key":`
pub(in crate::json) fn key_text(key: &str) -> Vec<u8> {
    let mut text = Vec::with_capacity(key.len() + 3);
    push_text(&mut text, key);
    text.push(b':');
    text
}

/// Whether a byte cannot stand in a JSON string as it is.
#[inline]
pub(super) const fn must_be_escaped(byte: u8) -> bool {
    byte < 0x20 || byte == b'"' || byte == b'\\'
}

#[cold]
fn escape(out: &mut Vec<u8>, text: &str) {
    const HEX: &[u8; 16] = b"0123456789abcdef";
    out.push(b'"');
    for &byte in text.as_bytes() {
        match byte {
            b'"' | b'\\' => out.extend_from_slice(&[b'\\', byte]),
            b'\n' => out.extend_from_slice(b"\\n"),
            b'\r' => out.extend_from_slice(b"\\r"),
            b'\t' => out.extend_from_slice(b"\\t"),
            0..0x20 => {
                out.extend_from_slice(b"\\u00");
                out.push(HEX[usize::from(byte >> 4)]);
                out.push(HEX[usize::from(byte & 15)]);
            }
            _ => out.push(byte),
        }
    }
    out.push(b'"');
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn sample(mut printer: Printer) -> String {
        printer.object(|p| {
            p.key("a");
            p.array(|p| {
                p.item();
                p.value(1.0);
                p.item();
                p.on_one_line(|p| {
                    p.object(|p| {
                        p.text_field("b", Some("x"));
                        p.text_field("none", None);
                        p.pair_field("c", Some((1.5, 2.0)));
                    });
                });
            });
            p.key("empty");
            p.object(|_| {});
            p.key("inf");
            p.value(f64::INFINITY);
        });
        String::from_utf8(printer.finish().unwrap()).unwrap()
    }

    #[test]
    fn compact_and_indented() {
        assert_eq!(
            sample(Printer::compact()),
            r#"{"a":[1,{"b":"x","c":[1.5,2]}],"empty":{},"inf":"inf"}"#
        );
        assert_eq!(
            sample(Printer::indented()),
            "{\n  \"a\": [\n    1,\n    {\"b\": \"x\", \"c\": [1.5, 2]}\n  ],\n  \"empty\": {},\n  \"inf\": \"inf\"\n}"
        );
    }

    #[test]
    fn every_byte_is_escaped_as_json_wants_it() {
        let text: String = ('\0'..='\u{ff}').chain(['\u{2028}', '∞', '𝄞']).collect();
        let mut out = Vec::new();
        push_text(&mut out, &text);
        assert_eq!(serde_json::from_slice::<String>(&out).unwrap(), text);
        assert!(out.iter().all(|&byte| byte >= 0x20));
    }

    #[test]
    fn the_first_fault_is_reported() {
        let mut printer = Printer::compact();
        printer.finite("squeeze", f64::NAN);
        printer.finite("rotation", f64::INFINITY);
        let said = printer.finish().unwrap_err().to_string();
        assert_eq!(said, "squeeze is NaN, not a finite number");
    }
}
