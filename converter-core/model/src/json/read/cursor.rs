//! A strict JSON parser that reads straight into the model and knows where it is.

mod numbers;

use std::borrow::Cow;
use std::collections::HashSet;

use super::error::{Fault, Parsed};
use crate::place::Place;

/// Deepest nesting of what is passed over.
const MAX_DEPTH: u32 = 64;

/// Names of an object up to which duplicates are looked for one by one.
const FEW: usize = 16;

/// A position in JSON text.
#[derive(Debug, Clone)]
pub(super) struct Cursor<'a> {
    text: &'a [u8],
    at: usize,
    /// Offset of the text in the input.
    base: u64,
    /// Whether values may not go over the end of a line.
    one_line: bool,
}

impl<'a> Cursor<'a> {
    /// At the start of a text that stands at `base` of the input.
    pub fn new(text: &'a [u8], base: u64) -> Self {
        Cursor {
            text,
            at: 0,
            base,
            one_line: false,
        }
    }

    /// The same for a text of lines, none of which may be broken.
    pub fn of_lines(text: &'a [u8], base: u64) -> Self {
        Cursor {
            one_line: true,
            ..Cursor::new(text, base)
        }
    }

    /// Bytes behind the cursor.
    pub fn at(&self) -> usize {
        self.at
    }

    /// Offset in the input.
    pub fn offset(&self) -> u64 {
        self.base + self.at as u64
    }

    /// Whether nothing is left.
    pub fn is_at_end(&self) -> bool {
        self.at >= self.text.len()
    }

    /// The place from `start` up to the cursor.
    pub fn place_from(&self, start: usize) -> Place {
        Place {
            input: 0,
            offset: self.base + start as u64,
            length: (self.at - start) as u64,
            field: None,
        }
    }

    /// A fault about the bytes from `start` up to the cursor.
    #[cold]
    pub fn fault(
        &self,
        start: usize,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Box<Fault> {
        Box::new(Fault {
            message: message.into(),
            help: help.into(),
            at: start,
            length: self.at.saturating_sub(start),
            cut: false,
        })
    }

    /// A fault about what stands at the cursor.
    #[cold]
    pub fn unexpected(&self, expected: &str) -> Box<Fault> {
        let rest = self.text.get(self.at..).unwrap_or(&[]);
        let found = match rest.first() {
            None => "the end of the file".to_owned(),
            Some(b'\n' | b'\r') => "the end of the line".to_owned(),
            Some(_) => {
                let shown = rest.get(..rest.len().min(24)).unwrap_or(rest);
                let shown = String::from_utf8_lossy(shown);
                let shown = shown.lines().next().unwrap_or_default();
                format!("`{}`", shown.trim_end_matches('\u{fffd}').escape_debug())
            }
        };
        Box::new(Fault {
            message: format!("expected {expected}, found {found}"),
            help: String::new(),
            at: self.at,
            length: rest.len().min(1),
            cut: rest.is_empty(),
        })
    }

    /// Passes over white space; within a line in texts of lines.
    #[inline]
    pub fn space(&mut self) {
        while let Some(&byte) = self.text.get(self.at) {
            match byte {
                b' ' | b'\t' | b'\r' => self.at += 1,
                b'\n' if !self.one_line => self.at += 1,
                _ => break,
            }
        }
    }

    /// Passes over lines in which nothing stands, and tells how many.
    pub fn blank_lines(&mut self) -> u64 {
        let mut lines = 0;
        loop {
            self.space();
            if self.text.get(self.at) != Some(&b'\n') {
                return lines;
            }
            self.at += 1;
            lines += 1;
        }
    }

    /// The end of a line, or of the text.
    #[inline]
    pub fn line_end(&mut self) -> Parsed<()> {
        self.space();
        match self.text.get(self.at) {
            Some(b'\n') => {
                self.at += 1;
                Ok(())
            }
            None => Ok(()),
            Some(_) => Err(self.unexpected("the end of the line")),
        }
    }

    /// The next byte that is no space.
    #[inline]
    pub fn peek(&mut self) -> Option<u8> {
        match self.text.get(self.at) {
            Some(&byte) if byte > b' ' => Some(byte),
            _ => {
                self.space();
                self.text.get(self.at).copied()
            }
        }
    }

    /// Passes over `byte` if it comes next.
    #[inline]
    pub fn take(&mut self, byte: u8) -> bool {
        let found = self.peek() == Some(byte);
        self.at += usize::from(found);
        found
    }

    /// Passes over exactly these bytes if they come next, without a look for space.
    #[inline]
    pub fn take_exactly(&mut self, bytes: &[u8]) -> bool {
        let found = self
            .text
            .get(self.at..)
            .is_some_and(|rest| rest.starts_with(bytes));
        if found {
            self.at += bytes.len();
        }
        found
    }

    #[inline]
    pub fn expect(&mut self, byte: u8, expected: &str) -> Parsed<()> {
        match self.take(byte) {
            true => Ok(()),
            false => Err(self.unexpected(expected)),
        }
    }

    /// After an item: true if another one follows, false at the closing bracket.
    #[inline]
    pub fn goes_on(&mut self, close: u8) -> Parsed<bool> {
        match self.peek() {
            Some(b',') => {
                self.at += 1;
                Ok(true)
            }
            Some(byte) if byte == close => {
                self.at += 1;
                Ok(false)
            }
            _ if close == b'}' => Err(self.unexpected("`,` or `}`")),
            _ => Err(self.unexpected("`,` or `]`")),
        }
    }

    /// Each item of an array.
    pub fn array(&mut self, mut item: impl FnMut(&mut Self) -> Parsed<()>) -> Parsed<()> {
        self.expect(b'[', "`[`")?;
        if self.take(b']') {
            return Ok(());
        }
        loop {
            item(self)?;
            if !self.goes_on(b']')? {
                return Ok(());
            }
        }
    }

    /// Each member of an object with names of its own; no name may stand twice. The cursor is at
    /// the value, the last argument is where the name begins.
    pub fn members(
        &mut self,
        mut member: impl FnMut(&mut Self, &str, usize) -> Parsed<()>,
    ) -> Parsed<()> {
        self.expect(b'{', "`{`")?;
        if self.take(b'}') {
            return Ok(());
        }
        let mut few: Vec<Cow<'a, str>> = Vec::new();
        let mut many: HashSet<Cow<'a, str>> = HashSet::new();
        loop {
            let start = self.key_start();
            let key = self.key()?;
            if few.contains(&key) || many.contains(&key) {
                return Err(self.fault(start, format!("key `{key}` stands twice"), "remove one"));
            }
            member(self, &key, start)?;
            if few.len() < FEW {
                few.push(key);
            } else {
                many.insert(key);
            }
            if !self.goes_on(b'}')? {
                return Ok(());
            }
        }
    }

    /// Each member of an object whose keys are known.
    pub fn object(
        &mut self,
        keys: &[&str],
        mut member: impl FnMut(&mut Self, &str) -> Parsed<()>,
    ) -> Parsed<()> {
        self.members(|c, key, start| {
            if !keys.contains(&key) {
                return Err(c.unknown(start, "key", key, keys));
            }
            member(c, key)
        })
    }

    /// Where the next key will begin.
    pub fn key_start(&mut self) -> usize {
        self.space();
        self.at
    }

    /// A key and its colon.
    pub fn key(&mut self) -> Parsed<Cow<'a, str>> {
        if self.peek() != Some(b'"') {
            return Err(self.unexpected("a key in quotes"));
        }
        let key = self.text()?;
        self.expect(b':', "`:`")?;
        self.space();
        Ok(key)
    }

    /// A fault about a name that is not among `known`, with the nearest one.
    #[cold]
    pub fn unknown(&self, start: usize, what: &str, found: &str, known: &[&str]) -> Box<Fault> {
        let nearest = known
            .iter()
            .map(|name| (strsim::damerau_levenshtein(found, name), name))
            .min_by_key(|(distance, _)| *distance)
            .filter(|(distance, name)| *distance <= 1 + name.len() / 4);
        let help = match nearest {
            Some((_, name)) => format!("did you mean `{name}`?"),
            None if known.len() <= 20 => format!("known are {}", known.join(", ")),
            None => String::new(),
        };
        let shown: String = found.chars().take(60).collect();
        self.fault(
            start,
            format!("unknown {what} `{}`", shown.escape_debug()),
            help,
        )
    }

    /// A string.
    #[inline]
    pub fn text(&mut self) -> Parsed<Cow<'a, str>> {
        if self.peek() != Some(b'"') {
            return Err(self.unexpected("a text in quotes"));
        }
        let start = self.at;
        let mut end = start + 1;
        let mut escaped = false;
        loop {
            match self.text.get(end) {
                Some(b'"') => break,
                Some(b'\\') => {
                    escaped = true;
                    end += 2;
                }
                Some(&byte) if byte >= 0x20 => end += 1,
                _ => return Err(self.broken_text(start, end)),
            }
        }
        self.at = end + 1;
        let inner = self.text.get(start + 1..end).unwrap_or(&[]);
        if escaped {
            let whole = self.text.get(start..=end).unwrap_or(&[]);
            return match serde_json::from_slice(whole) {
                Ok(text) => Ok(Cow::Owned(text)),
                Err(_) => Err(self.fault(start, "a text with a wrong escape or invalid UTF-8", "")),
            };
        }
        match std::str::from_utf8(inner) {
            Ok(text) => Ok(Cow::Borrowed(text)),
            Err(error) => {
                let bad = start + 1 + error.valid_up_to();
                Err(self.fault(bad, "not UTF-8", "save the file as UTF-8"))
            }
        }
    }

    #[cold]
    fn broken_text(&mut self, start: usize, end: usize) -> Box<Fault> {
        self.at = end.min(self.text.len());
        let message = match self.text.get(end) {
            Some(b'\n' | b'\r') | None => "a text that is not closed by `\"`",
            Some(_) => "a control character in a text",
        };
        let cut = self.at == self.text.len();
        Box::new(Fault {
            cut,
            ..*self.fault(start, message, "")
        })
    }

    /// `null`.
    pub fn null(&mut self) -> Parsed<()> {
        self.word("null")
    }

    fn word(&mut self, word: &str) -> Parsed<()> {
        if self.take_exactly(word.as_bytes()) {
            return Ok(());
        }
        let mut fault = self.unexpected(word);
        let rest = self.text.get(self.at..).unwrap_or(&[]);
        fault.cut = word.as_bytes().starts_with(rest);
        Err(fault)
    }

    /// One of a few names.
    pub fn one_of<T>(&mut self, what: &str, all: &[(&str, T)]) -> Parsed<T>
    where
        T: Copy,
    {
        self.space();
        let start = self.at;
        let text = self.text()?;
        match all.iter().find(|(name, _)| *name == text) {
            Some((_, value)) => Ok(*value),
            None => {
                let names: Vec<&str> = all.iter().map(|(name, _)| *name).collect();
                Err(self.unknown(start, what, &text, &names))
            }
        }
    }

    /// Passes over any value.
    pub fn skip(&mut self) -> Parsed<()> {
        self.skip_below(MAX_DEPTH)
    }

    fn skip_below(&mut self, depth: u32) -> Parsed<()> {
        let Some(depth) = depth.checked_sub(1) else {
            return Err(self.unexpected(&format!("at most {MAX_DEPTH} levels")));
        };
        match self.peek() {
            Some(b'{') => self.members(|c, _, _| c.skip_below(depth)),
            Some(b'[') => self.array(|c| c.skip_below(depth)),
            Some(b'"') => self.text().map(drop),
            Some(b't') => self.word("true"),
            Some(b'f') => self.word("false"),
            Some(b'n') => self.null(),
            Some(b'-' | b'0'..=b'9') => self.finite().map(drop),
            _ => Err(self.unexpected("a value")),
        }
    }
}
