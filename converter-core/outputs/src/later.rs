//! Parts of a report that stand behind others and are made before them.

use std::io::{self, BufWriter, Read, Seek, Write};

use tempfile::SpooledTempFile;

/// Bytes kept in memory; more of them wait in a temporary file.
const IN_MEMORY: usize = 256 << 10;

/// Bytes that are written and read at once: a temporary file would cost a call of the system for each word.
const PIECE: usize = 64 << 10;

/// What is written now and stands in the report later.
#[derive(Debug)]
pub(crate) struct Later(BufWriter<SpooledTempFile>);

impl Later {
    /// Nothing yet.
    pub fn new() -> Later {
        Later(BufWriter::with_capacity(
            PIECE,
            SpooledTempFile::new(IN_MEMORY),
        ))
    }

    /// Now is later.
    pub fn put(&mut self, out: &mut dyn Write) -> io::Result<()> {
        self.0.flush()?;
        let waiting = self.0.get_mut();
        waiting.rewind()?;
        let mut piece = vec![0; PIECE];
        loop {
            match waiting.read(&mut piece)? {
                0 => return Ok(()),
                length => out.write_all(&piece[..length])?,
            }
        }
    }
}

impl Write for Later {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}
