//! What the reader notices while it can go on: each defect once a subject, and not without end.

use std::collections::HashSet;

use ringmark_sdk::{Failure, Item, Place, Remark, failure};

/// Remarks a file may give.
const MAX_REMARKS: usize = 200;

/// Where something stands: the offset and length of the markup or value, and the parameter.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Spot {
    /// Offset in the file.
    pub at: u64,
    /// Bytes.
    pub length: u64,
    /// What it belongs to, for example `parameter IrisTNumber`.
    pub field: String,
}

impl Spot {
    /// A point of the file.
    pub fn point(at: u64) -> Self {
        Spot {
            at,
            ..Spot::default()
        }
    }

    /// The place for the program.
    pub fn place(&self) -> Option<Place> {
        Some(Place {
            input: 0,
            offset: self.at,
            length: self.length,
            field: self.field.clone(),
        })
    }

    /// Reading ends here.
    pub fn failure(&self, message: impl Into<String>, help: impl Into<String>) -> Failure {
        failure(message, help, self.place())
    }
}

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Severity {
    /// A value is wrong or lost.
    Error,
    /// A value may be wrong.
    Warning,
    /// Good to know.
    Note,
}

/// Collects remarks until they are handed out.
#[derive(Default)]
pub struct Remarks {
    told: HashSet<(&'static str, String)>,
    waiting: Vec<Item>,
}

impl Remarks {
    /// Notes a defect; the same defect of the same `subject` is told once.
    pub fn add(
        &mut self,
        severity: Severity,
        check: &'static str,
        subject: &str,
        message: impl FnOnce() -> String,
        help: &str,
        spot: &Spot,
    ) {
        if self.told.len() >= MAX_REMARKS || !self.told.insert((check, subject.to_owned())) {
            return;
        }
        let severity = match severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Note => "note",
        };
        self.push(severity, check, message(), help, spot);
        if self.told.len() == MAX_REMARKS {
            let message = format!("further remarks on this file are left out after {MAX_REMARKS}");
            self.push("note", "more-remarks", message, "", spot);
        }
    }

    fn push(&mut self, severity: &str, check: &str, message: String, help: &str, spot: &Spot) {
        self.waiting.push(Item::Remark(Remark {
            severity: severity.to_owned(),
            check: check.to_owned(),
            message,
            help: help.to_owned(),
            at: spot.place(),
        }));
    }

    /// The remarks since the last call.
    pub fn take(&mut self) -> Vec<Item> {
        std::mem::take(&mut self.waiting)
    }
}

/// The start of a text that may be long, for messages.
pub fn shown(text: &str) -> String {
    const SHOWN: usize = 40;
    let mut shown: String = text.chars().take(SHOWN).collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push('…');
    }
    shown
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn told_once_and_not_without_end() {
        let mut remarks = Remarks::default();
        let add = |remarks: &mut Remarks, subject: &str| {
            let spot = Spot::point(7);
            remarks.add(Severity::Note, "x", subject, || "m".to_owned(), "", &spot);
        };
        add(&mut remarks, "a");
        add(&mut remarks, "a");
        assert_eq!(remarks.take().len(), 1);
        for subject in 0..1000 {
            add(&mut remarks, &subject.to_string());
        }
        assert_eq!(remarks.take().len(), MAX_REMARKS);
    }

    #[test]
    fn long_texts_are_cut() {
        assert_eq!(shown("ab"), "ab");
        assert_eq!(shown(&"ä".repeat(41)), format!("{}…", "ä".repeat(40)));
    }
}
