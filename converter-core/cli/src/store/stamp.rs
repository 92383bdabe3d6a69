//! Whether files are those of an earlier run: by what the system says of them, and by what is in them.
//!
//! What is trusted. A file whose device, number, size, time of change and time of its last change of any kind (ctime,
//! which no program can set) are those of an earlier run has the content of then; unless it had been changed less than two
//! seconds before it was read, since clocks of file systems are coarse. All else is read and compared by SHA-256. Documents
//! of more than 64 MiB, which are frames of pictures, are never read for this: there the system's word is the content.

use std::fs::Metadata;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::{Duration, SystemTime};

use sha2::{Digest, Sha256};

use crate::hash;

/// Documents up to this size are known by their content.
const BY_CONTENT: u64 = 64 << 20;

/// A file that was changed so shortly before it was read may change again without a trace.
const SETTLED: Duration = Duration::from_secs(2);

/// A name for something, by which it is found again.
pub type Key = [u8; 32];

/// What the system says of the files of a document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    /// All of it.
    pub digest: Key,
    /// Bytes of all files.
    size: u64,
    /// Whether the files had rested when they were looked at, so that a change would show.
    settled: bool,
}

impl Stamp {
    /// Of files that are there; `None` if one is not, or the system says too little.
    pub fn of(files: &[PathBuf]) -> Option<Stamp> {
        let mut hash = Sha256::new();
        let (mut size, mut settled) = (0, true);
        let now = SystemTime::now();
        for file in files {
            let metadata = std::fs::metadata(file).ok()?;
            let (changed, facts) = facts(&metadata)?;
            hash.update(facts);
            size += metadata.len();
            settled &= now.duration_since(changed).is_ok_and(|age| age > SETTLED);
        }
        Some(Stamp {
            digest: hash.finalize().into(),
            size,
            settled,
        })
    }

    /// Whether a later stamp that is equal proves that the files are the same.
    pub fn proves(&self) -> bool {
        self.settled
    }
}

/// When anything of a file changed last, and what identifies its state.
#[cfg(unix)]
fn facts(metadata: &Metadata) -> Option<(SystemTime, Vec<u8>)> {
    use std::os::unix::fs::MetadataExt;
    let facts = [
        metadata.dev() as i64,
        metadata.ino() as i64,
        metadata.size() as i64,
        metadata.mtime(),
        metadata.mtime_nsec(),
        metadata.ctime(),
        metadata.ctime_nsec(),
    ];
    let seconds = Duration::from_secs(u64::try_from(metadata.ctime()).ok()?);
    let changed = SystemTime::UNIX_EPOCH.checked_add(seconds)?;
    Some((
        changed,
        facts.iter().flat_map(|f| f.to_le_bytes()).collect(),
    ))
}

/// Elsewhere nothing is known that a program cannot set, so nothing ever rests: contents are read each time.
#[cfg(not(unix))]
fn facts(metadata: &Metadata) -> Option<(SystemTime, Vec<u8>)> {
    let now = SystemTime::now();
    let facts = format!("{} {:?}", metadata.len(), metadata.modified().ok()?);
    Some((now, facts.into_bytes()))
}

/// The name of a document by where its files are.
pub fn place(files: &[PathBuf]) -> Option<Key> {
    let mut hash = Sha256::new();
    for file in files {
        let path = std::path::absolute(file).ok()?;
        add(&mut hash, path.as_os_str().as_encoded_bytes());
    }
    Some(hash.finalize().into())
}

/// The name of a document by what it is: names and contents of its files. `None` if that cannot be known.
pub fn content(files: &[PathBuf], stamp: &Stamp) -> Option<Key> {
    let mut hash = Sha256::new();
    for file in files {
        // Formats are known by endings too.
        add(&mut hash, file.file_name()?.as_encoded_bytes());
        if stamp.size <= BY_CONTENT {
            let (digest, size) = hash::of_file(file, &AtomicBool::new(true)).ok()??;
            add(&mut hash, digest.as_bytes());
            hash.update(size.to_le_bytes());
        }
    }
    if stamp.size > BY_CONTENT {
        if !stamp.settled {
            return None;
        }
        add(&mut hash, b"as the system says");
        hash.update(stamp.digest);
    }
    Some(hash.finalize().into())
}

/// What the system says of a single file, for things that are named by it.
pub fn of_file(path: &Path) -> Option<Key> {
    Stamp::of(&[path.to_path_buf()]).map(|stamp| stamp.digest)
}

/// Adds bytes to a digest so that no two lists of them are alike.
pub fn add(hash: &mut Sha256, bytes: &[u8]) {
    hash.update((bytes.len() as u64).to_le_bytes());
    hash.update(bytes);
}

#[cfg(all(test, unix))]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::fs::File;

    use super::*;

    fn file(folder: &Path, name: &str, text: &str) -> PathBuf {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    #[test]
    fn a_change_that_hides_its_time_is_seen() {
        let folder = tempfile::tempdir().unwrap();
        let path = file(folder.path(), "a.csv", "1,2,3");
        let files = [path.clone()];
        let before = Stamp::of(&files).unwrap();
        assert!(!before.proves(), "written this moment");
        let time = std::fs::metadata(&path).unwrap().modified().unwrap();
        std::thread::sleep(Duration::from_millis(20));
        std::fs::write(&path, "3,2,1").unwrap();
        File::options()
            .write(true)
            .open(&path)
            .unwrap()
            .set_modified(time)
            .unwrap();
        let after = Stamp::of(&files).unwrap();
        assert_eq!(std::fs::metadata(&path).unwrap().modified().unwrap(), time);
        assert_ne!(before.digest, after.digest);
    }

    #[test]
    fn names_and_contents_make_a_document_and_folders_do_not() {
        let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let of = |files: &[PathBuf]| content(files, &Stamp::of(files).unwrap()).unwrap();
        let a = file(one.path(), "a.csv", "x");
        let same = file(two.path(), "a.csv", "x");
        assert_eq!(
            of(std::slice::from_ref(&a)),
            of(std::slice::from_ref(&same))
        );
        assert_ne!(
            place(std::slice::from_ref(&a)),
            place(std::slice::from_ref(&same))
        );
        let named_otherwise = file(two.path(), "a.tsv", "x");
        assert_ne!(of(std::slice::from_ref(&a)), of(&[named_otherwise]));
        let other = file(two.path(), "a.csv", "y");
        assert_ne!(
            of(std::slice::from_ref(&a)),
            of(std::slice::from_ref(&other))
        );
        assert_ne!(of(&[a.clone(), other.clone()]), of(&[other, a]));
        assert!(Stamp::of(&[one.path().join("none")]).is_none());
    }
}
