//! Reads an input forward in chunks and hands out whole lines with their offsets.

use crate::Input;

/// How many bytes are asked for at a time: large enough that the crossing costs nothing.
const CHUNK: u32 = 256 * 1024;

/// A forward window over one input. The bytes of the current window are in [`Window::bytes`].
pub struct Window {
    input: Box<dyn Input>,
    buffer: Vec<u8>,
    /// Offset in the file of `buffer[0]`.
    base: u64,
    /// Bytes of the buffer that were used.
    used: usize,
    ended: bool,
}

impl Window {
    /// A window at the start of `input`.
    pub fn new(input: Box<dyn Input>) -> Self {
        Window {
            input,
            buffer: Vec::new(),
            base: 0,
            used: 0,
            ended: false,
        }
    }

    /// Name of the input.
    pub fn name(&self) -> String {
        self.input.name()
    }

    /// Unused bytes at hand.
    pub fn bytes(&self) -> &[u8] {
        &self.buffer[self.used..]
    }

    /// Offset in the file of the first unused byte.
    pub fn offset(&self) -> u64 {
        self.base + self.used as u64
    }

    /// Whether nothing follows the bytes at hand.
    pub fn ended(&self) -> bool {
        self.ended
    }

    /// Marks `count` bytes as used.
    pub fn advance(&mut self, count: usize) {
        self.used = (self.used + count).min(self.buffer.len());
    }

    /// Fetches more bytes behind those at hand. `false` when the file has ended.
    pub fn more(&mut self) -> bool {
        if self.ended {
            return false;
        }
        let chunk = self.input.read(self.base + self.buffer.len() as u64, CHUNK);
        self.ended = chunk.len() < CHUNK as usize;
        if self.used == self.buffer.len() {
            // Nothing is left over: take the chunk as it is, without a copy.
            self.base += self.buffer.len() as u64;
            self.buffer = chunk;
        } else {
            self.buffer.drain(..self.used);
            self.base += self.used as u64;
            self.buffer.extend_from_slice(&chunk);
        }
        self.used = 0;
        !self.bytes().is_empty()
    }
}
