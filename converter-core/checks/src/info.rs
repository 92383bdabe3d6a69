//! What a check says about itself.

use ringmark_model::Severity;

/// Groups of checks: one folder each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Family {
    /// Marks of a ring against each other.
    Marks,
    /// Units and values no lens has.
    Units,
    /// What optics and the lens's own data allow.
    Optics,
    /// How rings move.
    Motion,
    /// Frame numbers and timecode.
    Time,
    /// Two records of one thing.
    Agreement,
    /// Which lens it is.
    Identity,
    /// What is not there.
    Completeness,
    /// Takes of a show against each other.
    Show,
}

impl Family {
    /// Name in documents.
    pub const fn name(self) -> &'static str {
        match self {
            Family::Marks => "marks",
            Family::Units => "units",
            Family::Optics => "optics",
            Family::Motion => "motion",
            Family::Time => "time",
            Family::Agreement => "agreement",
            Family::Identity => "identity",
            Family::Completeness => "completeness",
            Family::Show => "show",
        }
    }
}

/// A number that decides, with the reason for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThresholdInfo {
    /// The check it belongs to.
    pub check: &'static str,
    /// Kebab-case name.
    pub name: &'static str,
    /// Its value, unless a profile says another.
    pub default: f64,
    /// Unit in words; empty for ratios.
    pub unit: &'static str,
    /// Why this value.
    pub why: &'static str,
}

/// A check, described.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CheckInfo {
    /// The defect in plain words, kebab case; never reused.
    pub id: &'static str,
    /// The defect in one line.
    pub title: &'static str,
    /// The highest severity its findings have.
    pub severity: Severity,
    /// Its group.
    pub family: Family,
    /// First version that has it.
    pub since: &'static str,
    /// The explanation page, Markdown.
    pub explanation: &'static str,
    /// Its thresholds.
    pub thresholds: &'static [ThresholdInfo],
}
