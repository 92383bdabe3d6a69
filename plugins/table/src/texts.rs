//! Texts of one column while a batch is filled.

use ringmark_sdk::{Failure, Labels, NO_LABEL, failure};

use crate::records::ends_cell;

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
    #[inline(always)]
    pub fn read_plain(&mut self, bytes: &[u8], at: usize, delimiter: u8) -> Option<usize> {
        if self.repeats
            && let Some(end) = self.repeat(bytes, at, delimiter)
        {
            return Some(end);
        }
        let mut end = at;
        loop {
            let &byte = bytes.get(end)?;
            if byte == delimiter || byte == b'\n' {
                break;
            }
            if !(0x20..0x80).contains(&byte) {
                if ends_cell(bytes, end, delimiter) {
                    break;
                }
                return None;
            }
            end += 1;
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
        let stored = self.ends.len();
        if stored > 0 && self.text.get(self.last..) == Some(text) {
            self.index.push(stored as u32 - 1);
            self.repeats = !quoted;
            return;
        }
        self.last = self.text.len();
        self.text.extend_from_slice(text);
        self.ends.push(self.text.len() as u32);
        self.index.push(stored as u32);
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
