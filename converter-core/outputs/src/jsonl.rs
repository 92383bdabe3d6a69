//! Findings as JSON lines, for reports that are read while they grow: a head, then for each file its findings and how
//! it fared, and at the end the counts.

use std::io::{self, Write};

use serde::Serialize;

use crate::document::{FINDINGS_VERSION, FindingEntry, InputEntry};
use crate::report::{Counts, FileReport};

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
    },
}

/// Writes all lines: [`write_jsonl_head`], [`write_jsonl_file`] for each file, [`write_jsonl_end`].
pub fn write_jsonl(out: &mut dyn Write, program: &str, reports: &[FileReport]) -> io::Result<()> {
    write_jsonl_head(out, program)?;
    for report in reports {
        write_jsonl_file(out, report)?;
    }
    write_jsonl_end(
        out,
        Counts::of(reports),
        reports.iter().map(|r| r.left_out).sum(),
    )
}

/// The first line; `program` is name and version, as `ringmark 0.1.0`.
pub fn write_jsonl_head(out: &mut dyn Write, program: &str) -> io::Result<()> {
    line(
        out,
        &Line::Head {
            findings_version: FINDINGS_VERSION,
            program,
        },
    )
}

/// The lines of one file.
pub fn write_jsonl_file(out: &mut dyn Write, report: &FileReport) -> io::Result<()> {
    for finding in report.sorted() {
        let finding = Box::new(FindingEntry::of(report, finding));
        line(out, &Line::Finding { finding })?;
    }
    line(
        out,
        &Line::Input {
            input: InputEntry::of(report),
        },
    )
}

/// The last line.
pub fn write_jsonl_end(out: &mut dyn Write, counts: Counts, left_out: u64) -> io::Result<()> {
    line(out, &Line::End { counts, left_out })
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
        let (mut lines, mut document) = (Vec::new(), Vec::new());
        write_jsonl(&mut lines, "ringmark 0.1.0", &samples::reports()).unwrap();
        crate::json::write_json(&mut document, "ringmark 0.1.0", &samples::reports()).unwrap();
        let document: serde_json::Value = serde_json::from_slice(&document).unwrap();
        let lines: Vec<serde_json::Value> = String::from_utf8(lines)
            .unwrap()
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
        let mut out = Vec::new();
        write_jsonl(&mut out, "ringmark 0.1.0", &samples::reports()[..1]).unwrap();
        insta::assert_snapshot!(String::from_utf8(out).unwrap());
    }
}
