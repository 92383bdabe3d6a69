//! Results of earlier runs, in an embedded database in the user's cache folder.
//!
//! Whatever is in doubt is absent: an entry is used only if its digest over name and content is right, a database that cannot
//! be read is begun anew, and a folder that others may write to is not used. Nothing here can make a check fail. Several runs
//! may use the database at the same time, and a run that is killed leaves it as after its last commit.

pub mod key;
pub mod record;
pub mod stamp;

use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError, RwLock};
use std::time::{Duration, Instant};

use redb::{
    Builder, ConcurrencyMode, Database, ReadOnlyDatabase, ReadOnlyTable, ReadableDatabase,
    ReadableTable, ReadableTableMetadata, TableDefinition,
};
use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};

use crate::batch::in_order::guarded;
pub use stamp::Key;

/// Name of the database; another layout gets another name.
const FILE: &str = "results-1.redb";

/// Entries by their keys: a day, a digest, and what is kept.
const ENTRIES: TableDefinition<'static, &Key, &[u8]> = TableDefinition::new("entries");

/// Entries that stay when there are too many; the oldest go. A document has three.
const MOST: u64 = 60_000;

/// Entries that wait until they are written together.
const TOGETHER: usize = 512;

/// Nothing waits longer while entries come: so much work at most is lost when the run is killed.
const AT_LEAST_EVERY: Duration = Duration::from_secs(2);

/// Memory for pages of the database.
const PAGES: usize = 4 << 20;

/// Bytes in front of what is kept: the day, and the digest.
const HEAD: usize = 4 + 32;

/// The store of a run. What it holds is that of the moment in which it was opened; what the run adds is for the next one.
pub struct Store {
    path: PathBuf,
    today: u32,
    /// What earlier runs have kept; `None` if there is nothing, or once it could not be read.
    kept: RwLock<Option<Kept>>,
    state: Mutex<State>,
}

/// The entries of earlier runs. A run that only reads writes nothing at all, which is most of what a second run saves.
struct Kept {
    entries: ReadOnlyTable<&'static Key, &'static [u8]>,
    /// Keeps the file open.
    _database: ReadOnlyDatabase,
}

struct State {
    /// Opened when there is something to write.
    database: Option<Database>,
    /// It could not be used.
    is_off: bool,
    waiting: Vec<(Key, Vec<u8>)>,
    written: Instant,
    /// Said once, at the end.
    trouble: Option<String>,
}

/// Why the database could not be used.
enum Trouble {
    /// Something about the machine: another program has it, the disk is full. It may be all right.
    Machine(String),
    /// Whoever wrote last was killed.
    Unfinished,
    /// It is no database of ours any more.
    Damaged(String),
}

impl From<redb::Error> for Trouble {
    fn from(error: redb::Error) -> Trouble {
        let text = error.to_string();
        let machine = match &error {
            redb::Error::RepairAborted => return Trouble::Unfinished,
            // A damaged file leads to places that are not there: to errors of reading and writing too.
            redb::Error::Io(error) => matches!(
                error.kind(),
                ErrorKind::StorageFull
                    | ErrorKind::QuotaExceeded
                    | ErrorKind::ReadOnlyFilesystem
                    | ErrorKind::PermissionDenied
                    | ErrorKind::NotFound
            ),
            redb::Error::DatabaseAlreadyOpen
            | redb::Error::LockProtocolMismatch
            | redb::Error::PreviousIo => true,
            _ => false,
        };
        match machine {
            true => Trouble::Machine(text),
            false => Trouble::Damaged(text),
        }
    }
}

impl Store {
    /// The store in a folder, which is made if it is missing. `today` counts days, so that entries that nobody uses go.
    pub fn open(folder: &Path, today: u32) -> Store {
        let store = Store {
            path: folder.join(FILE),
            today,
            kept: RwLock::new(None),
            state: Mutex::new(State {
                database: None,
                is_off: false,
                waiting: Vec::new(),
                written: Instant::now(),
                trouble: None,
            }),
        };
        if let Err(error) = private_folder(folder) {
            store.give_up(Trouble::Machine(error.to_string()));
        } else if std::fs::metadata(&store.path).is_ok_and(|file| file.len() > 0) {
            match kept(&store.path) {
                Ok(kept) => *store.kept.write().unwrap_or_else(PoisonError::into_inner) = kept,
                Err(Trouble::Damaged(why)) => store.begin_anew(&why),
                Err(trouble) => store.give_up(trouble),
            }
        }
        store
    }

    /// What was kept under a key.
    pub fn get<T: DeserializeOwned>(&self, key: &Key) -> Option<T> {
        let entry = {
            let kept = self.kept.read().unwrap_or_else(PoisonError::into_inner);
            let kept = kept.as_ref()?;
            calmly(|| Ok(kept.entries.get(key)?.map(|bytes| bytes.value().to_vec())))
        };
        let entry = match entry {
            Ok(entry) => entry?,
            Err(trouble) => {
                self.give_up(trouble);
                return None;
            }
        };
        let (day, content) = opened(key, &entry)?;
        let what = postcard::from_bytes(content).ok()?;
        if day < self.today {
            // Once a day an entry that is used is made young again.
            self.put_sealed(key, sealed(key, self.today, content));
        }
        Some(what)
    }

    /// Keeps something under a key, at the latest when the store is closed.
    pub fn put(&self, key: &Key, what: &impl Serialize) {
        if let Ok(content) = postcard::to_allocvec(what) {
            self.put_sealed(key, sealed(key, self.today, &content));
        }
    }

    fn put_sealed(&self, key: &Key, entry: Vec<u8>) {
        let mut state = self.lock();
        if state.is_off {
            return;
        }
        state.waiting.push((*key, entry));
        if state.waiting.len() >= TOGETHER || state.written.elapsed() > AT_LEAST_EVERY {
            let written = self.write(&mut state);
            drop(state);
            if let Err(trouble) = written {
                self.give_up(trouble);
            }
        }
    }

    /// Writes what is waiting; what went wrong, in a line for people.
    pub fn close(self) -> Option<String> {
        *self.kept.write().unwrap_or_else(PoisonError::into_inner) = None;
        let closed = {
            let mut state = self.lock();
            // Closing may fail, or panic on a damaged file, as all else may.
            self.write(&mut state)
                .and_then(|()| match state.database.take() {
                    Some(database) => calmly(|| Ok(database.close()?)),
                    None => Ok(()),
                })
        };
        if let Err(trouble) = closed {
            self.give_up(trouble);
        }
        let trouble = self.lock().trouble.take()?;
        Some(format!(
            "the store of results {} {trouble}\n",
            self.path.display()
        ))
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn write(&self, state: &mut State) -> Result<(), Trouble> {
        state.written = Instant::now();
        let waiting = std::mem::take(&mut state.waiting);
        if state.is_off || waiting.is_empty() {
            return Ok(());
        }
        let database = match &mut state.database {
            Some(database) => database,
            none => none.insert(calmly(|| Ok(builder().create(&self.path)?))?),
        };
        calmly(|| {
            let transaction = database.begin_write()?;
            {
                let mut entries = transaction.open_table(ENTRIES)?;
                for (key, entry) in &waiting {
                    entries.insert(key, entry.as_slice())?;
                }
                if entries.len()? > MOST {
                    let limit = limit(&entries)?;
                    entries.retain(|_, entry| day(entry).is_some_and(|day| day > limit))?;
                }
            }
            transaction.commit()?;
            Ok(())
        })
    }

    /// A file that is none of ours, or damaged, makes room for a new one.
    fn begin_anew(&self, why: &str) {
        match std::fs::remove_file(&self.path) {
            Ok(()) => {
                self.lock().trouble = Some(format!("was damaged and is begun anew: {why}"));
            }
            Err(error) => self.give_up(Trouble::Machine(error.to_string())),
        }
    }

    /// Goes on without; a damaged database is removed, so that the next run begins a new one.
    fn give_up(&self, trouble: Trouble) {
        let kept = self
            .kept
            .write()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        let mut state = self.lock();
        let database = state.database.take();
        let _ = calmly(|| {
            drop((kept, database));
            Ok(())
        });
        state.is_off = true;
        state.waiting.clear();
        state.trouble = Some(match trouble {
            Trouble::Machine(why) => format!("cannot be used: {why}"),
            Trouble::Unfinished => "cannot be used: another run is writing".to_owned(),
            Trouble::Damaged(why) => match std::fs::remove_file(&self.path) {
                Err(error) if error.kind() != ErrorKind::NotFound => {
                    format!("is damaged ({why}) and cannot be removed: {error}")
                }
                _ => format!("was damaged and is removed: {why}"),
            },
        });
    }
}

fn builder() -> Builder {
    let mut builder = Database::builder();
    builder.set_cache_size(PAGES);
    builder.set_concurrency_mode(ConcurrencyMode::MultiWriter);
    builder
}

/// The entries in a file; `None` if there are none.
fn kept(path: &Path) -> Result<Option<Kept>, Trouble> {
    let open = || calmly(|| Ok(builder().open_read_only(path)?));
    let database = match open() {
        // The last run that wrote was killed: a writer puts things right.
        Err(Trouble::Unfinished) => {
            calmly(|| Ok(builder().open(path)?.close()?))?;
            open()?
        }
        opened => opened?,
    };
    let entries = calmly(|| match database.begin_read()?.open_table(ENTRIES) {
        Err(redb::TableError::TableDoesNotExist(_)) => Ok(None),
        table => Ok(Some(table?)),
    })?;
    Ok(entries.map(|entries| Kept {
        entries,
        _database: database,
    }))
}

/// Calls the database, which panics on some damaged files.
fn calmly<T>(call: impl FnOnce() -> Result<T, redb::Error>) -> Result<T, Trouble> {
    match guarded(call) {
        Ok(result) => result.map_err(Trouble::from),
        Err(panic) => Err(Trouble::Damaged(panic)),
    }
}

/// The newest of the days of which so many entries have to go that a quarter of the room is free again.
fn limit(
    entries: &impl ReadableTable<&'static [u8; 32], &'static [u8]>,
) -> Result<u32, redb::Error> {
    let mut days = Vec::new();
    for entry in entries.iter()? {
        days.push(day(entry?.1.value()).unwrap_or(0));
    }
    days.sort_unstable();
    let goes = days.len().saturating_sub((MOST - MOST / 4) as usize);
    Ok(days.get(goes).copied().unwrap_or(0))
}

fn day(entry: &[u8]) -> Option<u32> {
    Some(u32::from_le_bytes(*entry.first_chunk()?))
}

/// What is kept, as it stands in the database.
fn sealed(key: &Key, day: u32, kept: &[u8]) -> Vec<u8> {
    let mut entry = Vec::with_capacity(HEAD + kept.len());
    entry.extend_from_slice(&day.to_le_bytes());
    entry.extend_from_slice(&digest(key, day, kept));
    entry.extend_from_slice(kept);
    entry
}

/// The day of an entry and what is kept in it; `None` if it is not as it was written.
fn opened<'e>(key: &Key, entry: &'e [u8]) -> Option<(u32, &'e [u8])> {
    let day = day(entry)?;
    let (head, kept) = entry.split_at_checked(HEAD)?;
    (head.get(4..)? == digest(key, day, kept)).then_some((day, kept))
}

fn digest(key: &Key, day: u32, kept: &[u8]) -> [u8; 32] {
    let mut hash = Sha256::new();
    hash.update(key);
    hash.update(day.to_le_bytes());
    hash.update(kept);
    hash.finalize().into()
}

/// Makes the folder, closed to others; fails if it belongs to somebody else or others may write there: they could say that
/// faulty takes are clean.
#[cfg(unix)]
fn private_folder(path: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::{DirBuilderExt, MetadataExt};
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true).mode(0o700).create(path)?;
    let metadata = std::fs::symlink_metadata(path)?;
    let own = metadata.uid() == rustix::process::geteuid().as_raw();
    if !metadata.is_dir() || !own || metadata.mode() & 0o022 != 0 {
        let text = "its folder belongs to somebody else, or others may write there";
        return Err(std::io::Error::other(text));
    }
    Ok(())
}

#[cfg(not(unix))]
fn private_folder(path: &Path) -> std::io::Result<()> {
    std::fs::create_dir_all(path)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn key(number: u64) -> Key {
        Sha256::digest(number.to_le_bytes()).into()
    }

    fn filled(folder: &Path, entries: u64) -> PathBuf {
        let store = Store::open(folder, 1);
        for number in 0..entries {
            store.put(&key(number), &vec![number; 40]);
        }
        assert_eq!(store.close(), None);
        folder.join(FILE)
    }

    /// How many entries are there; every one that is must be whole.
    fn found(store: &Store, entries: u64) -> u64 {
        let mut found = 0;
        for number in 0..entries {
            if let Some(kept) = store.get::<Vec<u64>>(&key(number)) {
                assert_eq!(kept, vec![number; 40]);
                found += 1;
            }
        }
        found
    }

    #[test]
    fn what_is_kept_comes_back_in_another_run() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("a/results");
        filled(&folder, 100);
        let store = Store::open(&folder, 2);
        assert_eq!(found(&store, 101), 100);
        assert_eq!(store.close(), None);
    }

    #[test]
    fn a_file_of_somebody_else_is_replaced_and_told() {
        let home = tempfile::tempdir().unwrap();
        for content in [&b"frame,T-stop\n1,2.8\n"[..], &[0; 8192], b"redb", &[]] {
            std::fs::write(home.path().join(FILE), content).unwrap();
            let store = Store::open(home.path(), 1);
            store.put(&key(1), &1_u8);
            let told = store.close();
            assert_eq!(told.is_some(), !content.is_empty(), "{told:?}");
            let told = told.unwrap_or_default();
            assert!(told.is_empty() || told.contains("begun anew"), "{told}");
            let store = Store::open(home.path(), 1);
            assert_eq!(store.get(&key(1)), Some(1_u8));
            std::fs::remove_file(home.path().join(FILE)).unwrap();
        }
    }

    #[test]
    fn damage_costs_entries_and_never_gives_wrong_ones() {
        crate::batch::quiet_panics();
        let home = tempfile::tempdir().unwrap();
        let path = filled(home.path(), 300);
        let sound = std::fs::read(&path).unwrap();
        let used = sound.iter().rposition(|byte| *byte != 0).unwrap() + 1;
        let mut lost = 0;
        for round in 0..150_u64 {
            let mut bytes = sound.clone();
            let spot = u64::from_le_bytes(*key(round).first_chunk().unwrap()) as usize % used;
            if round % 10 == 9 {
                bytes.truncate(spot);
            } else {
                // One bit, or all of a sector.
                let end = if round % 2 == 0 { spot + 1 } else { spot + 512 };
                for byte in &mut bytes[spot..end.min(used)] {
                    *byte ^= 1 << (round % 8);
                }
            }
            std::fs::write(&path, bytes).unwrap();
            let store = Store::open(home.path(), 1);
            lost += 300 - found(&store, 300);
            store.put(&key(7000), &7_u8);
            let mut told = vec![store.close()];
            // Whatever happened, the next run but one has a store that works.
            let store = Store::open(home.path(), 1);
            store.put(&key(7001), &7_u8);
            told.push(store.close());
            let store = Store::open(home.path(), 1);
            store.put(&key(7002), &7_u8);
            told.push(store.close());
            let store = Store::open(home.path(), 1);
            let last = store.get(&key(7002));
            told.push(store.close());
            assert_eq!(last, Some(7_u8), "round {round}: {told:?}");
        }
        assert!(lost > 0, "some damage must have been met");
    }

    #[test]
    fn several_runs_use_it_at_the_same_time() {
        let home = tempfile::tempdir().unwrap();
        let (one, two) = (Store::open(home.path(), 1), Store::open(home.path(), 1));
        for number in 0..2 * TOGETHER as u64 {
            let store = if number % 2 == 0 { &one } else { &two };
            store.put(&key(number), &vec![number; 40]);
        }
        assert_eq!((one.close(), two.close()), (None, None));
        let store = Store::open(home.path(), 1);
        assert_eq!(found(&store, 2 * TOGETHER as u64), 2 * TOGETHER as u64);
    }

    #[test]
    fn what_is_used_stays_when_room_is_made() {
        let home = tempfile::tempdir().unwrap();
        filled(home.path(), 10);
        let store = Store::open(home.path(), 2);
        for number in 0..MOST {
            store.put(&key(100 + number), &());
        }
        store.close();
        let store = Store::open(home.path(), 3);
        assert_eq!(found(&store, 10), 0, "nobody used the oldest");
        store.close();

        filled(home.path(), 10);
        let store = Store::open(home.path(), 9);
        assert_eq!(found(&store, 10), 10);
        store.close();
        let store = Store::open(home.path(), 4);
        for number in 0..MOST {
            store.put(&key(100_000 + number), &());
        }
        store.close();
        assert_eq!(found(&Store::open(home.path(), 10), 10), 10, "young by use");
    }

    #[cfg(unix)]
    #[test]
    fn a_folder_open_to_others_is_not_used() {
        use std::os::unix::fs::PermissionsExt;
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("results");
        filled(&folder, 1);
        std::fs::set_permissions(&folder, std::fs::Permissions::from_mode(0o777)).unwrap();
        let store = Store::open(&folder, 1);
        assert_eq!(store.get::<Vec<u64>>(&key(0)), None);
        assert!(store.close().unwrap().contains("others may write"));
    }
}
