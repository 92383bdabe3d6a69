//! What a conversion could not carry.

/// How something fared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LossKind {
    /// Not in the output at all.
    Lost,
    /// In the output, but one distinction is gone (for example what a distance is measured from).
    Merged,
    /// In a private part of the output: ringmark reads it back, other programs pass over it.
    Aside,
}

impl LossKind {
    /// Name in documents and on screens.
    pub const fn name(self) -> &'static str {
        match self {
            LossKind::Lost => "lost",
            LossKind::Merged => "merged",
            LossKind::Aside => "aside",
        }
    }
}

/// One thing that the target format cannot carry as it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Loss {
    /// Channel, fact, extra or table.
    pub what: String,
    /// How it fared.
    pub kind: LossKind,
    /// Why, in a few words.
    pub reason: String,
    /// Frames concerned; 0 for what belongs to no frame.
    pub frames: u64,
}

/// All that a conversion could not carry.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LossReport {
    /// Entries in the order in which they were noticed.
    pub entries: Vec<Loss>,
}

impl LossReport {
    /// Adds to the entry with the same thing, kind and reason, or starts one.
    pub fn add(&mut self, what: &str, kind: LossKind, reason: &str, frames: u64) {
        match self
            .entries
            .iter_mut()
            .find(|e| e.kind == kind && e.what == what && e.reason == reason)
        {
            Some(entry) => entry.frames += frames,
            None => self.entries.push(Loss {
                what: what.to_owned(),
                kind,
                reason: reason.to_owned(),
                frames,
            }),
        }
    }

    /// Whether nothing is lost or merged; what is kept aside does not count.
    pub fn is_lossless(&self) -> bool {
        self.entries.iter().all(|e| e.kind == LossKind::Aside)
    }
}
