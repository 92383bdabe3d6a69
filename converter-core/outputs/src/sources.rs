//! The bytes of the inputs, read only where a finding points, with lines counted once.

use std::cell::RefCell;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::PathBuf;
use std::sync::Arc;

use ringmark_model::Place;

/// Bytes between two entries of the line index, and the size of one read.
const BLOCK: u64 = 16 * 1024;
/// Bytes of the start of a file that decide whether it is text.
const HEAD: usize = 8 * 1024;

/// Where the bytes of an input are.
#[derive(Debug, Clone)]
enum Bytes {
    /// In a file, opened when asked for.
    Path(PathBuf),
    /// In memory.
    Memory(Arc<[u8]>),
}

/// The inputs of one document, by the index that places use. Nothing is read before it is asked for, and no file is
/// ever held in memory as a whole.
#[derive(Debug, Default)]
pub struct SourceFiles {
    files: Vec<SourceFile>,
    state: RefCell<State>,
}

#[derive(Debug)]
struct SourceFile {
    name: String,
    bytes: Bytes,
}

/// What is known of the files so far, in the order of the files.
#[derive(Debug, Default)]
struct State {
    /// The file read last, kept open.
    open: Option<(usize, File)>,
    known: Vec<Known>,
}

#[derive(Debug, Default)]
struct Known {
    index: LineIndex,
    text: Option<bool>,
    header: Option<Option<Arc<str>>>,
}

/// For each block from the start of the file: what lies before it. Grows as far as places need it.
#[derive(Debug, Default)]
struct LineIndex {
    before: Vec<Count>,
}

#[derive(Debug, Default, Clone, Copy)]
struct Count {
    lines: u64,
    /// Characters since the last line break.
    chars: u64,
}

impl Count {
    fn add(&mut self, bytes: &[u8]) {
        let count = |bytes: &[u8], counts: fn(u8) -> bool| {
            bytes.iter().filter(|byte| counts(**byte)).count() as u64
        };
        let is_break = |byte| byte == b'\n';
        let mut last_line = bytes;
        if let Some(at) = bytes.iter().rposition(|byte| is_break(*byte)) {
            let lines;
            (lines, last_line) = bytes.split_at(at + 1);
            self.lines += count(lines, is_break);
            self.chars = 0;
        }
        // A continuation byte of UTF-8 is no character.
        self.chars += count(last_line, |byte| byte & 0xC0 != 0x80);
    }
}

impl SourceFiles {
    /// No inputs yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds the next input: a file that is opened only when a finding points into it.
    pub fn add_path(&mut self, name: impl Into<String>, path: impl Into<PathBuf>) {
        self.add(name.into(), Bytes::Path(path.into()));
    }

    /// Adds the next input: bytes in memory.
    pub fn add_memory(&mut self, name: impl Into<String>, bytes: impl Into<Arc<[u8]>>) {
        self.add(name.into(), Bytes::Memory(bytes.into()));
    }

    fn add(&mut self, name: String, bytes: Bytes) {
        self.files.push(SourceFile { name, bytes });
        self.state.get_mut().known.push(Known::default());
    }

    /// How many inputs there are.
    pub fn len(&self) -> usize {
        self.files.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.files.is_empty()
    }

    /// Name of an input as the user gave it.
    pub fn name(&self, input: u32) -> Option<&str> {
        self.files.get(input as usize).map(|f| f.name.as_str())
    }

    /// Line and column (in characters) of the start of a place, both from 1; `None` for files without lines, places
    /// past the end and inputs that cannot be read.
    pub fn position(&self, place: &Place) -> Option<(u64, u64)> {
        if !self.is_text(place.input) {
            return None;
        }
        let file = place.input as usize;
        let block = (place.offset / BLOCK) as usize;
        self.index_up_to(file, block)?;
        let mut count = *self
            .state
            .borrow()
            .known
            .get(file)?
            .index
            .before
            .get(block)?;
        let start = block as u64 * BLOCK;
        let wanted = (place.offset - start) as usize;
        let bytes = self.read(file, start, wanted).ok()?;
        if bytes.len() < wanted {
            return None;
        }
        count.add(&bytes);
        if count.lines == 0 && self.has_byte_order_mark(file) && place.offset >= 3 {
            count.chars = count.chars.saturating_sub(1);
        }
        Some((count.lines + 1, count.chars + 1))
    }

    /// Whether an input is text: no NUL and no broken UTF-8 in its first bytes. Inputs that cannot be read are not.
    fn is_text(&self, input: u32) -> bool {
        let file = input as usize;
        let Some(known) = self.state.borrow().known.get(file).map(|k| k.text) else {
            return false;
        };
        known.unwrap_or_else(|| {
            let text = self
                .read(file, 0, HEAD)
                .is_ok_and(|head| looks_like_text(&head));
            if let Some(known) = self.state.borrow_mut().known.get_mut(file) {
                known.text = Some(text);
            }
            text
        })
    }

    /// The bytes from `start` on, at most `length`; fewer at the end of the input.
    pub(crate) fn window(&self, input: u32, start: u64, length: usize) -> Option<Vec<u8>> {
        self.read(input as usize, start, length).ok()
    }

    /// The first line that does not start with `#`: the header of delimited text. `None` if it is not near the start.
    pub(crate) fn header_line(&self, input: u32) -> Option<Arc<str>> {
        let file = input as usize;
        if let Some(header) = &self.state.borrow().known.get(file)?.header {
            return header.clone();
        }
        let header = self.find_header(file);
        if let Some(known) = self.state.borrow_mut().known.get_mut(file) {
            known.header = Some(header.clone());
        }
        header
    }

    fn find_header(&self, file: usize) -> Option<Arc<str>> {
        let head = self.read(file, 0, BLOCK as usize).ok()?;
        let head = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&head);
        let line = head
            .split_inclusive(|&b| b == b'\n')
            .find(|line| !line.starts_with(b"#") && !line.trim_ascii().is_empty())?;
        // A line cut off by the end of the block is no header of a table.
        let line = line.strip_suffix(b"\n")?;
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        std::str::from_utf8(line).ok().map(Arc::from)
    }

    fn has_byte_order_mark(&self, file: usize) -> bool {
        self.read(file, 0, 3)
            .is_ok_and(|head| head == b"\xef\xbb\xbf")
    }

    /// Counts lines up to the start of a block; every byte of a file is passed over once at most.
    fn index_up_to(&self, file: usize, block: usize) -> Option<()> {
        loop {
            let (next, mut count) = {
                let mut state = self.state.borrow_mut();
                let before = &mut state.known.get_mut(file)?.index.before;
                if before.is_empty() {
                    before.push(Count::default());
                }
                if before.len() > block {
                    return Some(());
                }
                (
                    before.len() as u64 - 1,
                    before.last().copied().unwrap_or_default(),
                )
            };
            let bytes = self.read(file, next * BLOCK, BLOCK as usize).ok()?;
            if (bytes.len() as u64) < BLOCK {
                // The block after the last is empty; a place at its very start is the end of the file.
                return None;
            }
            count.add(&bytes);
            self.state
                .borrow_mut()
                .known
                .get_mut(file)?
                .index
                .before
                .push(count);
        }
    }

    fn read(&self, file: usize, start: u64, length: usize) -> io::Result<Vec<u8>> {
        let gone = || io::Error::from(io::ErrorKind::NotFound);
        match &self.files.get(file).ok_or_else(gone)?.bytes {
            Bytes::Memory(bytes) => {
                let start = usize::try_from(start)
                    .unwrap_or(usize::MAX)
                    .min(bytes.len());
                let end = start.saturating_add(length).min(bytes.len());
                Ok(bytes.get(start..end).unwrap_or_default().to_vec())
            }
            Bytes::Path(path) => {
                let mut state = self.state.borrow_mut();
                let handle = match &mut state.open {
                    Some((open, handle)) if *open == file => handle,
                    open => &mut open.insert((file, File::open(path)?)).1,
                };
                handle.seek(SeekFrom::Start(start))?;
                let mut bytes = Vec::new();
                handle.take(length as u64).read_to_end(&mut bytes)?;
                Ok(bytes)
            }
        }
    }
}

/// No NUL, and UTF-8 apart from a character cut off at the end.
pub(crate) fn looks_like_text(bytes: &[u8]) -> bool {
    !bytes.contains(&0)
        && std::str::from_utf8(bytes).map_or_else(|e| e.error_len().is_none(), |_| true)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use std::io::Write;

    use super::*;
    use proptest::prelude::*;

    fn memory(bytes: &[u8]) -> SourceFiles {
        let mut files = SourceFiles::new();
        files.add_memory("a.csv", bytes);
        files
    }

    fn naive(text: &str, offset: usize) -> (u64, u64) {
        let before = &text[..offset];
        let line = before.matches('\n').count() as u64 + 1;
        let column = before.rsplit('\n').next().unwrap().chars().count() as u64 + 1;
        (line, column)
    }

    #[test]
    fn positions_count_characters_from_one() {
        let files = memory("a,b\r\né,∞\n".as_bytes());
        assert_eq!(files.position(&Place::record(0, 0)), Some((1, 1)));
        assert_eq!(files.position(&Place::record(0, 5)), Some((2, 1)));
        assert_eq!(files.position(&Place::record(0, 8)), Some((2, 3)));
        assert_eq!(
            files.position(&Place::record(0, 12)),
            Some((3, 1)),
            "end of file"
        );
        assert_eq!(files.position(&Place::record(0, 13)), None, "past the end");
        assert_eq!(files.position(&Place::record(1, 0)), None, "no such input");
        assert_eq!(files.position(&Place::record(0, u64::MAX)), None);
    }

    #[test]
    fn byte_order_mark_is_no_column() {
        let files = memory(b"\xef\xbb\xbfa,b\n");
        assert_eq!(files.position(&Place::record(0, 5)), Some((1, 3)));
    }

    #[test]
    fn binary_has_no_lines() {
        let files = memory(b"\x76\x2f\x31\x01\0\0channels");
        assert!(!files.is_text(0));
        assert_eq!(files.position(&Place::record(0, 6)), None);
        assert!(!memory(b"gr\xfc\xdfe, 1\n").is_text(0));
        assert!(memory("cut off: \u{221e}".as_bytes()[..10].as_ref()).is_text(0));
    }

    #[test]
    fn long_files_are_counted_across_blocks_from_disk() {
        let mut text = String::new();
        for row in 0..40_000 {
            text.push_str(&format!("{row},0.5,∞\n"));
        }
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(text.as_bytes()).unwrap();
        let mut files = SourceFiles::new();
        files.add_path("big.csv", file.path());
        files.add_path("missing.csv", "/nowhere/missing.csv");
        for offset in [0, 16_383, 16_384, 16_385, 65_536, 300_000, 100_001] {
            let offset = (offset..).find(|&o| text.is_char_boundary(o)).unwrap();
            let found = files.position(&Place::record(0, offset as u64));
            assert_eq!(found, Some(naive(&text, offset)), "{offset}");
        }
        assert_eq!(files.position(&Place::record(1, 0)), None);
        assert!(files.header_line(1).is_none());
    }

    #[test]
    fn end_of_a_file_that_fills_its_blocks() {
        let files = memory(&vec![b'\n'; BLOCK as usize]);
        assert_eq!(
            files.position(&Place::record(0, BLOCK)),
            Some((BLOCK + 1, 1))
        );
        assert_eq!(files.position(&Place::record(0, BLOCK + 1)), None);
    }

    #[test]
    fn header_is_the_first_line_without_a_hash() {
        let files = memory(b"\xef\xbb\xbf# clip: A\r\n\r\nframe,T-stop\r\n1,2\r\n");
        assert_eq!(files.header_line(0).as_deref(), Some("frame,T-stop"));
        assert!(memory(b"# only: this\n").header_line(0).is_none());
    }

    proptest! {
        #[test]
        fn equals_the_naive_count(text in "([a-z,é∞\r]{0,8}\n?){0,40}", at in any::<prop::sample::Index>()) {
            let offset = (0..=at.index(text.len() + 1)).rev().find(|&o| text.is_char_boundary(o)).unwrap();
            let files = memory(text.as_bytes());
            let found = files.position(&Place::record(0, offset as u64));
            prop_assert_eq!(found, Some(naive(&text, offset)));
        }

        #[test]
        fn never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..200), offset in any::<u64>()) {
            let files = memory(&bytes);
            let _ = files.position(&Place::record(0, offset));
            let _ = files.position(&Place::record(0, offset % 256));
            let _ = files.header_line(0);
        }
    }
}
