//! What the reader notices while it can go on: each defect once a subject, and not without end.

use std::collections::{HashMap, HashSet, VecDeque};

use ringmark_sdk::{Item, Place, Remark};

/// Remarks a file may give.
const MOST: usize = 200;

/// Collects remarks until they are handed out.
#[derive(Default)]
pub struct Remarks {
    /// Subjects by defect.
    told: HashMap<&'static str, HashSet<String>>,
    count: usize,
    waiting: VecDeque<Item>,
}

/// What is noticed.
pub struct Notice<'a> {
    /// `error`, `warning` or `note`.
    pub severity: &'static str,
    /// Name of the defect.
    pub check: &'static str,
    /// What it is about: the same defect is told once for each.
    pub subject: &'a str,
    /// What it is.
    pub message: String,
    /// What to do.
    pub help: &'a str,
    /// Where.
    pub at: Option<Place>,
}

impl Remarks {
    /// Whether this was told already, or enough was.
    pub fn knows(&self, check: &'static str, subject: &str) -> bool {
        self.count >= MOST
            || self
                .told
                .get(check)
                .is_some_and(|told| told.contains(subject))
    }

    /// Adds a remark, unless it was told already.
    pub fn add(&mut self, notice: Notice<'_>) {
        if self.knows(notice.check, notice.subject) {
            return;
        }
        self.count += 1;
        let told = self.told.entry(notice.check).or_default();
        told.insert(notice.subject.to_owned());
        self.waiting.push_back(Item::Remark(Remark {
            severity: notice.severity.to_owned(),
            check: notice.check.to_owned(),
            message: notice.message,
            help: notice.help.to_owned(),
            at: notice.at,
        }));
        if self.count == MOST {
            self.waiting.push_back(Item::Remark(Remark {
                severity: "note".to_owned(),
                check: "more-remarks".to_owned(),
                message: format!("further remarks on this file are left out after {MOST}"),
                help: String::new(),
                at: None,
            }));
        }
    }

    /// The next remark that was not handed out.
    pub fn next(&mut self) -> Option<Item> {
        self.waiting.pop_front()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn told_once_and_not_without_end() {
        let mut remarks = Remarks::default();
        for n in 0..1000 {
            remarks.add(Notice {
                severity: "note",
                check: "x",
                subject: &(n / 2).to_string(),
                message: String::new(),
                help: "",
                at: None,
            });
        }
        assert_eq!(std::iter::from_fn(|| remarks.next()).count(), MOST + 1);
    }
}
