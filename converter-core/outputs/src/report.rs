//! What reports are made of: the result for each file, handed over one by one in the order of the command line, so that
//! a report needs no more memory for a thousand files than for one.

use std::borrow::Cow;
use std::fmt::Write as _;
use std::io;

use ringmark_model::{Finding, Place, Severity, Subject};

use crate::picture::Pictures;
use crate::sources::SourceFiles;

/// A report in the making: [`Report::start`] once, [`Report::file`] for each file, [`Report::end`] once, all into one output.
pub trait Report: Send {
    /// Writes what comes before the files.
    fn start(&mut self, out: &mut dyn io::Write) -> io::Result<()>;
    /// Writes what is said about a file.
    fn file(&mut self, out: &mut dyn io::Write, file: &FileReport) -> io::Result<()>;
    /// Is told, before the end, that the run was interrupted: the report says so.
    fn interrupted(&mut self, interrupted: Interrupted);
    /// Writes what comes after the last file.
    fn end(&mut self, out: &mut dyn io::Write) -> io::Result<()>;
}

/// How far a run came that somebody ended early.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Interrupted {
    /// Inputs that were checked.
    pub checked: u64,
    /// Inputs there are.
    pub of: u64,
}

impl std::fmt::Display for Interrupted {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let of = number(self.of, "input");
        write!(f, "interrupted: {} of {of} checked", self.checked)
    }
}

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
    /// Findings that a profile accepts: they do not count.
    pub accepted: Vec<Accepted>,
    /// Names of the lenses, by the index of [`Subject::Lens`].
    pub lenses: Vec<String>,
    /// Names of the takes, by the index of [`Subject::Take`].
    pub takes: Vec<String>,
    /// The inputs that places point into.
    pub sources: SourceFiles,
    /// Checks that had something to look at in the file.
    pub ran: Vec<Cow<'static, str>>,
    /// How long reading and checking took, in seconds.
    pub seconds: f64,
    /// What pages draw of it, if that was asked for.
    pub pictures: Option<Pictures>,
}

/// A finding that somebody knows of and accepts.
#[derive(Debug, Clone, PartialEq)]
pub struct Accepted {
    /// The finding.
    pub finding: Finding,
    /// Why it is accepted.
    pub reason: String,
    /// The last day on which it is, as `2026-12-31`.
    pub until: Option<String>,
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
    /// Counts one more finding.
    fn add(&mut self, severity: Severity) {
        match severity {
            Severity::Error => self.error += 1,
            Severity::Warning => self.warning += 1,
            Severity::Note => self.note += 1,
        }
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

/// What a report counts while files go by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    /// Findings.
    pub counts: Counts,
    /// Files.
    pub files: u64,
    /// Files that were read and in which nothing was found.
    pub clean: u64,
    /// Files that were not read to the end.
    pub failed: u64,
    /// Findings that were not kept.
    pub left_out: u64,
    /// Findings that a profile accepts.
    pub accepted: u64,
    /// How far the run came, if it was interrupted.
    pub interrupted: Option<Interrupted>,
}

impl Tally {
    /// Counts one more file.
    pub fn add(&mut self, file: &FileReport) {
        for finding in &file.findings {
            self.counts.add(finding.severity);
        }
        self.files += 1;
        match file.status() {
            Status::Clean => self.clean += 1,
            Status::Failed => self.failed += 1,
            Status::Findings => {}
        }
        self.left_out += file.left_out;
        self.accepted += file.accepted.len() as u64;
    }

    /// `2 errors, 1 warning in 3 files (1 clean)`.
    pub fn words(&self) -> String {
        let mut text = format!("{} in {}", self.counts.words(), number(self.files, "file"));
        // What was not read comes first: 'no findings' would sound as if all was well.
        if self.failed > 0 {
            text = format!("{} not finished; {text}", number(self.failed, "file"));
        }
        if let Some(interrupted) = self.interrupted {
            text = format!("{interrupted}; {text}");
        }
        let mut notes = Vec::new();
        if self.clean > 0 && self.clean < self.files {
            notes.push(format!("{} clean", self.clean));
        }
        if self.left_out > 0 {
            notes.push(format!("{} left out", self.left_out));
        }
        if self.accepted > 0 {
            notes.push(format!("{} accepted", self.accepted));
        }
        if !notes.is_empty() {
            let _ = write!(text, " ({})", notes.join(", "));
        }
        text
    }
}

/// `1 file`, `2 files`.
pub fn number(count: u64, noun: &str) -> String {
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
            (report.status(), Counts::default().words().as_str()),
            (Status::Clean, "no findings")
        );
        report.left_out = 1;
        assert_eq!(report.status(), Status::Findings);
        report
            .findings
            .push(Finding::new("x", Severity::Error, Subject::Lens(9), "y"));
        assert_eq!(report.subject(&Subject::Lens(9)), ("lens", Some(9), ""));
        let mut tally = Tally::default();
        tally.add(&report);
        tally.add(&report);
        assert_eq!(tally.counts.words(), "2 errors");
        report.failure = Some(Failure {
            message: "gone".to_owned(),
            place: None,
            help: None,
        });
        assert_eq!(report.status(), Status::Failed);
    }

    #[test]
    fn tallies_in_words() {
        let words = |files: &[FileReport]| {
            let mut tally = Tally::default();
            files.iter().for_each(|file| tally.add(file));
            tally.words()
        };
        let clean = || FileReport {
            file: "a".to_owned(),
            ..FileReport::default()
        };
        assert_eq!(words(&[clean()]), "no findings in 1 file");
        assert_eq!(words(&[clean(), clean()]), "no findings in 2 files");
        assert_eq!(
            words(&samples::reports()),
            "1 file not finished; 5 errors, 2 warnings, 1 note in 4 files (1 clean, 12 left out)"
        );
        let cut_short = Tally {
            interrupted: Some(Interrupted { checked: 0, of: 1 }),
            ..Tally::default()
        };
        assert_eq!(
            cut_short.words(),
            "interrupted: 0 of 1 input checked; no findings in 0 files"
        );
    }
}
