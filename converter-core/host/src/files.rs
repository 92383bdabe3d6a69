//! The bytes a plugin may ask for, and the places it may write to; nothing else.

use std::fs::File;
use std::io::{self, BufWriter, Read, Write};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// An input.
pub trait Source: Send {
    /// The file's name without its folder.
    fn name(&self) -> String;
    /// Bytes in all.
    fn size(&mut self) -> io::Result<u64>;
    /// `length` bytes from `offset`; fewer mean the end of the file.
    fn read(&mut self, offset: u64, length: u32) -> io::Result<Vec<u8>>;
    /// The file on disk, where it is one: the system then copies from it without this program's help.
    fn file(&mut self) -> io::Result<Option<&mut File>> {
        Ok(None)
    }
    /// Gives back what can be had again, such as an open file. The plugin may read again later.
    fn rest(&mut self) {}
}

/// An output.
pub trait Sink: Send {
    /// Appends bytes.
    fn write(&mut self, bytes: &[u8]) -> io::Result<()>;
    /// Appends up to `length` bytes from the present position of a file, and says how many there were.
    fn copy(&mut self, from: &mut File, length: u64) -> io::Result<u64> {
        let mut left = from.take(length);
        let mut chunk = vec![0; 1 << 18];
        let mut copied = 0;
        loop {
            match left.read(&mut chunk) {
                Ok(0) => return Ok(copied),
                Ok(count) => {
                    self.write(&chunk[..count])?;
                    copied += count as u64;
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
    }
    /// Called once after the plugin has finished without an error.
    fn finish(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// A file on disk. It is opened at the first read or question for its size, and not before.
#[derive(Debug)]
pub struct FileSource {
    path: PathBuf,
    open: Option<File>,
}

/// No file is longer; systems answer offsets near 2^63 with an error instead of an end of file.
const FARTHEST: u64 = 1 << 62;

impl FileSource {
    /// The file at `path`, still closed.
    pub fn new(path: impl Into<PathBuf>) -> Self {
        FileSource {
            path: path.into(),
            open: None,
        }
    }

    fn file(&mut self) -> io::Result<&mut File> {
        match &mut self.open {
            Some(file) => Ok(file),
            closed => Ok(closed.insert(File::open(&self.path)?)),
        }
    }
}

impl Source for FileSource {
    fn name(&self) -> String {
        match self.path.file_name() {
            Some(name) => name.to_string_lossy().into_owned(),
            None => String::new(),
        }
    }

    fn size(&mut self) -> io::Result<u64> {
        Ok(self.file()?.metadata()?.len())
    }

    fn read(&mut self, offset: u64, length: u32) -> io::Result<Vec<u8>> {
        let file = self.file()?;
        if offset > FARTHEST {
            return Ok(Vec::new());
        }
        // Room for all that is asked, so that reading needs one system call; a plugin that asks
        // for much gets it in steps, as the file may be short.
        let mut bytes = Vec::with_capacity(length.min(1 << 20) as usize);
        ReadAt { file, offset }
            .take(u64::from(length))
            .read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn file(&mut self) -> io::Result<Option<&mut File>> {
        FileSource::file(self).map(Some)
    }

    fn rest(&mut self) {
        self.open = None;
    }
}

/// Reads on from an offset, without moving the file's own position where the system can.
struct ReadAt<'a> {
    file: &'a File,
    offset: u64,
}

impl Read for ReadAt<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        #[cfg(unix)]
        let count = std::os::unix::fs::FileExt::read_at(self.file, into, self.offset);
        #[cfg(windows)]
        let count = std::os::windows::fs::FileExt::seek_read(self.file, into, self.offset);
        let count = count?;
        self.offset = self.offset.saturating_add(count as u64);
        Ok(count)
    }
}

/// Bytes in memory, for standard input and tests.
#[derive(Debug, Clone)]
pub struct MemorySource {
    name: String,
    bytes: Arc<[u8]>,
}

impl MemorySource {
    /// `bytes` as a file called `name`.
    pub fn new(name: impl Into<String>, bytes: impl Into<Arc<[u8]>>) -> Self {
        MemorySource {
            name: name.into(),
            bytes: bytes.into(),
        }
    }
}

impl Source for MemorySource {
    fn name(&self) -> String {
        self.name.clone()
    }

    fn size(&mut self) -> io::Result<u64> {
        Ok(self.bytes.len() as u64)
    }

    fn read(&mut self, offset: u64, length: u32) -> io::Result<Vec<u8>> {
        let rest = usize::try_from(offset)
            .ok()
            .and_then(|start| self.bytes.get(start..))
            .unwrap_or_default();
        let end = rest.len().min(length as usize);
        Ok(rest.get(..end).unwrap_or_default().to_vec())
    }
}

/// A file to write, buffered.
#[derive(Debug)]
pub struct FileSink(BufWriter<File>);

impl FileSink {
    /// Writes to `file` from its present position.
    pub fn new(file: File) -> Self {
        FileSink(BufWriter::with_capacity(1 << 18, file))
    }
}

impl Sink for FileSink {
    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.write_all(bytes)
    }

    fn copy(&mut self, from: &mut File, length: u64) -> io::Result<u64> {
        // File to file: the system copies, and file systems that can share the blocks.
        self.0.flush()?;
        io::copy(&mut from.take(length), self.0.get_mut())
    }

    fn finish(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

/// Memory to write to; clones share it.
#[derive(Debug, Clone, Default)]
pub struct MemorySink(Arc<Mutex<Vec<u8>>>);

impl MemorySink {
    /// An empty one.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes what was written so far.
    pub fn take(&self) -> Vec<u8> {
        std::mem::take(&mut *self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Sink for MemorySink {
    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .extend_from_slice(bytes);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::io::Seek;

    fn both(bytes: &[u8]) -> (tempfile::NamedTempFile, [Box<dyn Source>; 2]) {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(bytes).unwrap();
        let sources: [Box<dyn Source>; 2] = [
            Box::new(FileSource::new(file.path())),
            Box::new(MemorySource::new("memory", bytes)),
        ];
        (file, sources)
    }

    #[test]
    fn reads_stop_at_the_end_of_the_file() {
        let (_file, sources) = both(b"0123456789");
        for mut source in sources {
            assert_eq!(source.read(2, 3).unwrap(), b"234");
            assert_eq!(source.read(8, 10).unwrap(), b"89");
            assert_eq!(source.read(10, 10).unwrap(), b"");
            assert_eq!(source.read(u64::MAX >> 1, u32::MAX).unwrap(), b"");
            assert_eq!(source.size().unwrap(), 10);
            source.rest();
            assert_eq!(source.read(0, 1).unwrap(), b"0");
        }
    }

    #[test]
    fn a_file_source_opens_nothing_before_it_is_read() {
        let mut source = FileSource::new("/nonexistent/folder/take 1.csv");
        assert_eq!(source.name(), "take 1.csv");
        assert!(source.read(0, 1).is_err());
    }

    #[test]
    fn a_copy_goes_behind_what_was_written_and_says_how_long_it_was() {
        let mut from = tempfile::tempfile().unwrap();
        from.write_all(b"0123456789").unwrap();
        let file = tempfile::NamedTempFile::new().unwrap();
        let memory = MemorySink::new();
        let sinks: [Box<dyn Sink>; 2] = [
            Box::new(FileSink::new(file.reopen().unwrap())),
            Box::new(memory.clone()),
        ];
        for mut sink in sinks {
            sink.write(b"head ").unwrap();
            from.seek(io::SeekFrom::Start(3)).unwrap();
            assert_eq!(sink.copy(&mut from, 4).unwrap(), 4);
            assert_eq!(sink.copy(&mut from, 100).unwrap(), 3);
            sink.write(b" tail").unwrap();
            sink.finish().unwrap();
        }
        assert_eq!(std::fs::read(file.path()).unwrap(), b"head 3456789 tail");
        assert_eq!(memory.take(), b"head 3456789 tail");
    }

    #[test]
    fn a_file_sink_is_complete_after_finish() {
        let file = tempfile::NamedTempFile::new().unwrap();
        let mut sink = FileSink::new(file.reopen().unwrap());
        sink.write(b"abc").unwrap();
        sink.write(b"def").unwrap();
        sink.finish().unwrap();
        assert_eq!(std::fs::read(file.path()).unwrap(), b"abcdef");
    }
}
