//! Outputs are written beside their place and renamed when they are whole: what stands under
//! the final name is either the old file or the complete new one.

use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
use tempfile::NamedTempFile;

/// An output in the making: a file beside its place, or standard output.
pub enum Output {
    /// To be renamed by [`Output::finish`]; removed when dropped before.
    File {
        /// The file in the making.
        beside: BufWriter<NamedTempFile>,
        /// Its place.
        path: PathBuf,
        /// Whether an existing file may be replaced.
        force: bool,
    },
    /// Standard output.
    Stdout(BufWriter<io::Stdout>),
}

impl Output {
    /// An output at `path`, which is none of `inputs`.
    pub fn create(path: &Path, force: bool, inputs: &[PathBuf]) -> Result<Output> {
        if path.as_os_str() == "-" {
            return Ok(Output::Stdout(BufWriter::with_capacity(
                1 << 18,
                io::stdout(),
            )));
        }
        if let Ok(place) = path.canonicalize() {
            if inputs
                .iter()
                .any(|i| i.canonicalize().is_ok_and(|i| i == place))
            {
                bail!("{}: is an input; choose another output", path.display());
            }
            // Renaming would put a file in the place of a device or a folder.
            if !place.is_file() {
                bail!(
                    "{}: is no file that can be replaced; - is standard output",
                    path.display()
                );
            }
            if !force {
                bail!("{}: exists; --force replaces it", path.display());
            }
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        if !folder.is_dir() {
            bail!("{}: there is no such folder", folder.display());
        }
        let mut builder = tempfile::Builder::new();
        builder.prefix(".ringmark-");
        // Temporary files are private; an output gets the permissions a new file has.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let beside = builder
            .tempfile_in(folder)
            .with_context(|| format!("{}: cannot write in this folder", folder.display()))?;
        Ok(Output::File {
            beside: BufWriter::with_capacity(1 << 18, beside),
            path: path.to_path_buf(),
            force,
        })
    }

    /// Its place; `-` for standard output.
    pub fn path(&self) -> &Path {
        match self {
            Output::File { path, .. } => path,
            Output::Stdout(_) => Path::new("-"),
        }
    }

    /// Makes the output whole and puts it in its place.
    pub fn finish(self) -> Result<()> {
        match self {
            mut stdout @ Output::Stdout(_) => stdout.flush().context("standard output"),
            Output::File {
                beside,
                path,
                force,
            } => {
                let name = path.display().to_string();
                let file = beside
                    .into_inner()
                    .map_err(io::IntoInnerError::into_error)
                    .with_context(|| format!("{name}: cannot write"))?;
                file.as_file()
                    .sync_all()
                    .with_context(|| format!("{name}: cannot write"))?;
                let placed = if force {
                    file.persist(&path).map(drop)
                } else {
                    file.persist_noclobber(&path).map(drop)
                };
                placed
                    .map_err(|e| e.error)
                    .with_context(|| format!("{name}: cannot put the finished file in its place"))
            }
        }
    }
}

impl io::Seek for Output {
    /// Standard output has no places to go back to.
    fn seek(&mut self, to: io::SeekFrom) -> io::Result<u64> {
        match self {
            Output::File { beside, .. } => beside.seek(to),
            Output::Stdout(_) => Err(io::ErrorKind::NotSeekable.into()),
        }
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Output::File { beside, .. } => beside.write(bytes),
            Output::Stdout(stdout) => match stdout.write(bytes) {
                // Whoever reads has seen enough, as `head` has: the rest goes nowhere.
                Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(bytes.len()),
                other => other,
            },
        }
    }
    fn flush(&mut self) -> io::Result<()> {
        match self {
            Output::File { beside, .. } => beside.flush(),
            Output::Stdout(stdout) => match stdout.flush() {
                Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
                other => other,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn nothing_is_left_of_an_output_that_was_not_finished() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.csv");
        let mut output = Output::create(&path, false, &[]).unwrap();
        output.write_all(b"half").unwrap();
        drop(output);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }

    #[test]
    fn an_existing_file_is_replaced_only_by_force_and_an_input_never() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.csv");
        std::fs::write(&path, "old").unwrap();
        assert!(Output::create(&path, false, &[]).is_err());
        assert!(Output::create(&path, true, std::slice::from_ref(&path)).is_err());
        let mut output = Output::create(&path, true, &[]).unwrap();
        output.write_all(b"new").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"old");
        output.finish().unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"new");
    }

    #[test]
    fn a_folder_or_a_device_is_never_replaced() {
        let folder = tempfile::tempdir().unwrap();
        assert!(Output::create(folder.path(), true, &[]).is_err());
        #[cfg(unix)]
        assert!(Output::create(Path::new("/dev/null"), true, &[]).is_err());
    }

    #[test]
    fn a_file_that_appears_meanwhile_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.csv");
        let output = Output::create(&path, false, &[]).unwrap();
        std::fs::write(&path, "someone else's").unwrap();
        assert!(output.finish().is_err());
        assert_eq!(std::fs::read(&path).unwrap(), b"someone else's");
    }
}
