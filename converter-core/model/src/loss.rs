//! What a conversion could not carry over.

use serde::Serialize;

/// What was not carried over as it was.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LossItem {
    /// A channel of a take, by name.
    Channel(String),
    /// A fact of a lens, ring or take, by name.
    Fact(String),
    /// Something the model has no place for, by the name its source gave it.
    Extra(String),
    /// The marks of a ring, by axis.
    Marks(String),
    /// A table of a lens, by name.
    Table(String),
    /// A take, by its label.
    Take(String),
}

/// How it fared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LossKind {
    /// Gone.
    Lost,
    /// Written, but one distinction is gone (for example what a distance is measured from).
    Merged,
    /// Written in a private part of the file; other programs pass over it.
    Aside,
}

/// One thing that was not carried over as it was.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Loss {
    /// What.
    pub what: LossItem,
    /// How it fared.
    pub kind: LossKind,
    /// Why, in a few words.
    pub reason: String,
    /// Frames that are affected; 0 where it is not about frames.
    pub frames: u64,
}

/// All that a conversion into one format could not carry over.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LossReport {
    /// Format that was written.
    pub format: String,
    /// In the order in which it was met.
    pub entries: Vec<Loss>,
}

impl LossReport {
    /// An empty report on writing `format`.
    pub fn new(format: impl Into<String>) -> Self {
        LossReport {
            format: format.into(),
            entries: Vec::new(),
        }
    }

    /// Adds an entry; one that is there already with the same reason only gains frames.
    pub fn add(&mut self, what: LossItem, kind: LossKind, reason: impl Into<String>, frames: u64) {
        let reason = reason.into();
        let same = |e: &&mut Loss| e.what == what && e.kind == kind && e.reason == reason;
        match self.entries.iter_mut().find(same) {
            Some(entry) => entry.frames = entry.frames.saturating_add(frames),
            None => self.entries.push(Loss {
                what,
                kind,
                reason,
                frames,
            }),
        }
    }

    /// Whether everything can be read back as it was: nothing lost or merged.
    pub fn is_lossless(&self) -> bool {
        self.entries.iter().all(|e| e.kind == LossKind::Aside)
    }
}
