//! Names of results: digests of all that a result rests on.

use std::path::Path;

use sha2::{Digest, Sha256};

use super::record::LensId;
use super::stamp::{self, Key, Stamp, add};
use crate::inputs::Group;
use crate::mapping::Mapping;
use crate::session::Session;

/// Results of another build of the program are other results, even if its version is the same: a check may have changed.
fn build() -> Vec<u8> {
    let mut build = env!("CARGO_PKG_VERSION").as_bytes().to_vec();
    // Without a file of the program that can be looked at, the version alone has to do.
    let program = std::env::current_exe().ok();
    build.extend(
        program
            .as_deref()
            .and_then(stamp::of_file)
            .unwrap_or_default(),
    );
    build
}

/// Names for one run.
pub struct Keys {
    /// The program and all that reads.
    reading: Sha256,
    /// All that judges.
    judging: Vec<u8>,
}

/// A document by what is in its files.
#[derive(Clone)]
pub struct Identity {
    /// Under this, what is known of it before it is checked.
    pub key: Key,
    /// What the system said of its files before they were read.
    pub stamp: Stamp,
}

impl Keys {
    /// For a session, and for `judging`: whatever else changes what is found.
    pub fn new(session: &Session, judging: &[u8]) -> Keys {
        let mut reading = Sha256::new();
        add(&mut reading, &build());
        for plugin in session.formats.plugins() {
            let identity = plugin.identity();
            add(&mut reading, identity.name.as_bytes());
            add(&mut reading, identity.sha256.as_bytes());
        }
        add(&mut reading, session.from().unwrap_or_default().as_bytes());
        let mapping = session.mapping().map(|m| m.sha256.as_str());
        add(&mut reading, mapping.unwrap_or_default().as_bytes());
        let mut given = Sha256::new();
        add(&mut given, judging);
        let lens = session.calibration().map(|c| c.sha256.as_str());
        add(&mut given, lens.unwrap_or_default().as_bytes());
        Keys {
            reading,
            judging: given.finalize().to_vec(),
        }
    }

    /// The same, where more changes what is found.
    #[must_use]
    pub fn judged_by(mut self, more: &[u8]) -> Keys {
        let mut judging = Sha256::new();
        add(&mut judging, &self.judging);
        add(&mut judging, more);
        self.judging = judging.finalize().to_vec();
        self
    }

    /// Under which the content of a document is kept, for files that the system says are the same.
    pub fn place(&self, group: &Group) -> Option<Key> {
        let mut hash = Sha256::new();
        add(&mut hash, b"place");
        hash.update(stamp::place(&group.files)?);
        Some(hash.finalize().into())
    }

    /// The identity of a document with this content. A mapping beside it is read: it is small and changes what is read.
    pub fn identity(&self, group: &Group, content: &Key, stamp: Stamp) -> Identity {
        let mut hash = self.reading.clone();
        add(&mut hash, b"document");
        hash.update(content);
        let beside = group.files.first().map(|file| beside(file));
        add(&mut hash, &beside.unwrap_or_default());
        // Which files of a sequence were asked for, and are missing.
        add(&mut hash, format!("{:?}", group.account).as_bytes());
        // What is found in a folder may be passed over.
        hash.update([u8::from(group.found)]);
        Identity {
            key: hash.finalize().into(),
            stamp,
        }
    }

    /// Under which the result of a document is kept, checked with a calibration that stood among the inputs, or without one.
    pub fn result(&self, document: &Identity, found: Option<&Key>) -> Key {
        let mut hash = Sha256::new();
        add(&mut hash, b"result");
        hash.update(document.key);
        add(&mut hash, found.map_or(&[], |key| key.as_slice()));
        add(&mut hash, &self.judging);
        hash.finalize().into()
    }

    /// A calibration among the inputs, by the document it stands in.
    pub fn calibration(document: &Identity, lens: &LensId) -> Key {
        let mut hash = Sha256::new();
        hash.update(document.key);
        for text in [&lens.maker, &lens.model, &lens.serial] {
            add(&mut hash, text.as_deref().unwrap_or_default().as_bytes());
        }
        hash.finalize().into()
    }
}

fn beside(file: &Path) -> Vec<u8> {
    let path = Mapping::beside(file);
    let bytes = path.map(|path| std::fs::read(path).unwrap_or_default());
    bytes
        .map(|bytes| Sha256::digest(bytes).to_vec())
        .unwrap_or_default()
}
