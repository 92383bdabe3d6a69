//! Findings as one JSON document, by `schemas/findings.schema.json`.

use std::io::{self, Write};

use serde::Serialize;

use crate::document::{FINDINGS_VERSION, FindingEntry, InputEntry};
use crate::later::Later;
use crate::report::{Counts, FileReport, Interrupted, Report, Tally};

/// Findings as one JSON document. Findings are written as they come; the list of inputs, which stands behind them, waits.
#[derive(Debug)]
pub struct JsonReport {
    program: String,
    tally: Tally,
    inputs: Later,
}

impl JsonReport {
    /// Of no files yet; `program` is name and version, as `ringmark 0.1.0`.
    pub fn new(program: impl Into<String>) -> Self {
        JsonReport {
            program: program.into(),
            tally: Tally::default(),
            inputs: Later::new(),
        }
    }
}

impl Report for JsonReport {
    fn start(&mut self, out: &mut dyn Write) -> io::Result<()> {
        write!(
            out,
            "{{\n  \"findings_version\": {},\n  \"program\": {},\n  \"findings\": [",
            serde_json::to_string(FINDINGS_VERSION)?,
            serde_json::to_string(&self.program)?
        )
    }

    fn file(&mut self, out: &mut dyn Write, file: &FileReport) -> io::Result<()> {
        let mut first = self.tally.counts == Counts::default();
        for finding in file.sorted() {
            element(out, first, &FindingEntry::of(file, finding))?;
            first = false;
        }
        element(
            &mut self.inputs,
            self.tally.files == 0,
            &InputEntry::of(file),
        )?;
        self.tally.add(file);
        Ok(())
    }

    fn interrupted(&mut self, interrupted: Interrupted) {
        self.tally.interrupted = Some(interrupted);
    }

    fn end(&mut self, out: &mut dyn Write) -> io::Result<()> {
        let close = |empty: bool| if empty { "]" } else { "\n  ]" };
        let no_findings = self.tally.counts == Counts::default();
        write!(out, "{},\n  \"inputs\": [", close(no_findings))?;
        self.inputs.put(out)?;
        write!(out, "{},\n  \"counts\": ", close(self.tally.files == 0))?;
        indented(out, "  ", &self.tally.counts)?;
        write!(out, ",\n  \"left_out\": {}", self.tally.left_out)?;
        if let Some(interrupted) = &self.tally.interrupted {
            out.write_all(b",\n  \"interrupted\": ")?;
            indented(out, "  ", interrupted)?;
        }
        out.write_all(b"\n}\n")
    }
}

/// One more element of a list that stands in the document itself.
fn element(out: &mut dyn Write, first: bool, value: &impl Serialize) -> io::Result<()> {
    write!(out, "{}\n    ", if first { "" } else { "," })?;
    indented(out, "    ", value)
}

/// A value over several lines, indented below its first. Line breaks in JSON stand between values only, never in texts.
fn indented(out: &mut dyn Write, margin: &str, value: &impl Serialize) -> io::Result<()> {
    let text = serde_json::to_string_pretty(value)?;
    out.write_all(text.replace('\n', &format!("\n{margin}")).as_bytes())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::samples;

    fn document(reports: &[FileReport]) -> String {
        samples::made_of(&mut JsonReport::new("ringmark 0.1.0"), reports)
    }

    #[test]
    fn snapshot() {
        insta::assert_snapshot!(document(&samples::reports()));
    }

    #[test]
    fn printed_as_one_document_would_be() {
        for reports in [samples::reports(), vec![FileReport::default()], Vec::new()] {
            let text = document(&reports);
            let value: serde_json::Value = serde_json::from_str(&text).unwrap();
            // Keys are sorted by reading them, lines and their margins are not.
            let sorted = |text: &str| {
                let mut lines: Vec<String> = text
                    .lines()
                    .map(|l| l.trim_end_matches(',').to_owned())
                    .collect();
                lines.sort();
                lines
            };
            let printed = serde_json::to_string_pretty(&value).unwrap();
            assert_eq!(sorted(&text), sorted(&printed));
        }
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
        let mut cut_short = JsonReport::new("ringmark 0.1.0");
        cut_short.interrupted(Interrupted { checked: 4, of: 9 });
        let cut_short = samples::made_of(&mut cut_short, &samples::reports());
        let cut_short: serde_json::Value = serde_json::from_str(&cut_short).unwrap();
        assert_eq!(cut_short["interrupted"]["checked"], 4);
        assert!(validator.is_valid(&cut_short));
        let wrong = serde_json::json!({"findings_version": "1.0", "findings": []});
        assert!(
            !validator.is_valid(&wrong),
            "the schema tells right from wrong"
        );
    }
}
