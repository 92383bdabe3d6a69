//! Bytes of an input from any offset on, a chunk at a time. Samples stand attribute after
//! attribute, so a take is read at several places at once: each has a scan of its own.

use std::rc::Rc;

use ringmark_sdk::Input;

/// Bytes that are asked for at a time when a file is read through.
pub const CHUNK: u32 = 256 * 1024;

/// A forward scan over one input.
pub struct Scan {
    input: Rc<dyn Input>,
    buffer: Vec<u8>,
    /// Offset in the file of `buffer[0]`.
    base: u64,
    /// Bytes of the buffer that were used.
    used: usize,
    chunk: u32,
    ended: bool,
}

impl Scan {
    /// A scan from `offset` on.
    pub fn new(input: Rc<dyn Input>, offset: u64, chunk: u32) -> Self {
        Scan {
            input,
            buffer: Vec::new(),
            base: offset,
            used: 0,
            chunk,
            ended: false,
        }
    }

    /// Offset of the next byte.
    pub fn offset(&self) -> u64 {
        self.base + self.used as u64
    }

    /// The byte `ahead` of the next one; `None` behind the end of the file.
    pub fn byte(&mut self, ahead: usize) -> Option<u8> {
        loop {
            if let Some(byte) = self.buffer.get(self.used + ahead) {
                return Some(*byte);
            }
            if !self.more() {
                return None;
            }
        }
    }

    /// The bytes at hand.
    pub fn rest(&self) -> &[u8] {
        self.buffer.get(self.used..).unwrap_or_default()
    }

    /// The next `count` bytes, which were looked at before.
    pub fn bytes(&self, count: usize) -> &[u8] {
        let rest = self.rest();
        rest.get(..count).unwrap_or(rest)
    }

    /// Goes on by `count` bytes.
    pub fn advance(&mut self, count: usize) {
        self.used = (self.used + count).min(self.buffer.len());
    }

    /// Fetches more bytes behind those at hand; `false` when the file is over.
    pub fn more(&mut self) -> bool {
        if self.ended {
            return false;
        }
        let at = self.base + self.buffer.len() as u64;
        let chunk = self.input.read(at, self.chunk);
        self.ended = chunk.len() < self.chunk as usize;
        self.buffer.drain(..self.used);
        self.base += self.used as u64;
        self.used = 0;
        self.buffer.extend_from_slice(&chunk);
        !chunk.is_empty()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    #[test]
    fn chunks_leave_no_trace() {
        let bytes: Vec<u8> = (0..=255).collect();
        for chunk in [1, 2, 7, 256, 1000] {
            let input = Rc::from(MemoryInput::boxed("x", bytes.as_slice()));
            let mut scan = Scan::new(input, 3, chunk);
            assert_eq!(scan.byte(9), Some(12));
            assert_eq!(scan.bytes(10), &bytes[3..13]);
            scan.advance(10);
            assert_eq!((scan.offset(), scan.byte(0)), (13, Some(13)));
            assert_eq!(scan.byte(242), Some(255));
            assert_eq!(scan.byte(243), None);
            assert_eq!(scan.bytes(2), [13, 14]);
        }
    }
}
