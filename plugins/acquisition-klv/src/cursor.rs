//! Looks at bytes of an input at any place, and fetches as few as will do.

use ringmark_sdk::Input;

/// Bytes that are fetched after a jump: a key, its length and mostly the next one.
const FIRST: usize = 256;

/// Most bytes that are fetched at once while one follows the other.
const MOST: usize = 256 * 1024;

/// A window over an input.
pub struct Cursor {
    input: Box<dyn Input>,
    size: u64,
    buffer: Vec<u8>,
    /// Offset in the file of `buffer[0]`.
    base: u64,
    step: usize,
}

impl Cursor {
    /// A window over `input`.
    pub fn new(input: Box<dyn Input>) -> Self {
        Cursor {
            size: input.size(),
            input,
            buffer: Vec::new(),
            base: 0,
            step: FIRST,
        }
    }

    /// Name of the input.
    pub fn name(&self) -> String {
        self.input.name()
    }

    /// Bytes of the file.
    pub fn size(&self) -> u64 {
        self.size
    }

    /// Up to `count` bytes from `offset` on; fewer only at the end of the file.
    pub fn at(&mut self, offset: u64, count: usize) -> &[u8] {
        let held = offset
            .checked_sub(self.base)
            .and_then(|start| usize::try_from(start).ok());
        if let Some(start) = held
            && start.saturating_add(count) <= self.buffer.len()
        {
            return &self.buffer[start..start + count];
        }
        // What follows what is held is read in growing steps, what stands elsewhere in the smallest.
        self.step = match held {
            Some(start) if start <= self.buffer.len() && !self.buffer.is_empty() => {
                (2 * self.step).min(MOST)
            }
            _ => FIRST,
        };
        let left = self.size.saturating_sub(offset);
        let wanted = (count.max(self.step) as u64).min(left);
        self.buffer = match u32::try_from(wanted) {
            Ok(0) | Err(_) => Vec::new(),
            Ok(wanted) => self.input.read(offset, wanted),
        };
        self.base = offset;
        &self.buffer[..count.min(self.buffer.len())]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    #[test]
    fn any_place_in_any_order() {
        let bytes: Vec<u8> = (0..5000u32).map(|n| (n % 251) as u8).collect();
        let mut cursor = Cursor::new(MemoryInput::boxed("x", bytes.clone()));
        for (offset, count) in [
            (0, 20),
            (18, 300),
            (318, 4000),
            (10, 5),
            (4990, 50),
            (4999, 1),
            (5000, 4),
            (9000, 4),
            (0, 5000),
            (2500, 0),
        ] {
            let end = (offset + count).min(bytes.len());
            let expected = bytes.get(offset..end).unwrap_or_default();
            assert_eq!(
                cursor.at(offset as u64, count),
                expected,
                "{offset} {count}"
            );
        }
    }
}
