//! Findings as one JSON document, by `schemas/findings.schema.json`.

use std::io::{self, Write};

use serde::{Serialize, Serializer};

use crate::document::{FINDINGS_VERSION, FindingEntry, InputEntry};
use crate::report::{Counts, FileReport};

#[derive(Serialize)]
struct Document<'a> {
    findings_version: &'static str,
    program: &'a str,
    inputs: Vec<InputEntry<'a>>,
    findings: Findings<'a>,
    counts: Counts,
    left_out: u64,
}

/// All findings, made one at a time while they are written.
struct Findings<'a>(&'a [FileReport]);

impl Serialize for Findings<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let findings = self.0.iter().flat_map(|report| {
            let of_report = |finding| FindingEntry::of(report, finding);
            report
                .sorted()
                .into_iter()
                .map(of_report)
                .collect::<Vec<_>>()
        });
        serializer.collect_seq(findings)
    }
}

/// Writes the document; `program` is name and version, as `ringmark 0.1.0`.
pub fn write_json(out: &mut dyn Write, program: &str, reports: &[FileReport]) -> io::Result<()> {
    let document = Document {
        findings_version: FINDINGS_VERSION,
        program,
        inputs: reports.iter().map(InputEntry::of).collect(),
        findings: Findings(reports),
        counts: Counts::of(reports),
        left_out: reports.iter().map(|r| r.left_out).sum(),
    };
    serde_json::to_writer_pretty(&mut *out, &document)?;
    out.write_all(b"\n")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::samples;

    fn document(reports: &[FileReport]) -> String {
        let mut out = Vec::new();
        write_json(&mut out, "ringmark 0.1.0", reports).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn snapshot() {
        insta::assert_snapshot!(document(&samples::reports()));
    }

    #[test]
    fn validates() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../schemas/findings.schema.json"
        );
        let schema: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let validator = jsonschema::validator_for(&schema).unwrap();
        for reports in [samples::reports(), Vec::new()] {
            let document: serde_json::Value = serde_json::from_str(&document(&reports)).unwrap();
            let errors: Vec<String> = validator
                .iter_errors(&document)
                .map(|e| format!("{}: {e}", e.instance_path()))
                .collect();
            assert!(errors.is_empty(), "{errors:#?}");
        }
        let wrong = serde_json::json!({"findings_version": "1.0", "findings": []});
        assert!(
            !validator.is_valid(&wrong),
            "the schema tells right from wrong"
        );
    }
}
