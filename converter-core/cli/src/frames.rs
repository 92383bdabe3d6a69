//! Outputs that are one file a frame: copies of files with data put in, or files beside them.

use std::collections::HashSet;
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::{Context, Result, bail};
use ringmark_host::{FileSource, Sink, Source};
use ringmark_model::Manifest;
use ringmark_model::manifest::PerFrame;

use crate::inputs;

/// The files that a take's frames go into, or beside.
pub struct FrameFiles {
    files: Vec<PathBuf>,
    kind: PerFrame,
    ending: String,
}

impl FrameFiles {
    /// The files that `frames` names: a folder, a sequence or one file.
    pub fn find(frames: &Path, manifest: &Manifest) -> Result<FrameFiles> {
        let name = frames.display();
        let Some(kind) = manifest.files.per_frame else {
            bail!(
                "{} is one file for all frames; leave out --frames",
                manifest.name
            );
        };
        let endings = &manifest.files.extensions;
        let Some(ending) = endings.first() else {
            bail!("the manifest of '{}' names no file ending", manifest.name);
        };
        let wanted = |path: &Path| {
            let ended = path
                .extension()
                .and_then(|e| e.to_str())
                .unwrap_or_default();
            let is = |e: &String| e.eq_ignore_ascii_case(ended);
            // What is written beside the files is no file to write beside.
            endings.iter().any(is) && (kind == PerFrame::Copy || !is(ending))
        };
        let groups = inputs::group(&[frames.to_path_buf()], endings)?.groups;
        let mut files: Vec<PathBuf> = groups
            .into_iter()
            .filter(|group| group.trouble.is_none())
            .flat_map(|group| group.files)
            .collect();
        if frames.is_dir() {
            files.retain(|file| wanted(file) && file.parent() == Some(frames));
        }
        if files.is_empty() {
            bail!(
                "{name}: holds no file that {} can be put into",
                manifest.name
            );
        }
        Ok(FrameFiles {
            files,
            kind,
            ending: ending.clone(),
        })
    }

    /// The files.
    pub fn files(&self) -> &[PathBuf] {
        &self.files
    }

    /// Where the outputs go if nothing is said: beside the files, but never over them.
    pub fn usual_folder(&self) -> Option<PathBuf> {
        match self.kind {
            PerFrame::Copy => None,
            PerFrame::Sidecar => self.files.first()?.parent().map(Path::to_path_buf),
        }
    }

    fn output_name(&self, file: &Path) -> Option<PathBuf> {
        let name = Path::new(file.file_name()?);
        Some(match self.kind {
            PerFrame::Copy => name.to_path_buf(),
            PerFrame::Sidecar => name.with_extension(&self.ending),
        })
    }
}

/// Outputs in the making. They lie in a hidden folder inside the one they are for, until all
/// are whole; dropped before, nothing of them is left.
pub struct FrameOutputs {
    folder: PathBuf,
    /// Whether the folder was made for them.
    made: bool,
    beside: tempfile::TempDir,
    names: Vec<PathBuf>,
    templates: Vec<PathBuf>,
    force: bool,
    open: Arc<Mutex<Option<Open>>>,
}

/// The one output that is open.
struct Open {
    index: usize,
    file: File,
}

impl FrameOutputs {
    /// Outputs for `frames` in `folder`, which is made if it does not exist. None of them replaces
    /// one of the `inputs` or of the files themselves.
    pub fn create(
        frames: FrameFiles,
        folder: &Path,
        force: bool,
        inputs: &[PathBuf],
    ) -> Result<FrameOutputs> {
        let place = folder.display();
        let real = |paths: &[PathBuf]| -> HashSet<PathBuf> {
            paths.iter().filter_map(|p| p.canonicalize().ok()).collect()
        };
        let (inputs, themselves) = (real(inputs), real(&frames.files));
        let mut names = Vec::with_capacity(frames.files.len());
        let mut seen = HashSet::new();
        for file in &frames.files {
            let Some(name) = frames.output_name(file) else {
                bail!("{}: has no name", file.display());
            };
            let output = folder.join(&name);
            if !seen.insert(name.clone()) {
                bail!("{}: two files would have this output", output.display());
            }
            if let Ok(existing) = output.canonicalize() {
                if themselves.contains(&existing) {
                    bail!("{place}: holds the files themselves; choose another folder");
                }
                if inputs.contains(&existing) {
                    bail!("{}: is an input; choose another folder", output.display());
                }
                if !existing.is_file() {
                    bail!("{}: is no file that can be replaced", output.display());
                }
                if !force {
                    bail!("{}: exists; --force replaces it", output.display());
                }
            }
            names.push(name);
        }
        let made = !folder.exists();
        if made {
            std::fs::create_dir_all(folder).with_context(|| format!("{place}: cannot be made"))?;
        }
        let beside = tempfile::Builder::new()
            .prefix(".ringmark-")
            .tempdir_in(folder)
            .with_context(|| format!("{place}: cannot write in this folder"))?;
        Ok(FrameOutputs {
            folder: folder.to_path_buf(),
            made,
            beside,
            names,
            templates: frames.files,
            force,
            open: Arc::new(Mutex::new(None)),
        })
    }

    /// The outputs for a plugin.
    pub fn sinks(&self) -> Vec<Box<dyn Sink>> {
        self.names
            .iter()
            .enumerate()
            .map(|(index, name)| {
                Box::new(FrameSink {
                    index,
                    path: self.beside.path().join(name),
                    open: Arc::clone(&self.open),
                }) as Box<dyn Sink>
            })
            .collect()
    }

    /// The files that the outputs belong to, for a plugin.
    pub fn templates(&self) -> Vec<Box<dyn Source>> {
        self.templates
            .iter()
            .map(|path| Box::new(FileSource::new(path.clone())) as Box<dyn Source>)
            .collect()
    }

    /// Puts the outputs in their places. They are not forced to the disk one by one: the files
    /// they were made from are still there.
    pub fn finish(mut self) -> Result<()> {
        *self.open.lock().unwrap_or_else(PoisonError::into_inner) = None;
        for name in &self.names {
            let (from, to) = (self.beside.path().join(name), self.folder.join(name));
            if !from.exists() {
                continue; // The plugin has nothing for this file.
            }
            if !self.force && to.exists() {
                bail!("{}: has appeared meanwhile; it was kept", to.display());
            }
            std::fs::rename(&from, &to).with_context(|| {
                format!(
                    "{}: cannot put the finished file in its place",
                    to.display()
                )
            })?;
            self.made = false;
        }
        Ok(())
    }
}

impl Drop for FrameOutputs {
    fn drop(&mut self) {
        if self.made {
            // Errors have been told already; a folder that is not empty stays.
            let _ = std::fs::remove_dir_all(self.beside.path());
            let _ = std::fs::remove_dir(&self.folder);
        }
    }
}

/// One of the outputs. Only one is open at a time: a system allows a thousand open files, a
/// sequence has more.
struct FrameSink {
    index: usize,
    path: PathBuf,
    open: Arc<Mutex<Option<Open>>>,
}

impl FrameSink {
    fn with<T>(&self, act: impl FnOnce(&mut File) -> io::Result<T>) -> io::Result<T> {
        let mut open = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        if open.as_ref().is_none_or(|o| o.index != self.index) {
            let file = OpenOptions::new()
                .create(true)
                .append(true)
                .open(&self.path)?;
            *open = Some(Open {
                index: self.index,
                file,
            });
        }
        match open.as_mut() {
            Some(open) => act(&mut open.file),
            None => Err(io::Error::other("the output is closed")),
        }
    }
}

impl Sink for FrameSink {
    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.with(|file| file.write_all(bytes))
    }

    fn copy(&mut self, from: &mut File, length: u64) -> io::Result<u64> {
        self.with(|file| io::copy(&mut io::Read::take(from, length), file))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::io::Seek;

    fn manifest(kind: &str) -> Manifest {
        serde_json::from_value(serde_json::json!({
            "name": "plates", "version": "0.1.0", "contract": "1.0", "title": "", "about": "", "reads": true, "writes": true,
            "files": {"extensions": ["pl", "jpg"], "per_frame": kind}, "carries": {}
        }))
        .unwrap()
    }

    fn folder(names: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in names {
            std::fs::write(folder.path().join(name), name).unwrap();
        }
        folder
    }

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn copies_are_named_as_the_files_and_sidecars_after_them() {
        let from = folder(&["a.1001.pl", "a.1002.pl", "notes.txt"]);
        let frames = FrameFiles::find(from.path(), &manifest("copy")).unwrap();
        assert_eq!(frames.files().len(), 2);
        assert!(frames.usual_folder().is_none());
        assert_eq!(
            frames.output_name(&frames.files()[1]),
            Some("a.1002.pl".into())
        );
        let stills = folder(&["s_1.jpg", "s_2.jpg", "s_1.pl"]);
        let frames = FrameFiles::find(stills.path(), &manifest("sidecar")).unwrap();
        assert_eq!(frames.files().len(), 2);
        assert_eq!(frames.usual_folder().as_deref(), Some(stills.path()));
        assert_eq!(
            frames.output_name(&frames.files()[1]),
            Some("s_2.pl".into())
        );
    }

    #[test]
    fn outputs_appear_all_together_or_not_at_all() {
        let from = folder(&["a.1.pl", "a.2.pl"]);
        let to = from.path().join("out");
        let create = |force| {
            let frames = FrameFiles::find(from.path(), &manifest("copy"))?;
            FrameOutputs::create(frames, &to, force, &[])
        };
        let outputs = create(false).unwrap();
        let mut sinks = outputs.sinks();
        sinks[0].write(b"half").unwrap();
        drop((sinks, outputs));
        assert!(!to.exists());

        let outputs = create(false).unwrap();
        let mut sinks = outputs.sinks();
        let mut file = File::open(from.path().join("a.2.pl")).unwrap();
        // In turns, as a plugin may.
        sinks[0].write(b"one ").unwrap();
        sinks[1].write(b"two ").unwrap();
        sinks[0].write(b"more").unwrap();
        file.seek(io::SeekFrom::Start(2)).unwrap();
        assert_eq!(sinks[1].copy(&mut file, 3).unwrap(), 3);
        assert!(names(&to).iter().all(|n| n.starts_with(".ringmark-")));
        outputs.finish().unwrap();
        assert_eq!(names(&to), ["a.1.pl", "a.2.pl"]);
        assert_eq!(std::fs::read(to.join("a.1.pl")).unwrap(), b"one more");
        assert_eq!(std::fs::read(to.join("a.2.pl")).unwrap(), b"two 2.p");

        assert!(create(false).err().unwrap().to_string().contains("exists"));
        assert!(create(true).is_ok());
        assert_eq!(names(&to), ["a.1.pl", "a.2.pl"]);
    }

    #[test]
    fn the_files_themselves_and_the_inputs_are_never_outputs() {
        let from = folder(&["a.1.pl"]);
        let said = |kind: &str, folder: &tempfile::TempDir, inputs: &[PathBuf]| {
            let frames = FrameFiles::find(folder.path(), &manifest(kind)).unwrap();
            let outputs = FrameOutputs::create(frames, folder.path(), true, inputs);
            outputs
                .err()
                .map(|error| error.to_string())
                .unwrap_or_default()
        };
        let error = said("copy", &from, &[]);
        assert!(error.contains("the files themselves"), "{error}");
        assert_eq!(names(from.path()), ["a.1.pl"]);
        // A sidecar that is read is the output beside its own still.
        let stills = folder(&["s_1.jpg", "s_1.pl"]);
        let error = said("sidecar", &stills, &[stills.path().join("s_1.pl")]);
        assert!(error.contains("is an input"), "{error}");
        assert_eq!(names(stills.path()), ["s_1.jpg", "s_1.pl"]);
        assert_eq!(said("sidecar", &stills, &[]), "");
    }

    #[test]
    fn a_folder_without_fitting_files_is_an_error() {
        let from = folder(&["notes.txt"]);
        assert!(FrameFiles::find(from.path(), &manifest("copy")).is_err());
    }
}
