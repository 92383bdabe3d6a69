//! The part of the input that is in memory.

use std::io::{ErrorKind, Read};

use super::error::ReadError;
use crate::json::{MAX_DOCUMENT, MAX_LINE};

const BLOCK: usize = 1 << 18;

/// A window that moves over the input, whole lines at a time.
pub(super) struct Window<R> {
    input: R,
    buffer: Vec<u8>,
    /// Bytes of the buffer that have been read.
    filled: usize,
    /// Where the next line starts.
    start: usize,
    /// Behind the last whole line.
    lines_end: usize,
    /// Offset in the input of the buffer.
    base: u64,
    at_end: bool,
}

impl<R: Read> Window<R> {
    pub fn new(input: R) -> Self {
        Window {
            input,
            buffer: Vec::new(),
            filled: 0,
            start: 0,
            lines_end: 0,
            base: 0,
            at_end: false,
        }
    }

    /// Offset in the input of [`Window::lines`].
    pub fn offset(&self) -> u64 {
        self.base + self.start as u64
    }

    /// Whole lines, and at the end of the input its last one even if it is not ended.
    pub fn lines(&self) -> &[u8] {
        self.buffer.get(self.start..self.lines_end).unwrap_or(&[])
    }

    /// Passes over bytes of [`Window::lines`].
    pub fn consume(&mut self, bytes: usize) {
        self.start = self.lines_end.min(self.start + bytes);
    }

    /// Brings in more lines when all are consumed; false at the end of the input.
    pub fn fill(&mut self, name: &str, line: u64) -> Result<bool, ReadError> {
        while self.start == self.lines_end {
            if self.at_end {
                return Ok(false);
            }
            if self.start > 0 {
                self.buffer.copy_within(self.start..self.filled, 0);
                self.filled -= self.start;
                self.base += self.start as u64;
                (self.start, self.lines_end) = (0, 0);
            }
            let before = self.filled;
            self.read(name, line)?;
            let fresh = self.buffer.get(before..self.filled).unwrap_or(&[]);
            match fresh.iter().rposition(|&byte| byte == b'\n') {
                Some(last) => self.lines_end = before + last + 1,
                None if self.at_end => self.lines_end = self.filled,
                None if self.filled > MAX_LINE => {
                    return Err(ReadError::input(
                        name,
                        format!("a line of more than {MAX_LINE} bytes"),
                        "this is no .take.jsonl, or it is damaged",
                        self.base,
                        line,
                    ));
                }
                None => {}
            }
        }
        Ok(true)
    }

    /// The first line if it is short enough, for a look at the form of the document.
    pub fn first_line(&mut self, name: &str) -> Result<&[u8], ReadError> {
        while self.lines_end == 0 && !self.at_end && self.filled <= MAX_LINE {
            let before = self.filled;
            self.read(name, 1)?;
            let fresh = self.buffer.get(before..self.filled).unwrap_or(&[]);
            if let Some(last) = fresh.iter().rposition(|&byte| byte == b'\n') {
                self.lines_end = before + last + 1;
            }
        }
        if self.at_end && self.lines_end == 0 {
            self.lines_end = self.filled;
        }
        // A byte order mark is no part of the document.
        if self.lines().starts_with(b"\xef\xbb\xbf") {
            self.start = 3;
        }
        let lines = self.lines();
        let end = lines.iter().position(|&byte| byte == b'\n');
        Ok(lines.get(..end.unwrap_or(lines.len())).unwrap_or(lines))
    }

    /// Reads the rest of the input and gives all of it.
    pub fn whole(&mut self, name: &str) -> Result<&[u8], ReadError> {
        while !self.at_end {
            if self.filled > MAX_DOCUMENT {
                return Err(ReadError::input(
                    name,
                    format!("more than {MAX_DOCUMENT} bytes"),
                    "long takes are written as .take.jsonl, with \"form\":\"lines\" in the first line",
                    0,
                    1,
                ));
            }
            self.read(name, 1)?;
        }
        self.lines_end = self.filled;
        Ok(self.buffer.get(..self.filled).unwrap_or(&[]))
    }

    fn read(&mut self, name: &str, line: u64) -> Result<(), ReadError> {
        if self.buffer.len() < self.filled + BLOCK {
            let grown = (2 * self.buffer.len()).max(self.filled + BLOCK);
            self.buffer.resize(grown, 0);
        }
        let free = self.filled..self.filled + BLOCK;
        let free = self.buffer.get_mut(free).unwrap_or_default();
        match self.input.read(free) {
            Ok(0) => self.at_end = true,
            Ok(bytes) => self.filled = self.buffer.len().min(self.filled + bytes),
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => {
                let offset = self.base + self.filled as u64;
                let message = format!("cannot be read: {error}");
                return Err(ReadError::input(name, message, "", offset, line));
            }
        }
        Ok(())
    }
}
