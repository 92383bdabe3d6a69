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
    /// Written less exactly.
    Rounded,
    /// Written as another quantity that says the same (for example a distance from another point).
    Converted,
    /// Written in a private part of the file; other programs pass over it.
    Aside,
}

/// One thing that was not carried over as it was.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Loss {
    /// What.
    pub what: LossItem,
    /// How it fared.
    pub kind: LossKind,
    /// Why, in a few words.
    pub reason: String,
    /// Frames that are affected; 0 where it is not about frames.
    pub frames: u64,
    /// Largest error of what was rounded, as a part of the value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<f64>,
}

/// An error that no measurement of a lens can show: about that of 32-bit floats.
const NO_ERROR: f64 = 1e-6;

/// All that a conversion into one format could not carry over.
#[derive(Debug, Clone, PartialEq, Default)]
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
        self.entry(what, kind, reason.into(), frames);
    }

    /// Adds an entry on numbers that are written less exactly, off by at most `error` as a part of the value.
    pub fn add_rounded(
        &mut self,
        what: LossItem,
        reason: impl Into<String>,
        frames: u64,
        error: f64,
    ) {
        let entry = self.entry(what, LossKind::Rounded, reason.into(), frames);
        entry.error = Some(entry.error.map_or(error, |other| other.max(error)));
    }

    fn entry(&mut self, what: LossItem, kind: LossKind, reason: String, frames: u64) -> &mut Loss {
        let same = |e: &Loss| e.what == what && e.kind == kind && e.reason == reason;
        let index = match self.entries.iter().position(same) {
            Some(index) => {
                self.entries[index].frames = self.entries[index].frames.saturating_add(frames);
                index
            }
            None => {
                self.entries.push(Loss {
                    what,
                    kind,
                    reason,
                    frames,
                    error: None,
                });
                self.entries.len() - 1
            }
        };
        &mut self.entries[index]
    }

    /// Whether everything can be read back as it was, as far as a measurement can show.
    pub fn is_lossless(&self) -> bool {
        self.entries.iter().all(|e| match e.kind {
            LossKind::Lost | LossKind::Merged => false,
            LossKind::Rounded => e.error.is_some_and(|error| error <= NO_ERROR),
            LossKind::Converted | LossKind::Aside => true,
        })
    }
}
