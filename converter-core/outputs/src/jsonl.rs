//! Findings as JSON lines, for reports that are read while they grow: a head, then for each file its findings and how
//! it fared, and at the end the counts.

use std::io::{self, Write};

use serde::Serialize;

use crate::document::{FINDINGS_VERSION, FindingEntry, InputEntry};
use crate::report::{Counts, FileReport, Interrupted, Report, Tally};

#[derive(Serialize)]
#[serde(untagged)]
enum Line<'a> {
    Head {
        findings_version: &'static str,
        program: &'a str,
    },
    Finding {
        finding: Box<FindingEntry<'a>>,
    },
    Input {
        input: InputEntry<'a>,
    },
    End {
        counts: Counts,
        left_out: u64,
        #[serde(skip_serializing_if = "Option::is_none")]
        interrupted: Option<Interrupted>,
    },
}

/// Findings as JSON lines.
#[derive(Debug)]
pub struct JsonlReport {
    program: String,
    tally: Tally,
}

impl JsonlReport {
    /// Of no files yet; `program` is name and version, as `ringmark 0.1.0`.
    pub fn new(program: impl Into<String>) -> Self {
        JsonlReport {
            program: program.into(),
            tally: Tally::default(),
        }
    }
}

impl Report for JsonlReport {
    fn start(&mut self, out: &mut dyn Write) -> io::Result<()> {
        line(
            out,
            &Line::Head {
                findings_version: FINDINGS_VERSION,
                program: &self.program,
            },
        )
    }

    fn file(&mut self, out: &mut dyn Write, file: &FileReport) -> io::Result<()> {
        self.tally.add(file);
        for finding in file.sorted() {
            let finding = Box::new(FindingEntry::of(file, finding));
            line(out, &Line::Finding { finding })?;
        }
        line(
            out,
            &Line::Input {
                input: InputEntry::of(file),
            },
        )
    }

    fn interrupted(&mut self, interrupted: Interrupted) {
        self.tally.interrupted = Some(interrupted);
    }

    fn end(&mut self, out: &mut dyn Write) -> io::Result<()> {
        line(
            out,
            &Line::End {
                counts: self.tally.counts,
                left_out: self.tally.left_out,
                interrupted: self.tally.interrupted,
            },
        )
    }
}

fn line(out: &mut dyn Write, line: &Line<'_>) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    out.write_all(b"\n")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::samples;

    #[test]
    fn holds_what_the_document_holds() {
        let lines = samples::made(&mut JsonlReport::new("ringmark 0.1.0"));
        let document = samples::made(&mut crate::json::JsonReport::new("ringmark 0.1.0"));
        let document: serde_json::Value = serde_json::from_str(&document).unwrap();
        let lines: Vec<serde_json::Value> = lines
            .lines()
            .map(|l| serde_json::from_str(l).unwrap())
            .collect();
        let all = |key: &str| {
            lines
                .iter()
                .filter_map(|l| l.get(key))
                .cloned()
                .collect::<Vec<_>>()
        };
        assert_eq!(&all("finding"), document["findings"].as_array().unwrap());
        assert_eq!(&all("input"), document["inputs"].as_array().unwrap());
        assert_eq!(all("counts"), [document["counts"].clone()]);
        assert_eq!(lines.len(), 2 + all("finding").len() + all("input").len());
    }

    #[test]
    fn snapshot_of_the_start() {
        let mut report = JsonlReport::new("ringmark 0.1.0");
        insta::assert_snapshot!(samples::made_of(&mut report, &samples::reports()[..1]));
    }
}
