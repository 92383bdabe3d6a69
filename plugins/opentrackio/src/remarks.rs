//! What the reader notices while it can go on: each defect once a place, and not without end.

use std::collections::HashSet;

use ringmark_sdk::{Item, Place, Remark};

/// Remarks a file may give.
const MAX_REMARKS: usize = 200;

/// Collects remarks until they are handed out.
#[derive(Default)]
pub struct Remarks {
    told: HashSet<(&'static str, u32)>,
    waiting: Vec<Item>,
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

impl Remarks {
    /// Notes a defect; the same defect at the same `subject` is told once.
    pub fn add(
        &mut self,
        severity: Severity,
        check: &'static str,
        subject: u32,
        message: impl FnOnce() -> String,
        help: &str,
        at: Option<Place>,
    ) {
        if self.told.len() >= MAX_REMARKS || !self.told.insert((check, subject)) {
            return;
        }
        let severity = match severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Note => "note",
        };
        self.waiting.push(Item::Remark(Remark {
            severity: severity.to_owned(),
            check: check.to_owned(),
            message: message(),
            help: help.to_owned(),
            at: at.clone(),
        }));
        if self.told.len() == MAX_REMARKS {
            self.waiting.push(Item::Remark(Remark {
                severity: "note".to_owned(),
                check: "more-remarks".to_owned(),
                message: format!("further remarks on this file are left out after {MAX_REMARKS}"),
                help: String::new(),
                at,
            }));
        }
    }

    /// The remarks since the last call.
    pub fn take(&mut self) -> Vec<Item> {
        std::mem::take(&mut self.waiting)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn told_once_and_not_without_end() {
        let mut remarks = Remarks::default();
        let add = |remarks: &mut Remarks, subject| {
            remarks.add(Severity::Note, "x", subject, || "m".to_owned(), "", None);
        };
        add(&mut remarks, 1);
        add(&mut remarks, 1);
        assert_eq!(remarks.take().len(), 1);
        for subject in 0..1000 {
            add(&mut remarks, subject);
        }
        assert_eq!(remarks.take().len(), MAX_REMARKS);
    }
}
