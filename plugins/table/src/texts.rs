//! Texts of one column while a batch is filled.

use ringmark_sdk::{Failure, Labels, NO_LABEL, failure};

use crate::records::ends_cell;
use crate::words;

/// Texts as bytes, so that a batch is checked once; neighbouring equal texts are stored once.
#[derive(Debug)]
pub struct Texts {
    channel: String,
    form: &'static str,
    text: Vec<u8>,
    ends: Vec<u32>,
    index: Vec<u32>,
    /// Where the last text starts.
    last: usize,
    /// Whether the last text stood in the file without quotes and was the last row's too.
    repeats: bool,
}

impl Texts {
    /// An empty column.
    pub fn new(channel: String, form: &'static str) -> Self {
        Texts {
            channel,
            form,
            text: Vec::new(),
            ends: Vec::new(),
            index: Vec::new(),
            last: 0,
            repeats: false,
        }
    }

    /// Takes the cell at `at` if it is plain, and gives its end: ASCII without quotes that ends among
    /// the bytes. Everything else is left alone.
    // A function of its own leaves the numbers, which are more, the registers.
    #[inline(never)]
    pub fn read_plain(&mut self, bytes: &[u8], at: usize, delimiter: u8) -> Option<usize> {
        if self.repeats
            && let Some(end) = self.repeat(bytes, at, delimiter)
        {
            return Some(end);
        }
        let start = self.text.len();
        let mut end = at;
        loop {
            let Some(word) = words::load(bytes, end) else {
                self.text.truncate(start);
                return self.read_last(bytes, at, delimiter);
            };
            // Whole words are stored, what is too much is cut off: copying a number of bytes
            // that is known only now would be a call.
            self.text.extend_from_slice(&word.to_le_bytes());
            let plain = words::leading_text(word, delimiter);
            end += plain;
            if plain < 8 {
                break;
            }
        }
        self.text.truncate(start + (end - at));
        if !ends_cell(bytes, end, delimiter) || bytes.get(at) == Some(&b'"') {
            self.text.truncate(start);
            return None;
        }
        if end == at {
            self.push_absent();
        } else {
            self.stored(start, false);
        }
        Some(end)
    }

    /// The same near the end of the bytes, where no whole word is left.
    #[inline(never)]
    fn read_last(&mut self, bytes: &[u8], at: usize, delimiter: u8) -> Option<usize> {
        let rest = bytes.get(at..)?;
        let plain = |b: &u8| (0x20..0x80).contains(b) && *b != delimiter;
        let end = at + rest.iter().take_while(|b| plain(b)).count();
        if !ends_cell(bytes, end, delimiter) {
            return None;
        }
        let text = bytes.get(at..end)?;
        match text.first() {
            None => self.push_absent(),
            Some(b'"') => return None,
            Some(_) => self.push(text, false),
        }
        Some(end)
    }

    /// The end of the cell at `at`, if it is the last text again.
    #[inline(always)]
    fn repeat(&mut self, bytes: &[u8], at: usize, delimiter: u8) -> Option<usize> {
        let last = self.text.get(self.last..)?;
        let end = at + last.len();
        if bytes.get(at..end)? != last || !ends_cell(bytes, end, delimiter) {
            return None;
        }
        self.index.push((self.ends.len() as u32).wrapping_sub(1));
        Some(end)
    }

    /// The text of the next frame, which must be UTF-8. `quoted`: it stood in quotes.
    #[inline]
    pub fn push(&mut self, text: &[u8], quoted: bool) {
        let start = self.text.len();
        self.text.extend_from_slice(text);
        self.stored(start, quoted);
    }

    /// Takes what was stored from `start` on as the text of the next frame.
    #[inline(always)]
    fn stored(&mut self, start: usize, quoted: bool) {
        let count = self.ends.len();
        let (before, text) = self.text.split_at(start);
        let last = before.get(self.last..).unwrap_or_default();
        // Labels that count differ in the last byte: looking there first saves the comparison.
        if count > 0 && last.last() == text.last() && last == text {
            self.text.truncate(start);
            self.index.push(count as u32 - 1);
            self.repeats = !quoted;
            return;
        }
        self.last = start;
        self.ends.push(self.text.len() as u32);
        self.index.push(count as u32);
        self.repeats = false;
    }

    /// The next frame has no text.
    #[inline(always)]
    pub fn push_absent(&mut self) {
        self.index.push(NO_LABEL);
    }

    /// Forgets all frames from `frames` on.
    pub fn truncate(&mut self, frames: usize) {
        self.index.truncate(frames);
    }

    /// The labels of this batch; the column is empty again, with room for as many.
    pub fn take(&mut self) -> Result<Labels, Failure> {
        self.last = 0;
        self.repeats = false;
        let room = (self.text.len(), self.ends.len(), self.index.len());
        let text = std::mem::replace(&mut self.text, Vec::with_capacity(room.0));
        Ok(Labels {
            channel: self.channel.clone(),
            form: self.form.to_owned(),
            text: String::from_utf8(text)
                .map_err(|_| failure("a text is not UTF-8", "save the file as UTF-8", None))?,
            ends: std::mem::replace(&mut self.ends, Vec::with_capacity(room.1)),
            index: std::mem::replace(&mut self.index, Vec::with_capacity(room.2)),
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn neighbours_share_and_cut_rows_are_forgotten() {
        let mut texts = Texts::new("lens".to_owned(), "text");
        for _ in 0..3 {
            assert_eq!(texts.read_plain(b"A,", 0, b','), Some(1));
        }
        // Not the whole cell, or not known yet to be.
        assert_eq!(texts.read_plain(b"A", 0, b','), None);
        assert_eq!(texts.read_plain(b"A\xc3\xa4,", 0, b','), None);
        assert_eq!(texts.read_plain(b"A\r", 0, b','), None);
        assert_eq!(texts.read_plain(b"A\rB", 0, b','), None);
        assert_eq!(texts.read_plain(b"\"A\",", 0, b','), None);
        assert_eq!(texts.read_plain(b"x,,", 2, b','), Some(2));
        texts.push(b"B", false);
        texts.truncate(4);
        texts.push(b"B", false);
        let labels = texts.take().unwrap();
        assert_eq!(labels.text, "AB");
        assert_eq!(labels.ends, [1, 2]);
        assert_eq!(labels.index, [0, 0, 0, NO_LABEL, 1]);
    }

    #[test]
    fn a_text_in_quotes_is_not_looked_for_without_them() {
        let mut texts = Texts::new("note".to_owned(), "text");
        texts.push(b"a,b", true);
        texts.push(b"a,b", true);
        assert_eq!(texts.read_plain(b"a,b,", 0, b','), Some(1));
    }
}
