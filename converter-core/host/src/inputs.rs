//! The files a plugin was handed: how far each was read, and which may be open.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, Seek, SeekFrom};

use crate::files::Source;
use crate::text::clean_text;

/// The inputs, and how far each was read.
pub(crate) struct Inputs {
    list: Vec<Input>,
    /// Inputs that may hold an open file, the latest last.
    awake: VecDeque<u32>,
    seen: u64,
}

struct Input {
    source: Box<dyn Source>,
    size: Option<u64>,
    /// End of the farthest byte that was read.
    reach: u64,
}

impl Inputs {
    /// So many files are held open.
    const AWAKE: usize = 8;

    pub fn new(sources: Vec<Box<dyn Source>>) -> Self {
        Inputs {
            list: sources
                .into_iter()
                .map(|source| Input {
                    source,
                    size: None,
                    reach: 0,
                })
                .collect(),
            awake: VecDeque::new(),
            seen: 0,
        }
    }

    pub fn count(&self) -> u64 {
        self.list.len() as u64
    }

    /// Sum of how far the inputs were read.
    pub fn seen(&self) -> u64 {
        self.seen
    }

    pub fn name(&self, input: u32) -> String {
        self.list
            .get(input as usize)
            .map(|input| input.source.name())
            .unwrap_or_default()
    }

    pub fn shown_name(&self, input: u32) -> String {
        clean_text(&self.name(input), 200)
    }

    pub fn size(&mut self, input: u32) -> io::Result<u64> {
        self.wake(input);
        match self.list.get_mut(input as usize) {
            Some(Input {
                size: Some(size), ..
            }) => Ok(*size),
            Some(input) => Ok(*input.size.insert(input.source.size()?)),
            None => Ok(0),
        }
    }

    pub fn read(&mut self, input: u32, offset: u64, length: u32) -> io::Result<Vec<u8>> {
        self.wake(input);
        let Some(input) = self.list.get_mut(input as usize) else {
            return Ok(Vec::new());
        };
        let mut bytes = input.source.read(offset, length)?;
        bytes.truncate(length as usize);
        if !bytes.is_empty() {
            let end = offset.saturating_add(bytes.len() as u64);
            self.seen += end.saturating_sub(input.reach);
            input.reach = input.reach.max(end);
        }
        Ok(bytes)
    }

    /// The file of an input at `offset`, where it is one.
    pub fn file_at(&mut self, input: u32, offset: u64) -> io::Result<Option<&mut File>> {
        self.wake(input);
        let Some(input) = self.list.get_mut(input as usize) else {
            return Ok(None);
        };
        match input.source.file()? {
            Some(file) => {
                file.seek(SeekFrom::Start(offset))?;
                Ok(Some(file))
            }
            None => Ok(None),
        }
    }

    /// Notes that the input is used, and lets the one rest that was used longest ago.
    fn wake(&mut self, input: u32) {
        if self.awake.back() == Some(&input) {
            return;
        }
        self.awake.retain(|awake| *awake != input);
        self.awake.push_back(input);
        if self.awake.len() > Self::AWAKE
            && let Some(first) = self.awake.pop_front()
        {
            self.rest(first);
        }
    }

    /// Lets an input rest that the plugin has dropped.
    pub fn rest(&mut self, input: u32) {
        if let Some(input) = self.list.get_mut(input as usize) {
            input.source.rest();
        }
    }

    /// Whether `offset` lies in the input or at its end. The size is asked only for what lies
    /// beyond all that was read: a sequence of files is not looked up twice.
    pub fn holds(&mut self, input: u32, offset: u64) -> bool {
        match self.list.get(input as usize) {
            Some(known) if offset <= known.reach => true,
            Some(_) => self.size(input).is_ok_and(|size| offset <= size),
            None => false,
        }
    }

    /// How far the input was read.
    pub fn reach(&self, input: u32) -> Option<u64> {
        self.list.get(input as usize).map(|input| input.reach)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::sync::Arc;
    use std::sync::atomic::{AtomicU64, Ordering};

    use super::*;
    use crate::files::MemorySource;

    struct Counted {
        opened: Arc<AtomicU64>,
        is_open: bool,
    }

    impl Source for Counted {
        fn name(&self) -> String {
            "counted".into()
        }
        fn size(&mut self) -> io::Result<u64> {
            panic!("not asked")
        }
        fn read(&mut self, _: u64, length: u32) -> io::Result<Vec<u8>> {
            self.is_open = true;
            self.opened.fetch_add(1, Ordering::Relaxed);
            Ok(vec![0; length as usize])
        }
        fn rest(&mut self) {
            if self.is_open {
                self.opened.fetch_sub(1, Ordering::Relaxed);
            }
            self.is_open = false;
        }
    }

    #[test]
    fn a_long_sequence_holds_few_files_open_and_asks_no_sizes() {
        let opened = Arc::new(AtomicU64::new(0));
        let sources = (0..10_000)
            .map(|_| {
                Box::new(Counted {
                    opened: opened.clone(),
                    is_open: false,
                }) as Box<dyn Source>
            })
            .collect();
        let mut inputs = Inputs::new(sources);
        for input in 0..10_000 {
            inputs.read(input, 0, 100).unwrap();
            assert!(inputs.holds(input, 100));
            assert!(opened.load(Ordering::Relaxed) <= Inputs::AWAKE as u64);
        }
        assert_eq!(inputs.seen(), 1_000_000);
    }

    #[test]
    fn offsets_beyond_the_end_are_told_from_those_not_read_yet() {
        let mut inputs = Inputs::new(vec![Box::new(MemorySource::new("a", *b"0123456789"))]);
        inputs.read(0, 0, 4).unwrap();
        assert!(inputs.holds(0, 4));
        assert!(inputs.holds(0, 10));
        assert!(!inputs.holds(0, 11));
        assert!(!inputs.holds(1, 0));
    }

    #[test]
    fn reading_twice_is_seen_once() {
        let mut inputs = Inputs::new(vec![Box::new(MemorySource::new("a", *b"0123456789"))]);
        for _ in 0..5 {
            inputs.read(0, 0, 4).unwrap();
        }
        inputs.read(0, 20, 4).unwrap();
        assert_eq!(inputs.seen(), 4);
    }
}
