//! Findings in the Static Analysis Results Interchange Format: OASIS Standard SARIF 2.1.0 with Errata 01. Section numbers in
//! comments are those of the standard.

mod fix;
mod form;
mod result;

use std::io::{self, Write};

use ringmark_model::Finding;
use serde::Serialize;

use crate::later::Later;
use crate::report::{Failure, FileReport, Interrupted, Report};
use crate::rule::{FailsFrom, RuleText};
use crate::safe::{safe, safe_lines};
use form::{
    Artifact, Configuration, Descriptor, Driver, Invocation, Location, Message, Notification,
    PhysicalLocation, Text,
};
use result::Results;

/// Where the published schema is.
const SCHEMA: &str =
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";

/// Findings as a SARIF log of one run. Results are written as they come.
#[derive(Debug)]
pub struct SarifReport {
    version: &'static str,
    rules: Vec<RuleText>,
    fails_from: FailsFrom,
    results: Results,
    first: bool,
    failures: Later,
    failed: bool,
    found: bool,
    interrupted: Option<Interrupted>,
}

impl SarifReport {
    /// Of no files yet: `version` is that of the program, `rules` are all checks it has, and names of files below the
    /// folder `base` are written relative to it.
    pub fn new(
        version: &'static str,
        rules: Vec<RuleText>,
        fails_from: FailsFrom,
        base: Option<String>,
    ) -> Self {
        SarifReport {
            version,
            results: Results::new(rules.iter().map(|rule| rule.id).collect(), base),
            rules,
            fails_from,
            first: true,
            failures: Later::new(),
            failed: false,
            found: false,
            interrupted: None,
        }
    }

    fn result(
        &mut self,
        out: &mut dyn Write,
        file: &FileReport,
        finding: &Finding,
        accepted: Option<&str>,
    ) -> io::Result<()> {
        let result = self.results.of(file, finding, accepted);
        element(out, std::mem::replace(&mut self.first, false), &result)
    }

    fn notification<'a>(&self, file: &'a FileReport, failure: &'a Failure) -> Notification<'a> {
        let physical = match &failure.place {
            Some(place) => self.results.physical(file, place),
            None => PhysicalLocation {
                artifact_location: Artifact {
                    uri: self.results.uri(&file.file),
                },
                region: None,
            },
        };
        let mut text = safe_lines(&failure.message);
        if let Some(help) = &failure.help {
            text = format!("{text}\n{}", safe(help));
        }
        Notification {
            level: "error",
            message: Message::plain(text),
            locations: vec![Location {
                id: None,
                physical_location: Some(physical),
                logical_locations: Vec::new(),
                message: None,
            }],
        }
    }
}

impl Report for SarifReport {
    fn start(&mut self, out: &mut dyn Write) -> io::Result<()> {
        let driver = Driver {
            name: "ringmark",
            version: self.version,
            semantic_version: self.version,
            rules: self.rules.iter().map(descriptor).collect(),
        };
        writeln!(out, "{{\"$schema\":\"{SCHEMA}\",\"version\":\"2.1.0\",")?;
        write!(out, "\"runs\":[{{\n\"tool\":{{\"driver\":")?;
        serde_json::to_writer(&mut *out, &driver)?;
        // Columns are characters here; 3.14.17 has no default.
        write!(
            out,
            "}},\n\"columnKind\":\"unicodeCodePoints\",\n\"results\":["
        )
    }

    fn file(&mut self, out: &mut dyn Write, file: &FileReport) -> io::Result<()> {
        self.results.next_file();
        for finding in file.sorted() {
            self.found |= self.fails_from.is_met_by(finding);
            self.result(out, file, finding, None)?;
        }
        for accepted in &file.accepted {
            self.result(out, file, &accepted.finding, Some(&accepted.reason))?;
        }
        if let Some(failure) = &file.failure {
            let notification = self.notification(file, failure);
            element(&mut self.failures, !self.failed, &notification)?;
            self.failed = true;
        }
        Ok(())
    }

    fn interrupted(&mut self, interrupted: Interrupted) {
        self.interrupted = Some(interrupted);
    }

    fn end(&mut self, out: &mut dyn Write) -> io::Result<()> {
        if let Some(interrupted) = self.interrupted {
            let notification = Notification {
                level: "error",
                message: Message::plain(interrupted.to_string()),
                locations: Vec::new(),
            };
            element(&mut self.failures, !self.failed, &notification)?;
            self.failed = true;
        }
        let invocation = Invocation {
            execution_successful: !self.failed,
            exit_code: match (self.failed, self.found) {
                (true, _) => 2,
                (false, true) => 1,
                (false, false) => 0,
            },
        };
        let invocation = serde_json::to_string(&invocation)?;
        let invocation = invocation.trim_end_matches('}');
        write!(
            out,
            "\n],\n\"invocations\":[{invocation},\"toolExecutionNotifications\":["
        )?;
        self.failures.put(out)?;
        out.write_all(b"]}]\n}]}\n")
    }
}

/// One more element of a list, on a line of its own.
fn element(out: &mut dyn Write, first: bool, value: &impl Serialize) -> io::Result<()> {
    out.write_all(if first { b"\n" } else { b",\n" })?;
    serde_json::to_writer(out, value)?;
    Ok(())
}

fn descriptor(rule: &RuleText) -> Descriptor<'_> {
    Descriptor {
        id: rule.id,
        short_description: Text::plain(rule.title),
        full_description: Text::plain(rule.meaning()),
        help: Text {
            text: rule.explanation.into(),
            markdown: Some(rule.explanation),
        },
        default_configuration: Configuration {
            level: rule.severity.name(),
        },
        properties: form::RuleProperties {
            tags: [rule.family],
            since: rule.since,
        },
    }
}

#[cfg(test)]
mod tests;
