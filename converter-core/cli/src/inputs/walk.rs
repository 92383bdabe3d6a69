//! Files in folders, and what is passed over there.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

/// What stood in folders that were searched.
#[derive(Debug, Default)]
pub struct Walked {
    /// The files, in the order of their paths.
    pub files: Vec<PathBuf>,
    /// The folders below.
    pub folders: Vec<PathBuf>,
    /// Folders that cannot be listed, with the reason.
    pub closed: Vec<(PathBuf, String)>,
    /// Hidden files and folders: not looked into.
    pub hidden: u64,
    /// Links to folders: not followed, since they may lead in a circle.
    pub links: u64,
}

impl Walked {
    /// Adds all files below a folder, `deep` folders down at most.
    pub fn add(&mut self, folder: &Path, deep: usize) {
        let listed = if folder.as_os_str().is_empty() {
            std::fs::read_dir(".")
        } else {
            std::fs::read_dir(folder)
        };
        let mut entries = Vec::new();
        match listed.and_then(Iterator::collect::<Result<Vec<_>, _>>) {
            Ok(listed) => entries = listed,
            Err(error) => self.closed.push((folder.to_path_buf(), error.to_string())),
        }
        entries.sort_by_key(std::fs::DirEntry::file_name);
        for entry in entries {
            if is_hidden(&entry.file_name()) {
                self.hidden += 1;
                continue;
            }
            // The path as a person would write it, without `./` in front.
            let path = folder.join(entry.file_name());
            match entry.file_type() {
                Ok(kind) if kind.is_dir() => {
                    if deep > 0 {
                        self.add(&path, deep - 1);
                    }
                    self.folders.push(path);
                }
                // A link to nowhere is a file too: reading it says what is wrong.
                Ok(kind) if kind.is_symlink() && path.is_dir() => self.links += 1,
                _ => self.files.push(path),
            }
        }
    }
}

/// Names that begin with a dot are hidden by custom.
fn is_hidden(name: &OsStr) -> bool {
    name.as_encoded_bytes().starts_with(b".")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_folder_that_cannot_be_listed_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let gone = folder.path().join("gone");
        let mut walked = Walked::default();
        walked.add(&gone, usize::MAX);
        assert_eq!((walked.files.len(), walked.closed.len()), (0, 1));
        assert_eq!(walked.closed[0].0, gone);
    }

    #[cfg(unix)]
    #[test]
    fn links_to_files_are_files_and_links_to_folders_are_not_followed() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("a.csv"), "").unwrap();
        std::os::unix::fs::symlink(at("a.csv"), at("b.csv")).unwrap();
        std::os::unix::fs::symlink(folder.path(), at("circle")).unwrap();
        std::os::unix::fs::symlink(at("nowhere"), at("c.csv")).unwrap();
        let mut walked = Walked::default();
        walked.add(folder.path(), usize::MAX);
        assert_eq!(walked.files, ["a.csv", "b.csv", "c.csv"].map(at));
        assert_eq!(walked.links, 1);
    }
}
