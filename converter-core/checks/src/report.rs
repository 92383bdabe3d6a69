//! Where checks put what they find.

use ringmark_model::{Finding, Severity, Subject};

use crate::info::CheckInfo;
use crate::rules::{Level, Rules};

/// What one check found so far.
#[derive(Debug, Default)]
pub(crate) struct Found {
    pub findings: Vec<Finding>,
    /// Findings that were not kept, and the worst of them.
    pub left_out: u64,
    pub worst_left_out: Option<Severity>,
}

/// The way for a check to report.
pub(crate) struct Report<'a> {
    pub info: &'static CheckInfo,
    pub found: &'a mut Found,
    pub rules: &'a Rules,
    pub most: usize,
}

impl Report<'_> {
    /// Adds a finding; `write` fills it, and is not called once enough are kept.
    pub fn add(
        &mut self,
        severity: Severity,
        subject: Subject,
        write: impl FnOnce(Finding) -> Finding,
    ) {
        let severity = match self.rules.level(self.info.id) {
            None => severity,
            Some(Level::As(severity)) => severity,
            Some(Level::Off) => return,
        };
        if self.found.findings.len() >= self.most {
            self.found.left_out += 1;
            self.found.worst_left_out = self.found.worst_left_out.max(Some(severity));
            return;
        }
        self.found.findings.push(write(Finding::new(
            self.info.id,
            severity,
            subject,
            String::new(),
        )));
    }
}

/// All findings by place in the files, then by check. Those without a place come last.
pub(crate) fn in_order(found: Vec<(&'static CheckInfo, Found)>) -> Vec<Finding> {
    let mut all = Vec::new();
    let mut left_out = Vec::new();
    for (info, found) in found {
        all.extend(found.findings);
        if let Some(severity) = found.worst_left_out {
            let message = format!(
                "{} more findings of this check are left out",
                found.left_out
            );
            left_out.push(
                Finding::new(info.id, severity, Subject::File, message)
                    .help("repair the first ones and check again: one cause often gives many"),
            );
        }
    }
    // Stable: findings at one place stay in the order of the registry.
    all.sort_by_key(|finding| {
        let place = finding
            .place
            .as_ref()
            .map(|place| (place.input, place.offset));
        (
            place.is_none(),
            place,
            finding.frames.as_ref().map(|frames| frames.first),
        )
    });
    all.extend(left_out);
    all
}
