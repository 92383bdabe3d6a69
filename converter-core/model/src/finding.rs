//! What a check found.

use std::borrow::Cow;

use crate::edit::Edit;
use crate::place::Place;

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// Probably wrong.
    Warning,
    /// Impossible or inconsistent.
    Error,
}

impl Severity {
    /// Name in documents and on screens.
    pub const fn name(self) -> &'static str {
        match self {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        }
    }

    /// The severity called `name`.
    pub fn from_name(name: &str) -> Option<Self> {
        [Severity::Note, Severity::Warning, Severity::Error]
            .into_iter()
            .find(|s| s.name() == name)
    }
}

/// What a finding is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Subject {
    /// A lens of the document, by index.
    Lens(usize),
    /// A take of the document, by index.
    Take(usize),
    /// The file as such.
    File,
}

/// Consecutive frames of a take.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FrameRange {
    /// Index in the take, from 0, of the first frame.
    pub first: u64,
    /// Index of the last frame.
    pub last: u64,
    /// Frames in between that have the fault (≤ last − first + 1).
    pub count: u64,
    /// Frame number of the first one as recorded, if it is.
    pub first_number: Option<i64>,
    /// Frame number of the last one as recorded, if it is.
    pub last_number: Option<i64>,
    /// Time code label of the first frame, if recorded.
    pub first_label: Option<String>,
    /// Time code label of the last frame, if recorded.
    pub last_label: Option<String>,
}

/// A value the finding rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundValue {
    /// What it is: `recorded`, `allowed`, `from the ring`, ...
    pub name: Cow<'static, str>,
    /// The number; +infinity is infinity.
    pub value: f64,
    /// Unit symbol.
    pub unit: Cow<'static, str>,
}

/// The likely repair, with the evidence for it. A proposal: whoever has the lens compares it first.
#[derive(Debug, Clone, PartialEq)]
pub struct Repair {
    /// What to write or do.
    pub action: String,
    /// Why it is likely.
    pub evidence: String,
    /// The same for a program; none where only a person can make it.
    pub edits: Vec<Edit>,
}

/// One fault, however many frames it spans.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Kebab-case name of the check.
    pub check: Cow<'static, str>,
    /// How bad it is.
    pub severity: Severity,
    /// What is wrong, with the number and the unit.
    pub message: String,
    /// What it is about.
    pub subject: Subject,
    /// Which frames, for takes.
    pub frames: Option<FrameRange>,
    /// Values it rests on.
    pub values: Vec<FoundValue>,
    /// Where it stands.
    pub place: Option<Place>,
    /// Further places and what stands there.
    pub also: Vec<(Place, String)>,
    /// What to do.
    pub help: Option<String>,
    /// The likely repair.
    pub repair: Option<Repair>,
}

impl Finding {
    /// A finding without frames, values and places.
    pub fn new(
        check: impl Into<Cow<'static, str>>,
        severity: Severity,
        subject: Subject,
        message: impl Into<String>,
    ) -> Self {
        Finding {
            check: check.into(),
            severity,
            message: message.into(),
            subject,
            frames: None,
            values: Vec::new(),
            place: None,
            also: Vec::new(),
            help: None,
            repair: None,
        }
    }

    /// The same with its place.
    #[must_use]
    pub fn at(mut self, place: Option<Place>) -> Self {
        self.place = place;
        self
    }

    /// The same with what to do.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// The same with one more value.
    #[must_use]
    pub fn value(
        mut self,
        name: impl Into<Cow<'static, str>>,
        value: f64,
        unit: &'static str,
    ) -> Self {
        self.values.push(FoundValue {
            name: name.into(),
            value,
            unit: unit.into(),
        });
        self
    }
}
