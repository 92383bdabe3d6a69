//! What is wrong with a document, and where.

use std::fmt;

/// Why a document could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadError {
    /// Name of the input.
    pub name: String,
    /// What is wrong.
    pub message: String,
    /// What to do; empty if there is nothing to say.
    pub help: String,
    /// Byte offset of the fault.
    pub offset: u64,
    /// Bytes that are at fault; 0 is a point.
    pub length: u64,
    /// Line of the fault, from 1.
    pub line: u64,
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}: {}", self.name, self.line, self.message)
    }
}

impl std::error::Error for ReadError {}

/// A fault while its place is still counted from the start of the text at hand.
#[derive(Debug)]
pub(super) struct Fault {
    pub message: String,
    pub help: String,
    pub at: usize,
    pub length: usize,
    /// Whether the text just ends too early.
    pub cut: bool,
}

/// Faults are rare and large, results are many and small.
pub(super) type Parsed<T> = Result<T, Box<Fault>>;

impl ReadError {
    /// A fault in a text that begins at the start of the input.
    pub(super) fn in_text(name: &str, text: &[u8], fault: Fault) -> Self {
        let before = text.get(..fault.at).unwrap_or(text);
        let line = 1 + before.iter().filter(|&&byte| byte == b'\n').count() as u64;
        ReadError::new(name, fault, 0, line)
    }

    /// A fault in a text that begins at `base` of the input, on the given line.
    pub(super) fn new(name: &str, fault: Fault, base: u64, line: u64) -> Self {
        ReadError {
            name: name.to_owned(),
            message: fault.message,
            help: fault.help,
            offset: base + fault.at as u64,
            length: fault.length as u64,
            line,
        }
    }

    /// A fault of the input as such.
    pub(super) fn input(name: &str, message: String, help: &str, offset: u64, line: u64) -> Self {
        ReadError {
            name: name.to_owned(),
            message,
            help: help.to_owned(),
            offset,
            length: 0,
            line,
        }
    }
}
