//! Finds the samples of a file, one after another: one a line, concatenated, or elements of an
//! array, whatever the white space. Never holds more than one sample and one chunk.

use std::ops::Range;

use ringmark_sdk::bytes::Window;
use ringmark_sdk::{Failure, Input, Place, failure};

/// Longest sample that is read.
const MAX_SAMPLE: usize = 4 * 1024 * 1024;

/// Deepest nesting of objects and arrays.
const MAX_DEPTH: usize = 64;

/// What may come next between samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Expect {
    /// A sample or an array of samples, or the end of the file.
    Anything,
    /// The first element of an array or its end.
    FirstElement,
    /// An element, since a comma came before.
    Element,
    /// A comma or the end of the array.
    Comma,
}

/// The samples of one input.
pub struct Samples {
    window: Window,
    expect: Expect,
    started: bool,
    byte_order_mark: bool,
    /// Length of the sample handed out last; it is still at the front of the window.
    current: usize,
}

impl Samples {
    /// The samples of `input`.
    pub fn new(input: Box<dyn Input>) -> Self {
        Samples {
            window: Window::new(input),
            expect: Expect::Anything,
            started: false,
            byte_order_mark: false,
            current: 0,
        }
    }

    /// Whether the file starts with a byte order mark.
    pub fn byte_order_mark(&self) -> bool {
        self.byte_order_mark
    }

    /// Offset in the file of the current sample.
    pub fn offset(&self) -> u64 {
        self.window.offset()
    }

    /// Bytes of the current sample.
    pub fn bytes(&self) -> &[u8] {
        self.window.bytes().get(..self.current).unwrap_or_default()
    }

    /// Moves to the next sample; `false` at the end of the file.
    pub fn advance(&mut self) -> Result<bool, Failure> {
        self.window.advance(self.current);
        self.current = 0;
        if !self.started {
            self.started = true;
            self.skip_byte_order_mark()?;
        }
        while let Some(byte) = self.next_visible() {
            match (self.expect, byte) {
                (Expect::Comma, b',') => self.step(Expect::Element),
                (Expect::Comma | Expect::FirstElement, b']') => self.step(Expect::Anything),
                (Expect::Anything, b'[') => self.step(Expect::FirstElement),
                (Expect::Anything | Expect::FirstElement | Expect::Element, b'{') => {
                    self.current = self.find_end()?;
                    if self.expect != Expect::Anything {
                        self.expect = Expect::Comma;
                    }
                    return Ok(true);
                }
                _ => return Err(self.unexpected(byte)),
            }
        }
        if self.expect != Expect::Anything {
            return Err(failure(
                "the file ends inside an array of samples: its `]` is missing",
                "the end of the file is lost; copy it again from its source",
                self.place(0..0),
            ));
        }
        Ok(false)
    }

    /// A place in the current sample, or at the current spot.
    pub fn place(&self, range: Range<usize>) -> Option<Place> {
        Some(Place {
            input: 0,
            offset: self.window.offset() + range.start as u64,
            length: (range.end - range.start) as u64,
            field: String::new(),
        })
    }

    fn step(&mut self, next: Expect) {
        self.window.advance(1);
        self.expect = next;
    }

    fn skip_byte_order_mark(&mut self) -> Result<(), Failure> {
        while self.window.bytes().len() < 3 && self.grow() {}
        let bytes = self.window.bytes();
        if bytes.starts_with(b"\xef\xbb\xbf") {
            self.byte_order_mark = true;
            self.window.advance(3);
        } else if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
            return Err(failure(
                "the file is UTF-16 text; JSON is UTF-8",
                "save it as UTF-8",
                self.place(0..2),
            ));
        }
        Ok(())
    }

    /// Fetches bytes; `false` if none came.
    fn grow(&mut self) -> bool {
        let before = self.window.bytes().len();
        self.window.more();
        self.window.bytes().len() > before
    }

    /// The next byte that is no white space.
    fn next_visible(&mut self) -> Option<u8> {
        loop {
            let bytes = self.window.bytes();
            match bytes.iter().position(|b| !b.is_ascii_whitespace()) {
                Some(at) => {
                    let byte = bytes[at];
                    self.window.advance(at);
                    return Some(byte);
                }
                None => {
                    self.window.advance(bytes.len());
                    if !self.grow() {
                        return None;
                    }
                }
            }
        }
    }

    /// Length of the object at the front of the window.
    fn find_end(&mut self) -> Result<usize, Failure> {
        let mut at = 0;
        let mut depth = 0;
        let mut in_string = false;
        loop {
            let bytes = self.window.bytes();
            let scanned = &bytes[..bytes.len().min(MAX_SAMPLE + 1)];
            while at < scanned.len() {
                if in_string {
                    match scanned[at..].iter().position(|b| matches!(b, b'"' | b'\\')) {
                        None => at = scanned.len(),
                        Some(skip) if scanned[at + skip] == b'"' => {
                            in_string = false;
                            at += skip + 1;
                        }
                        // The byte after a backslash is part of the string, whatever it is.
                        Some(skip) => at += skip + 2,
                    }
                    continue;
                }
                let Some(skip) = scanned[at..].iter().position(|b| STRUCTURE[*b as usize]) else {
                    at = scanned.len();
                    break;
                };
                at += skip + 1;
                match scanned[at - 1] {
                    b'"' => in_string = true,
                    b'{' | b'[' => {
                        depth += 1;
                        if depth > MAX_DEPTH {
                            return Err(failure(
                                format!("values are nested deeper than {MAX_DEPTH} levels"),
                                "no OpenTrackIO sample is nested so deep: the file is damaged or something else",
                                self.place(at - 1..at),
                            ));
                        }
                    }
                    _ => {
                        depth -= 1;
                        if depth == 0 {
                            if at > MAX_SAMPLE {
                                return Err(self.too_long());
                            }
                            return Ok(at);
                        }
                    }
                }
            }
            if at > MAX_SAMPLE {
                return Err(self.too_long());
            }
            if !self.grow() {
                let length = self.window.bytes().len();
                return Err(failure(
                    format!(
                        "the last sample is cut off: it ends after {length} bytes, inside its `{{`"
                    ),
                    "the end of the file is lost; copy it again from its source",
                    self.place(0..0),
                ));
            }
        }
    }

    fn too_long(&self) -> Failure {
        failure(
            format!("a sample is longer than {} MiB", MAX_SAMPLE >> 20),
            "the file is damaged, or no OpenTrackIO; a sample takes a few kilobytes",
            self.place(0..0),
        )
    }

    fn unexpected(&self, byte: u8) -> Failure {
        let found = if byte.is_ascii_graphic() {
            format!("`{}`", byte as char)
        } else {
            format!("the byte {byte:02X}")
        };
        let (expected, help) = match self.expect {
            Expect::Anything => (
                "`{`, the start of a sample",
                "this may be another format: name it with --from",
            ),
            Expect::FirstElement | Expect::Element => (
                "`{`, the start of a sample",
                "an array may hold samples only, with a comma between two",
            ),
            Expect::Comma => (
                "`,` or `]` after a sample",
                "samples in an array have a comma between them",
            ),
        };
        failure(
            format!("found {found} where {expected} should be"),
            help,
            self.place(0..1),
        )
    }
}

/// Bytes outside strings that matter for finding the end of an object.
static STRUCTURE: [bool; 256] = {
    let mut table = [false; 256];
    table[b'"' as usize] = true;
    table[b'{' as usize] = true;
    table[b'}' as usize] = true;
    table[b'[' as usize] = true;
    table[b']' as usize] = true;
    table
};

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    fn split(text: &str) -> Result<Vec<(u64, String)>, (usize, Failure)> {
        let mut samples = Samples::new(MemoryInput::boxed("x", text.as_bytes()));
        let mut found: Vec<(u64, String)> = Vec::new();
        loop {
            match samples.advance() {
                Ok(true) => found.push((
                    samples.offset(),
                    String::from_utf8(samples.bytes().to_vec()).unwrap(),
                )),
                Ok(false) => return Ok(found),
                Err(failure) => return Err((found.len(), failure)),
            }
        }
    }

    fn texts(text: &str) -> Vec<String> {
        split(text).unwrap().into_iter().map(|(_, t)| t).collect()
    }

    #[test]
    fn three_ways_to_put_samples_together() {
        let a = r#"{"a":"}\"{","b":[1,{}]}"#;
        for text in [
            format!("{a}\n{{}}\r\n{a}"),
            format!("{a}{{}}{a}"),
            format!(" [ {a} ,{{}}\n,{a}]\n"),
            format!("\u{feff}[{a}][{{}}]{a}"),
        ] {
            assert_eq!(texts(&text), [a, "{}", a], "{text}");
        }
        assert_eq!(texts("{\n\"a\": {}\n}\n{ }"), ["{\n\"a\": {}\n}", "{ }"]);
        assert!(texts("").is_empty());
        assert!(texts(" \n[]\n").is_empty());
    }

    #[test]
    fn offsets_count_from_the_start_of_the_file() {
        let offsets: Vec<_> = split("\u{feff}{}\r\n {}")
            .unwrap()
            .iter()
            .map(|s| s.0)
            .collect();
        assert_eq!(offsets, [3, 8]);
    }

    #[test]
    fn samples_across_chunks() {
        let long = format!("{{\"a\":\"{}\\\\\"}}", "x".repeat(300_000));
        let text = format!("{long}\n{long}\n{{}}");
        let found = texts(&text);
        assert_eq!(
            found.iter().map(String::len).collect::<Vec<_>>(),
            [long.len(), long.len(), 2]
        );
    }

    #[test]
    fn damage_is_told_with_its_place_after_the_good_samples() {
        for (text, good, offset, says) in [
            ("{}\n{\"a\":1", 1, 3, "cut off"),
            ("[{},{}", 2, 6, "`]` is missing"),
            ("[{} {}]", 1, 4, "found `{` where `,` or `]`"),
            ("[{},]", 1, 4, "found `]`"),
            ("[1]", 0, 1, "found `1`"),
            ("frame,focus\n", 0, 0, "found `f`"),
            ("\u{1}", 0, 0, "the byte 01"),
        ] {
            let (count, failure) = split(text).unwrap_err();
            assert_eq!(count, good, "{text}");
            assert_eq!(failure.at.unwrap().offset, offset, "{text}");
            assert!(
                failure.message.contains(says),
                "{text}: {}",
                failure.message
            );
        }
    }

    #[test]
    fn nesting_is_limited() {
        let deep =
            |levels: usize| format!("{{\"a\":{}{}}}", "[".repeat(levels), "]".repeat(levels));
        assert_eq!(texts(&deep(63)).len(), 1);
        assert!(
            split(&deep(64))
                .unwrap_err()
                .1
                .message
                .contains("64 levels")
        );
        assert!(split(&deep(100_000)).is_err());
    }

    /// An endless line, made as it is asked for.
    struct Endless(std::rc::Rc<std::cell::Cell<u64>>);

    impl Input for Endless {
        fn name(&self) -> String {
            "endless".into()
        }
        fn size(&self) -> u64 {
            1 << 30
        }
        fn read(&self, offset: u64, length: u32) -> Vec<u8> {
            self.0.set(offset + u64::from(length));
            let mut bytes = vec![b'a'; length as usize];
            if offset == 0 {
                bytes[..2].copy_from_slice(b"{\"");
            }
            bytes
        }
    }

    #[test]
    fn a_line_of_a_gigabyte_is_refused_early() {
        let asked = std::rc::Rc::default();
        let mut samples = Samples::new(Box::new(Endless(std::rc::Rc::clone(&asked))));
        let failure = samples.advance().unwrap_err();
        assert!(failure.message.contains("4 MiB"), "{}", failure.message);
        assert!(asked.get() <= 5 << 20);
    }
}
