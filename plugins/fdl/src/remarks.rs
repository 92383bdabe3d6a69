//! What the reader notices while it can go on, and not without end.

use std::collections::HashSet;

use ringmark_sdk::{Item, Place, Remark};

use crate::json::{Kind, Node};

/// Remarks a file may give.
const MOST: usize = 200;

/// Collects remarks until they are handed out.
#[derive(Default)]
pub struct Remarks {
    told: usize,
    /// Offsets of values that are of another type: several fields may look at one.
    wrong: HashSet<u64>,
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

impl Severity {
    const fn name(self) -> &'static str {
        match self {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Note => "note",
        }
    }
}

impl Remarks {
    /// Notes a defect.
    pub fn add(
        &mut self,
        severity: Severity,
        check: &str,
        message: String,
        help: &str,
        at: Option<Place>,
    ) {
        self.told += 1;
        if self.told <= MOST {
            self.push(severity, check, message, help, at);
        } else if self.told == MOST + 1 {
            let message = format!("further remarks on this file are left out after {MOST}");
            self.push(Severity::Note, "more-remarks", message, "", at);
        }
    }

    /// Notes that `node` is something else than `expected`, and therefore not read.
    pub fn wrong_type(&mut self, node: &Node, expected: &str) {
        if self.told > MOST || !self.wrong.insert(node.place().offset) {
            return;
        }
        // A number that is no number here is too large for one.
        let found = match node.kind() {
            Kind::Number if expected == Kind::Number.name() => "a number that is too large",
            kind => kind.name(),
        };
        self.add(
            Severity::Error,
            "wrong-type",
            format!("{} is {found}; it was not read", node.path()),
            &format!("the standard has {expected} here"),
            Some(node.place()),
        );
    }

    /// The remarks since the last call.
    pub fn take(&mut self) -> Vec<Item> {
        std::mem::take(&mut self.waiting)
    }

    fn push(
        &mut self,
        severity: Severity,
        check: &str,
        message: String,
        help: &str,
        at: Option<Place>,
    ) {
        self.waiting.push(Item::Remark(Remark {
            severity: severity.name().to_owned(),
            check: check.to_owned(),
            message,
            help: help.to_owned(),
            at,
        }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn not_without_end() {
        let mut remarks = Remarks::default();
        for _ in 0..1000 {
            remarks.add(Severity::Note, "x", "m".to_owned(), "", None);
        }
        assert_eq!(remarks.take().len(), MOST + 1);
        assert!(remarks.take().is_empty());
    }
}
