//! Bytes of an input where they are needed, fetched a page at a time.

use std::cell::RefCell;

use ringmark_sdk::Input;

/// Bytes of one fetch: an IFD with its values, or some small segments.
const PAGE: u64 = 8 * 1024;

/// A stretch of an input whose offsets count from its start.
pub struct Block<'a> {
    input: &'a dyn Input,
    start: u64,
    length: u64,
    page: RefCell<Page>,
}

struct Page {
    start: u64,
    bytes: Vec<u8>,
}

impl<'a> Block<'a> {
    /// The whole input.
    pub fn whole(input: &'a dyn Input) -> Self {
        Block::new(input, 0, input.size())
    }

    /// `length` bytes from `start` on.
    pub fn new(input: &'a dyn Input, start: u64, length: u64) -> Self {
        Block {
            input,
            start,
            length,
            page: RefCell::new(Page {
                start: 0,
                bytes: Vec::new(),
            }),
        }
    }

    /// Bytes in the block.
    pub fn length(&self) -> u64 {
        self.length
    }

    /// Offset in the file of an offset in the block.
    pub fn in_file(&self, at: u64) -> u64 {
        self.start.saturating_add(at)
    }

    /// Whether the block has so many bytes there.
    pub fn has(&self, at: u64, length: u64) -> bool {
        at.checked_add(length).is_some_and(|end| end <= self.length)
    }

    /// The bytes; `None` if the block does not have them all. The length is compared with the
    /// block before any memory is asked for.
    pub fn bytes(&self, at: u64, length: u64) -> Option<Vec<u8>> {
        if !self.has(at, length) {
            return None;
        }
        let mut page = self.page.borrow_mut();
        if at < page.start || at + length > page.start + page.bytes.len() as u64 {
            let wanted = length.max(PAGE).min(self.length - at);
            let bytes = self
                .input
                .read(self.in_file(at), u32::try_from(wanted).ok()?);
            *page = Page { start: at, bytes };
        }
        let from = usize::try_from(at - page.start).ok()?;
        let to = from.checked_add(usize::try_from(length).ok()?)?;
        page.bytes.get(from..to).map(<[u8]>::to_vec)
    }

    /// The same as an array.
    pub fn array<const N: usize>(&self, at: u64) -> Option<[u8; N]> {
        self.bytes(at, N as u64)?.try_into().ok()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    #[test]
    fn bytes_inside_and_outside() {
        let bytes: Vec<u8> = (0..40_000_u32).map(|n| n as u8).collect();
        let input = MemoryInput::boxed("x", bytes.clone());
        let block = Block::new(&*input, 100, 30_000);
        for (at, length) in [(0, 4), (8190, 10), (29_990, 10), (3, 20_000), (0, 0)] {
            let expected = &bytes[100 + at as usize..100 + (at + length) as usize];
            assert_eq!(block.bytes(at, length).unwrap(), expected);
        }
        assert_eq!(block.bytes(29_991, 10), None);
        assert_eq!(block.bytes(u64::MAX, 2), None);
        assert_eq!(block.array::<2>(1), Some([101, 102]));
    }

    #[test]
    fn an_input_that_is_shorter_than_it_says() {
        struct Short;
        impl Input for Short {
            fn name(&self) -> String {
                String::new()
            }
            fn size(&self) -> u64 {
                1 << 40
            }
            fn read(&self, _: u64, _: u32) -> Vec<u8> {
                vec![1, 2]
            }
        }
        assert_eq!(Block::whole(&Short).bytes(0, 3), None);
    }
}
