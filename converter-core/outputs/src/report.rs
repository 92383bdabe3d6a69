//! What the renderers of findings work on: the result for each file, in the order of the command line.

use ringmark_model::{Finding, Place, Severity, Subject};

use crate::sources::SourceFiles;

/// The result for one file, or one sequence of files, that the user named.
#[derive(Debug, Default)]
pub struct FileReport {
    /// Name as the user gave it.
    pub file: String,
    /// Why it could not be read to the end, if so. Findings up to there stay.
    pub failure: Option<Failure>,
    /// What was found.
    pub findings: Vec<Finding>,
    /// Findings that were not kept, because there were too many.
    pub left_out: u64,
    /// Names of the lenses, by the index of [`Subject::Lens`].
    pub lenses: Vec<String>,
    /// Names of the takes, by the index of [`Subject::Take`].
    pub takes: Vec<String>,
    /// The inputs that places point into.
    pub sources: SourceFiles,
}

/// Why a file could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// What went wrong; may have several lines.
    pub message: String,
    /// Where, if it is known.
    pub place: Option<Place>,
    /// What to do.
    pub help: Option<String>,
}

/// How a file fared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// Read, and nothing found.
    Clean,
    /// Read, and something found.
    Findings,
    /// Not read to the end.
    Failed,
}

impl Status {
    /// Name in documents.
    pub const fn name(self) -> &'static str {
        match self {
            Status::Clean => "clean",
            Status::Findings => "findings",
            Status::Failed => "failed",
        }
    }
}

impl FileReport {
    /// How the file fared.
    pub fn status(&self) -> Status {
        if self.failure.is_some() {
            Status::Failed
        } else if self.findings.is_empty() && self.left_out == 0 {
            Status::Clean
        } else {
            Status::Findings
        }
    }

    /// The findings in the order in which they are shown: the worst first, then by place, frame and check.
    pub fn sorted(&self) -> Vec<&Finding> {
        let mut findings: Vec<&Finding> = self.findings.iter().collect();
        findings.sort_by(|a, b| order(a).cmp(&order(b)));
        findings
    }

    /// Index and name of what a finding is about; a file has no index.
    pub(crate) fn subject(&self, subject: &Subject) -> (&'static str, Option<usize>, &str) {
        match *subject {
            Subject::Lens(index) => ("lens", Some(index), label(&self.lenses, index)),
            Subject::Take(index) => ("take", Some(index), label(&self.takes, index)),
            Subject::File => ("file", None, &self.file),
        }
    }
}

fn label(labels: &[String], index: usize) -> &str {
    labels.get(index).map_or("", String::as_str)
}

type Order<'a> = (
    std::cmp::Reverse<Severity>,
    (u32, u64),
    u64,
    &'a str,
    &'a str,
);

fn order(finding: &Finding) -> Order<'_> {
    // What has no place comes behind what has one.
    let place = finding
        .place
        .as_ref()
        .map_or((u32::MAX, u64::MAX), |p| (p.input, p.offset));
    let frame = finding.frames.as_ref().map_or(0, |f| f.first);
    (
        std::cmp::Reverse(finding.severity),
        place,
        frame,
        &finding.check,
        &finding.message,
    )
}

/// How many findings of each severity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub struct Counts {
    /// Errors.
    pub error: u64,
    /// Warnings.
    pub warning: u64,
    /// Notes.
    pub note: u64,
}

impl Counts {
    /// Counts the findings of all files.
    pub fn of<'a>(reports: impl IntoIterator<Item = &'a FileReport>) -> Self {
        let mut counts = Counts::default();
        for finding in reports.into_iter().flat_map(|r| &r.findings) {
            match finding.severity {
                Severity::Error => counts.error += 1,
                Severity::Warning => counts.warning += 1,
                Severity::Note => counts.note += 1,
            }
        }
        counts
    }

    /// `2 errors, 1 warning`; `no findings`.
    pub fn words(self) -> String {
        let parts = [
            (self.error, "error"),
            (self.warning, "warning"),
            (self.note, "note"),
        ];
        let parts: Vec<String> = parts
            .iter()
            .filter(|(n, _)| *n > 0)
            .map(|&(n, word)| number(n, word))
            .collect();
        if parts.is_empty() {
            "no findings".to_owned()
        } else {
            parts.join(", ")
        }
    }
}

/// `1 file`, `2 files`.
pub(crate) fn number(count: u64, noun: &str) -> String {
    match count {
        1 => format!("1 {noun}"),
        _ => format!("{count} {noun}s"),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::samples;

    #[test]
    fn order_is_by_severity_then_place() {
        let reports = samples::reports();
        let sorted = reports.first().unwrap().sorted();
        let severities: Vec<Severity> = sorted.iter().map(|f| f.severity).collect();
        assert!(severities.is_sorted_by(|a, b| a >= b));
        let errors: Vec<u64> = sorted
            .iter()
            .filter(|f| f.severity == Severity::Error)
            .map(|f| f.place.as_ref().map_or(u64::MAX, |p| p.offset))
            .collect();
        assert!(errors.len() > 1 && errors.is_sorted());
    }

    #[test]
    fn status_and_counts() {
        let mut report = FileReport::default();
        assert_eq!(
            (report.status(), Counts::of([&report]).words().as_str()),
            (Status::Clean, "no findings")
        );
        report.left_out = 1;
        assert_eq!(report.status(), Status::Findings);
        report
            .findings
            .push(Finding::new("x", Severity::Error, Subject::Lens(9), "y"));
        assert_eq!(report.subject(&Subject::Lens(9)), ("lens", Some(9), ""));
        assert_eq!(Counts::of([&report, &report]).words(), "2 errors");
        report.failure = Some(Failure {
            message: "gone".to_owned(),
            place: None,
            help: None,
        });
        assert_eq!(report.status(), Status::Failed);
    }
}
