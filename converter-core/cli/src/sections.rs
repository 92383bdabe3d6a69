//! Sections of one output that a writer fills side by side: files in the making that are
//! joined in order when all are whole.

use std::fs::File;
use std::io::{self, BufWriter, Seek, Write};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::{Context, Result};
use ringmark_host::Sink;

/// Buffered bytes a section: there may be dozens of them.
const BUFFER: usize = 1 << 15;

/// The sections of one output.
pub struct Sections(Vec<Section>);

impl Sections {
    /// So many empty ones, in the folder of the output that they become.
    pub fn create(count: u32, output: &Path) -> Result<Sections> {
        let folder = match output.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
            // Standard output has no folder.
            _ if output.as_os_str() == "-" => std::env::temp_dir(),
            _ => Path::new(".").to_path_buf(),
        };
        (0..count)
            .map(|_| Section::in_folder(&folder))
            .collect::<io::Result<_>>()
            .map(Sections)
            .with_context(|| format!("{}: cannot write in this folder", folder.display()))
    }

    /// The sections for a plugin.
    pub fn sinks(&self) -> Vec<Box<dyn Sink>> {
        let sink = |section: &Section| Box::new(section.clone()) as Box<dyn Sink>;
        self.0.iter().map(sink).collect()
    }

    /// Writes all into `output`, one after another.
    pub fn join(&self, output: &mut impl Write) -> Result<()> {
        for section in &self.0 {
            section
                .with(|writer| {
                    writer.flush()?;
                    let file = writer.get_mut();
                    file.rewind()?;
                    io::copy(file, output)
                })
                .context("joining the sections of the output")?;
        }
        Ok(())
    }
}

/// One section; clones share it.
#[derive(Clone)]
struct Section(Arc<Mutex<BufWriter<File>>>);

impl Section {
    fn in_folder(folder: &Path) -> io::Result<Section> {
        let file = tempfile::tempfile_in(folder)?;
        Ok(Section(Arc::new(Mutex::new(BufWriter::with_capacity(
            BUFFER, file,
        )))))
    }

    fn with<T>(&self, act: impl FnOnce(&mut BufWriter<File>) -> io::Result<T>) -> io::Result<T> {
        act(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Sink for Section {
    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.with(|writer| writer.write_all(bytes))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn sections_are_joined_in_order_whatever_was_written_first() {
        let folder = tempfile::tempdir().unwrap();
        let sections = Sections::create(3, &folder.path().join("a.txt")).unwrap();
        let mut sinks = sections.sinks();
        for (index, text) in [(2, "last"), (0, "first "), (1, "middle, "), (0, "and ")] {
            sinks[index].write(text.as_bytes()).unwrap();
        }
        let mut joined = Vec::new();
        sections.join(&mut joined).unwrap();
        assert_eq!(joined, b"first and middle, last");
        // They have no names, so nothing is left behind.
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
