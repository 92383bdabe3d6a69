//! Random access to the file in pages, and forward cursors over it. Many cursors read the same
//! file side by side: each holds one page, and pages that are near in use are shared.

use std::cell::{Cell, RefCell};
use std::io::{self, BufRead, Read};
use std::rc::Rc;

use ringmark_sdk::Input;

/// Bytes of a page: large enough that fetching costs little, small enough for a thousand cursors.
const PAGE: u64 = 16 * 1024;

/// Pages kept beyond those that cursors hold.
const KEPT: usize = 128;

type Page = Rc<Vec<u8>>;

/// The file in pages.
pub struct Pages {
    input: Box<dyn Input>,
    kept: RefCell<Vec<Option<(u64, Page)>>>,
    /// Bytes in front of the document: a byte order mark.
    pub start: u64,
    fetched: Cell<u64>,
}

impl Pages {
    /// The pages of `input`.
    pub fn new(input: Box<dyn Input>) -> Rc<Self> {
        let start = match input.read(0, 3).as_slice() {
            [0xef, 0xbb, 0xbf] => 3,
            _ => 0,
        };
        Rc::new(Pages {
            input,
            kept: RefCell::new(vec![None; KEPT]),
            start,
            fetched: Cell::new(0),
        })
    }

    /// The first bytes of the file.
    pub fn head(&self) -> Vec<u8> {
        self.input.read(0, 4)
    }

    fn page(&self, number: u64) -> Page {
        let mut kept = self.kept.borrow_mut();
        let slot = (number % KEPT as u64) as usize;
        if let Some(Some((known, page))) = kept.get(slot)
            && *known == number
        {
            return Rc::clone(page);
        }
        self.fetched.set(self.fetched.get() + 1);
        let page = Rc::new(self.input.read(number * PAGE, PAGE as u32));
        if let Some(slot) = kept.get_mut(slot) {
            *slot = Some((number, Rc::clone(&page)));
        }
        page
    }
}

/// Reads forward from a place. What may be read is limited until the next [`Cursor::allow`], so
/// that no markup without end fills the memory.
pub struct Cursor {
    pages: Rc<Pages>,
    page: Page,
    number: u64,
    at: usize,
    allowed: usize,
}

impl Cursor {
    /// A cursor at `offset` of the file.
    pub fn new(pages: &Rc<Pages>, offset: u64) -> Self {
        let number = offset / PAGE;
        Cursor {
            pages: Rc::clone(pages),
            page: pages.page(number),
            number,
            at: (offset % PAGE) as usize,
            allowed: usize::MAX,
        }
    }

    /// A cursor that starts where another stands.
    pub fn new_at(other: &Cursor) -> Self {
        Cursor {
            pages: Rc::clone(&other.pages),
            page: Rc::clone(&other.page),
            ..*other
        }
    }

    /// Where the cursor stands.
    pub fn offset(&self) -> u64 {
        self.number * PAGE + self.at as u64
    }

    /// Lets `bytes` more be read.
    pub fn allow(&mut self, bytes: usize) {
        self.allowed = bytes;
    }

    /// Whether all that was allowed was read.
    pub fn spent(&self) -> bool {
        self.allowed == 0
    }

    /// The bytes at hand; empty at the end of the file.
    pub fn bytes(&mut self) -> &[u8] {
        if self.at >= self.page.len() && self.page.len() as u64 == PAGE {
            self.number += 1;
            self.at -= self.page.len();
            self.page = self.pages.page(self.number);
        }
        self.page.get(self.at..).unwrap_or_default()
    }

    /// Marks `count` bytes as read.
    pub fn skip(&mut self, count: usize) {
        self.at += count;
    }
}

impl Read for Cursor {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let bytes = self.fill_buf()?;
        let count = bytes.len().min(out.len());
        out[..count].copy_from_slice(&bytes[..count]);
        self.consume(count);
        Ok(count)
    }
}

impl BufRead for Cursor {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        let allowed = self.allowed;
        let bytes = self.bytes();
        if allowed == 0 && !bytes.is_empty() {
            return Err(io::Error::from(io::ErrorKind::FileTooLarge));
        }
        Ok(&bytes[..bytes.len().min(allowed)])
    }

    fn consume(&mut self, count: usize) {
        self.skip(count);
        self.allowed = self.allowed.saturating_sub(count);
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    #[test]
    fn cursors_read_across_pages_and_share_them() {
        let bytes: Vec<u8> = (0..PAGE as u32 * 3 + 5).map(|i| (i % 251) as u8).collect();
        let pages = Pages::new(MemoryInput::boxed("x", bytes.clone()));
        for start in [0, 7, PAGE as usize - 1, PAGE as usize, bytes.len() - 1] {
            let mut read = Vec::new();
            let mut cursor = Cursor::new(&pages, start as u64);
            cursor.read_to_end(&mut read).unwrap();
            assert_eq!(read, bytes[start..]);
            assert_eq!(cursor.offset(), bytes.len() as u64);
        }
        assert_eq!(pages.fetched.get(), 4);
    }

    #[test]
    fn a_limit_holds() {
        let pages = Pages::new(MemoryInput::boxed("x", vec![b'x'; 100]));
        let mut cursor = Cursor::new(&pages, 0);
        cursor.allow(40);
        assert!(io::copy(&mut cursor, &mut io::sink()).is_err());
        assert_eq!(cursor.offset(), 40);
        assert!(cursor.spent());
        cursor.allow(60);
        assert_eq!(io::copy(&mut cursor, &mut io::sink()).unwrap(), 60);
    }
}
