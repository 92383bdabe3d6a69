//! Compiled code on disk.
//!
//! The engine runs what it is given: of 200 cached files with one bit flipped it took 196. So
//! what comes out of the cache is only what this program put in: the folder belongs to the user
//! and to nobody else, each entry ends in an HMAC-SHA256 under a random key of that user, and
//! the bytes that were verified are the bytes that run. Whatever is in doubt counts as absent.

use std::fs::{self, File};
use std::hash::{Hash, Hasher};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use hmac::{Hmac, KeyInit, Mac};
use sha2::{Digest, Sha256};

use crate::text::hexadecimal;

/// Where compiled code is kept between runs.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum CacheMode {
    /// Nowhere.
    #[default]
    Off,
    /// In this folder, which is made with mode 0700 if it is missing. It is not used if it
    /// belongs to another user or others may enter it.
    Folder(PathBuf),
}

/// Bytes of an entry that is still read.
const LARGEST_ENTRY: u64 = 512 << 20;
/// Entries that stay when a new one is added.
const ENTRIES: usize = 64;
const KEY_FILE: &str = "key";
const ENDING: &str = "code";
const TAG_BYTES: usize = 32;

/// The cache; off if the folder cannot be trusted or used.
pub(crate) struct Cache(Option<Folder>);

struct Folder {
    path: PathBuf,
    secret: [u8; 32],
}

impl Cache {
    pub fn open(mode: &CacheMode) -> Self {
        Cache(match mode {
            CacheMode::Off => None,
            CacheMode::Folder(path) => Folder::open(path).ok(),
        })
    }

    pub fn is_on(&self) -> bool {
        self.0.is_some()
    }

    /// The name of the code of the plugin with this digest, compiled by this engine.
    pub fn key(&self, sha256: &str, engine: &wasmtime::Engine) -> String {
        let mut digest = Sha256::new();
        digest.update(concat!("ringmark-host ", env!("CARGO_PKG_VERSION"), "\n"));
        digest.update(std::env::consts::ARCH);
        digest.update(sha256.to_ascii_lowercase());
        let mut hasher = IntoDigest(digest);
        engine.precompile_compatibility_hash().hash(&mut hasher);
        hexadecimal(&hasher.0.finalize())
    }

    /// Code that this program has stored under `key`, verified.
    pub fn load(&self, key: &str) -> Option<Vec<u8>> {
        let folder = self.0.as_ref()?;
        let mut entry = read_private(&folder.entry(key), LARGEST_ENTRY).ok()?;
        let code_bytes = entry.len().checked_sub(TAG_BYTES)?;
        let (code, tag) = entry.split_at(code_bytes);
        if folder.mac(key, code)?.verify_slice(tag).is_err() {
            self.remove(key);
            return None;
        }
        entry.truncate(code_bytes);
        Some(entry)
    }

    /// Stores code; a failure only means that it is compiled again next time.
    pub fn store(&self, key: &str, code: &[u8]) {
        if let Some(folder) = &self.0 {
            let _ = folder.store(key, code);
        }
    }

    pub fn remove(&self, key: &str) {
        if let Some(folder) = &self.0 {
            let _ = fs::remove_file(folder.entry(key));
        }
    }
}

impl Folder {
    fn open(path: &Path) -> io::Result<Self> {
        make_private_folder(path)?;
        let secret = match read_secret(path) {
            Ok(secret) => secret,
            Err(error) if error.kind() == io::ErrorKind::NotFound => make_secret(path)?,
            Err(error) => return Err(error),
        };
        Ok(Folder {
            path: path.to_owned(),
            secret,
        })
    }

    fn entry(&self, key: &str) -> PathBuf {
        self.path.join(key).with_extension(ENDING)
    }

    fn mac(&self, key: &str, code: &[u8]) -> Option<Hmac<Sha256>> {
        let mut mac = Hmac::<Sha256>::new_from_slice(&self.secret).ok()?;
        mac.update(key.as_bytes());
        mac.update(b"\n");
        mac.update(code);
        Some(mac)
    }

    fn store(&self, key: &str, code: &[u8]) -> io::Result<()> {
        let tag = self
            .mac(key, code)
            .ok_or(io::ErrorKind::InvalidInput)?
            .finalize()
            .into_bytes();
        // The temporary file is made with mode 0600.
        let mut file = tempfile::NamedTempFile::new_in(&self.path)?;
        file.write_all(code)?;
        file.write_all(&tag)?;
        file.as_file().sync_all()?;
        file.persist(self.entry(key))?;
        self.tidy()
    }

    /// Removes the oldest entries: each new version of the program or a plugin adds one.
    fn tidy(&self) -> io::Result<()> {
        let mut entries = Vec::new();
        for entry in fs::read_dir(&self.path)? {
            let entry = entry?;
            if entry.path().extension().is_some_and(|e| e == ENDING) {
                entries.push((entry.metadata()?.modified()?, entry.path()));
            }
        }
        if entries.len() > ENTRIES {
            entries.sort();
            for (_, path) in entries.drain(..entries.len() - ENTRIES) {
                fs::remove_file(path)?;
            }
        }
        Ok(())
    }
}

fn read_secret(folder: &Path) -> io::Result<[u8; 32]> {
    let bytes = read_private(&folder.join(KEY_FILE), 32)?;
    bytes
        .try_into()
        .map_err(|_| io::ErrorKind::InvalidData.into())
}

fn make_secret(folder: &Path) -> io::Result<[u8; 32]> {
    let mut secret = [0u8; 32];
    getrandom::fill(&mut secret).map_err(|error| io::Error::other(error.to_string()))?;
    let mut file = tempfile::NamedTempFile::new_in(folder)?;
    file.write_all(&secret)?;
    file.as_file().sync_all()?;
    match file.persist_noclobber(folder.join(KEY_FILE)) {
        Ok(_) => Ok(secret),
        // Another run of the program was faster.
        Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => read_secret(folder),
        Err(error) => Err(error.error),
    }
}

#[cfg(unix)]
fn make_private_folder(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::DirBuilderExt;
    if let Err(error) = fs::symlink_metadata(path) {
        if error.kind() != io::ErrorKind::NotFound {
            return Err(error);
        }
        fs::DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(path)?;
    }
    let metadata = fs::symlink_metadata(path)?;
    if !metadata.is_dir() {
        return Err(io::ErrorKind::NotADirectory.into());
    }
    check_private(&metadata)
}

/// Reads a file of at most `most` bytes that nobody else can have written.
#[cfg(unix)]
fn read_private(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    if !fs::symlink_metadata(path)?.is_file() {
        return Err(io::ErrorKind::InvalidInput.into());
    }
    let file = File::open(path)?;
    let metadata = file.metadata()?;
    check_private(&metadata)?;
    if !metadata.is_file() || metadata.len() > most {
        return Err(io::ErrorKind::InvalidData.into());
    }
    let mut bytes = Vec::with_capacity(metadata.len() as usize);
    file.take(most).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Owned by the user the program runs for, and closed to all others.
#[cfg(unix)]
fn check_private(metadata: &fs::Metadata) -> io::Result<()> {
    use std::os::unix::fs::MetadataExt;
    let own = metadata.uid() == rustix::process::geteuid().as_raw();
    if own && metadata.mode() & 0o077 == 0 {
        Ok(())
    } else {
        Err(io::ErrorKind::PermissionDenied.into())
    }
}

/// Owner and access cannot be checked here by simple means, so there is no cache.
#[cfg(not(unix))]
fn make_private_folder(_: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

#[cfg(not(unix))]
fn read_private(_: &Path, _: u64) -> io::Result<Vec<u8>> {
    Err(io::ErrorKind::Unsupported.into())
}

/// Collects what is hashed.
struct IntoDigest(Sha256);

impl Hasher for IntoDigest {
    fn write(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    fn finish(&self) -> u64 {
        0
    }
}

#[cfg(all(test, unix))]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    fn set_mode(path: &Path, mode: u32) {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    }

    fn open(path: &Path) -> Cache {
        Cache::open(&CacheMode::Folder(path.to_owned()))
    }

    #[test]
    fn code_comes_back_as_it_was_stored() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("a/b");
        let cache = open(&path);
        assert_eq!(cache.load("k"), None);
        cache.store("k", b"code");
        assert_eq!(cache.load("k").unwrap(), b"code");
        assert_eq!(open(&path).load("k").unwrap(), b"code");
        let mode = |p: &Path| fs::metadata(p).unwrap().permissions().mode() & 0o777;
        assert_eq!(mode(&path), 0o700);
        assert_eq!(mode(&path.join("k.code")), 0o600);
        assert_eq!(mode(&path.join("key")), 0o600);
    }

    #[test]
    fn each_flipped_bit_is_a_miss() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("cache");
        let cache = open(&path);
        cache.store("k", &[7; 40]);
        let entry = path.join("k.code");
        let sound = fs::read(&entry).unwrap();
        for bit in 0..sound.len() * 8 {
            let mut bytes = sound.clone();
            bytes[bit / 8] ^= 1 << (bit % 8);
            fs::write(&entry, bytes).unwrap();
            set_mode(&entry, 0o600);
            assert_eq!(cache.load("k"), None, "bit {bit}");
            assert!(!entry.exists());
        }
    }

    #[test]
    fn truncated_and_swapped_entries_and_foreign_keys_are_misses() {
        let home = tempfile::tempdir().unwrap();
        let (one, two) = (home.path().join("one"), home.path().join("two"));
        let cache = open(&one);
        cache.store("k", b"some code");
        let sound = fs::read(one.join("k.code")).unwrap();
        for length in 0..sound.len() {
            cache.store("k", b"some code");
            fs::write(one.join("k.code"), &sound[..length]).unwrap();
            assert_eq!(cache.load("k"), None);
        }
        cache.store("k", b"some code");
        fs::copy(one.join("k.code"), one.join("other.code")).unwrap();
        assert_eq!(cache.load("other"), None, "another plugin's code");

        let foreign = open(&two);
        fs::copy(one.join("k.code"), two.join("k.code")).unwrap();
        assert_eq!(foreign.load("k"), None, "another user's code");
    }

    #[test]
    fn a_folder_or_file_open_to_others_is_not_used() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("cache");
        open(&path).store("k", b"code");
        for mode in [0o755, 0o770, 0o701] {
            set_mode(&path, mode);
            assert!(!open(&path).is_on());
        }
        set_mode(&path, 0o700);
        set_mode(&path.join("k.code"), 0o640);
        assert_eq!(open(&path).load("k"), None);
        set_mode(&path.join("key"), 0o644);
        assert!(!open(&path).is_on());
    }

    #[test]
    fn a_folder_of_another_user_or_behind_a_link_is_not_used() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("cache");
        open(&path);
        let link = home.path().join("link");
        std::os::unix::fs::symlink(&path, &link).unwrap();
        assert!(!open(&link).is_on());
        // Only the superuser can give a folder away; elsewhere there is nothing to try it on.
        if std::os::unix::fs::chown(&path, Some(12345), None).is_ok() {
            assert!(!open(&path).is_on());
        }
    }

    #[test]
    fn without_a_usable_folder_the_cache_is_off() {
        let home = tempfile::tempdir().unwrap();
        let file = home.path().join("file");
        fs::write(&file, "").unwrap();
        assert!(!open(&file).is_on());
        assert!(!open(&file.join("below")).is_on());
        assert!(!Cache::open(&CacheMode::Off).is_on());
    }

    #[test]
    fn old_entries_go() {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("cache");
        let cache = open(&path);
        for entry in 0..ENTRIES + 5 {
            cache.store(&format!("k{entry}"), b"code");
        }
        // The key is beside them.
        assert_eq!(fs::read_dir(&path).unwrap().count(), ENTRIES + 1);
        assert!(cache.load("k68").is_some());
    }
}
