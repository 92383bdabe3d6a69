//! Findings as JUnit XML: a suite a file, a case a check that ran. JUnit has no standard; elements and attributes are those
//! that the schema of the Jenkins xUnit plugin (junit-10.xsd) and common readers share.

use std::collections::BTreeMap;
use std::io::{self, Write};

use quick_xml::Writer;
use quick_xml::escape::escape;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};
use ringmark_model::Finding;

use crate::later::Later;
use crate::report::{FileReport, Interrupted, Report, number};
use crate::rule::FailsFrom;
use crate::safe::{safe, safe_lines};
use crate::text::finding_line;

/// The case that says whether a file could be read; no check is called so.
const READING: &str = "file-readable";

/// The suite and the case that say that a run was interrupted.
const RUN: (&str, &str) = ("ringmark", "run-finished");

/// Findings as JUnit XML. The totals stand before the suites, so the suites wait in a temporary file.
#[derive(Debug)]
pub struct JunitReport {
    fails_from: FailsFrom,
    suites: Later,
    totals: Totals,
    interrupted: Option<Interrupted>,
}

#[derive(Debug, Clone, Copy, Default)]
struct Totals {
    tests: u64,
    failures: u64,
    errors: u64,
    seconds: f64,
}

/// What is said about a check in one file.
#[derive(Default)]
struct Case<'a> {
    /// Findings that fail the run.
    failing: Vec<&'a Finding>,
    /// Other findings, and those that a profile accepts, with the reason.
    told: Vec<(&'a Finding, Option<&'a str>)>,
}

impl JunitReport {
    /// Of no files yet.
    pub fn new(fails_from: FailsFrom) -> Self {
        JunitReport {
            fails_from,
            suites: Later::new(),
            totals: Totals::default(),
            interrupted: None,
        }
    }

    fn cases<'a>(&self, file: &'a FileReport) -> BTreeMap<&'a str, Case<'a>> {
        let ran = file.ran.iter().map(|id| (id.as_ref(), Case::default()));
        let mut cases: BTreeMap<&str, Case<'_>> = ran.collect();
        for finding in file.sorted() {
            let case = cases.entry(&finding.check).or_default();
            if self.fails_from.is_met_by(finding) {
                case.failing.push(finding);
            } else {
                case.told.push((finding, None));
            }
        }
        for accepted in &file.accepted {
            let case = cases.entry(&accepted.finding.check).or_default();
            case.told.push((&accepted.finding, Some(&accepted.reason)));
        }
        cases
    }
}

impl JunitReport {
    /// An interrupted run is told by a case of its own: nobody should take it for a whole one.
    fn cut_short(&mut self, interrupted: Interrupted) -> io::Result<()> {
        let totals = Totals {
            tests: 1,
            errors: 1,
            ..Totals::default()
        };
        self.totals.tests += totals.tests;
        self.totals.errors += totals.errors;
        let mut xml = Writer::new_with_indent(&mut self.suites, b' ', 2);
        let mut suite = BytesStart::new("testsuite");
        suite.push_attribute(("name", RUN.0));
        totals.put(&mut suite);
        xml.write_event(Event::Start(suite))?;
        let mut case = BytesStart::new("testcase");
        case.push_attribute(("name", RUN.1));
        case.push_attribute(("classname", RUN.0));
        case.push_attribute(("time", "0.000"));
        xml.write_event(Event::Start(case))?;
        let words = interrupted.to_string();
        told(&mut xml, "error", &words, "interrupted", &words)?;
        xml.write_event(Event::End(BytesEnd::new("testcase")))?;
        xml.write_event(Event::End(BytesEnd::new("testsuite")))?;
        self.suites.write_all(b"\n")
    }
}

impl Report for JunitReport {
    fn start(&mut self, _: &mut dyn Write) -> io::Result<()> {
        Ok(())
    }

    fn file(&mut self, _: &mut dyn Write, file: &FileReport) -> io::Result<()> {
        let cases = self.cases(file);
        let totals = Totals {
            tests: 1 + cases.len() as u64,
            failures: cases.values().filter(|c| !c.failing.is_empty()).count() as u64,
            errors: u64::from(file.failure.is_some()),
            seconds: file.seconds,
        };
        self.totals.tests += totals.tests;
        self.totals.failures += totals.failures;
        self.totals.errors += totals.errors;
        self.totals.seconds += totals.seconds;

        let name = allowed(&safe(&file.file));
        let class = escape(&name);
        let mut xml = Writer::new_with_indent(&mut self.suites, b' ', 2);
        let mut suite = BytesStart::new("testsuite");
        suite.push_attribute(("name", name.as_str()));
        totals.put(&mut suite);
        xml.write_event(Event::Start(suite))?;

        let mut reading = BytesStart::new("testcase");
        reading.push_attribute(("name", READING));
        reading.push_attribute(("classname", name.as_str()));
        reading.push_attribute(("time", seconds(file.seconds).as_str()));
        match &file.failure {
            None => xml.write_event(Event::Empty(reading))?,
            Some(failure) => {
                let first = failure.message.lines().next().unwrap_or_default();
                let mut text = safe_lines(&failure.message);
                if let Some(help) = &failure.help {
                    text = format!("{text}\nhelp: {}", safe(help));
                }
                xml.write_event(Event::Start(reading))?;
                told(&mut xml, "error", &safe(first), "unreadable", &text)?;
                xml.write_event(Event::End(BytesEnd::new("testcase")))?;
            }
        }
        for (check, case) in &cases {
            self::case(&mut xml, file, &class, check, case)?;
        }
        xml.write_event(Event::End(BytesEnd::new("testsuite")))?;
        self.suites.write_all(b"\n")
    }

    fn interrupted(&mut self, interrupted: Interrupted) {
        self.interrupted = Some(interrupted);
    }

    fn end(&mut self, out: &mut dyn Write) -> io::Result<()> {
        if let Some(interrupted) = self.interrupted {
            self.cut_short(interrupted)?;
        }
        let mut xml = Writer::new(&mut *out);
        xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
        let mut root = BytesStart::new("testsuites");
        root.push_attribute(("name", "ringmark"));
        self.totals.put(&mut root);
        xml.write_event(Event::Text(BytesText::new("\n")))?;
        xml.write_event(Event::Start(root))?;
        out.write_all(b"\n")?;
        self.suites.put(out)?;
        out.write_all(b"</testsuites>\n")
    }
}

impl Totals {
    fn put(&self, element: &mut BytesStart<'_>) {
        element.push_attribute(("tests", self.tests.to_string().as_str()));
        element.push_attribute(("failures", self.failures.to_string().as_str()));
        element.push_attribute(("errors", self.errors.to_string().as_str()));
        element.push_attribute(("skipped", "0"));
        element.push_attribute(("time", seconds(self.seconds).as_str()));
    }
}

fn case(
    xml: &mut Writer<impl Write>,
    file: &FileReport,
    class: &str,
    check: &str,
    case: &Case<'_>,
) -> io::Result<()> {
    // Most of a report is cases that passed: the attributes, escaped, are one text. All checks look at a frame in one pass:
    // none has a time of its own.
    let name = safe(check);
    let element = format!(
        "testcase name=\"{}\" classname=\"{class}\" time=\"0.000\"",
        escape(&*name)
    );
    let element = BytesStart::from_content(element, "testcase".len());
    if case.failing.is_empty() && case.told.is_empty() {
        return xml.write_event(Event::Empty(element));
    }
    xml.write_event(Event::Start(element))?;
    if let [first, others @ ..] = case.failing.as_slice() {
        let message = match others.len() {
            0 => safe(&first.message).into_owned(),
            more => format!(
                "{}, and {}",
                safe(&first.message),
                number(more as u64, "more finding")
            ),
        };
        let lines: Vec<String> = case.failing.iter().map(|f| finding_line(file, f)).collect();
        // The worst comes first.
        told(
            xml,
            "failure",
            &message,
            first.severity.name(),
            &lines.join("\n"),
        )?;
    }
    if !case.told.is_empty() {
        let lines = case.told.iter().map(|(finding, accepted)| {
            let line = finding_line(file, finding);
            match accepted {
                Some(reason) => format!("accepted: {line}: {}", safe(reason)),
                None => line,
            }
        });
        xml.write_event(Event::Start(BytesStart::new("system-out")))?;
        let text = lines.collect::<Vec<_>>().join("\n");
        xml.write_event(Event::Text(BytesText::new(&allowed(&text))))?;
        xml.write_event(Event::End(BytesEnd::new("system-out")))?;
    }
    xml.write_event(Event::End(BytesEnd::new("testcase")))
}

fn told(
    xml: &mut Writer<impl Write>,
    name: &str,
    message: &str,
    kind: &str,
    text: &str,
) -> io::Result<()> {
    let mut element = BytesStart::new(name);
    element.push_attribute(("message", allowed(message).as_str()));
    element.push_attribute(("type", kind));
    xml.write_event(Event::Start(element))?;
    xml.write_event(Event::Text(BytesText::new(&allowed(text))))?;
    xml.write_event(Event::End(BytesEnd::new(name)))
}

/// Without the two characters that XML 1.0 (section 2.2) has no place for and that are not shown as something else already.
fn allowed(text: &str) -> String {
    text.replace(['\u{fffe}', '\u{ffff}'], "\u{fffd}")
}

fn seconds(seconds: f64) -> String {
    format!("{seconds:.3}")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use quick_xml::{Reader, XmlVersion};
    use ringmark_model::Severity;

    use super::*;
    use crate::report::Accepted;
    use crate::samples;

    const FAIL: FailsFrom = FailsFrom(Some(Severity::Error));

    #[test]
    fn snapshot() {
        insta::assert_snapshot!(samples::made(&mut JunitReport::new(FAIL)));
    }

    /// Name and attributes of every element, as a reader of XML finds them.
    fn elements(text: &str) -> Vec<(String, BTreeMap<String, String>)> {
        let mut reader = Reader::from_str(text);
        let mut found = Vec::new();
        loop {
            match reader.read_event().unwrap() {
                Event::Start(element) | Event::Empty(element) => {
                    let name = element.name().as_ref().to_owned();
                    let attributes = element.attributes().map(|attribute| {
                        let attribute = attribute.unwrap();
                        let key = attribute.key.as_ref().to_owned();
                        (
                            key,
                            attribute
                                .normalized_value(XmlVersion::Explicit1_0)
                                .unwrap()
                                .into_owned(),
                        )
                    });
                    found.push((name, attributes.collect()));
                }
                Event::Eof => return found,
                _ => {}
            }
        }
    }

    #[test]
    fn totals_are_the_sums_of_what_stands_there() {
        let elements = elements(&samples::made(&mut JunitReport::new(FAIL)));
        let count = |name: &str| elements.iter().filter(|(n, _)| n == name).count() as u64;
        let sum = |key: &str| -> u64 {
            let suites = elements.iter().filter(|(n, _)| n == "testsuite");
            suites.map(|(_, a)| a[key].parse::<u64>().unwrap()).sum()
        };
        let (root, totals) = &elements[0];
        assert_eq!(root, "testsuites");
        for (key, of) in [
            ("tests", "testcase"),
            ("failures", "failure"),
            ("errors", "error"),
        ] {
            assert_eq!(totals[key], count(of).to_string(), "{key}");
            assert_eq!(sum(key), count(of), "{key}");
        }
        assert_eq!((count("failure"), count("error")), (5, 1));
    }

    #[test]
    fn the_level_decides_what_fails() {
        for (level, failing) in [
            (None, 0),
            (Some(Severity::Error), 2),
            (Some(Severity::Warning), 4),
        ] {
            let files = &samples::reports()[..1];
            let text = samples::made_of(&mut JunitReport::new(FailsFrom(level)), files);
            let failures = elements(&text)
                .into_iter()
                .filter(|(name, _)| name == "failure");
            assert_eq!(failures.count(), failing);
        }
    }

    #[test]
    fn checks_that_ran_pass_and_what_is_accepted_is_told() {
        let mut file = samples::reports().remove(0);
        file.ran = vec!["ring-jump".into(), "below-close-focus".into()];
        let at = file
            .findings
            .iter()
            .position(|f| f.check == "below-close-focus")
            .unwrap();
        let finding = file.findings.remove(at);
        file.accepted.push(Accepted {
            finding,
            reason: "a macro <ring> & more".to_owned(),
            until: None,
        });
        let text = samples::made_of(&mut JunitReport::new(FAIL), &[file]);
        assert!(text.contains("a macro &lt;ring&gt; &amp; more"), "{text}");
        let names: Vec<String> = elements(&text)
            .into_iter()
            .filter(|(name, _)| name == "testcase")
            .map(|(_, a)| a["name"].clone())
            .collect();
        assert!(names.contains(&"ring-jump".to_owned()));
        assert_eq!(
            names.iter().filter(|n| *n == "below-close-focus").count(),
            1
        );
    }

    #[test]
    fn nothing_from_a_file_breaks_the_document() {
        let mut file = samples::reports().remove(0);
        file.file = "a\"<&>\u{1}\u{ffff}.csv".to_owned();
        file.findings[0].message = "]]> \u{0}\u{b} <!-- \u{fffe} -->".to_owned();
        let text = samples::made_of(
            &mut JunitReport::new(FailsFrom(Some(Severity::Note))),
            &[file],
        );
        let elements = elements(&text);
        assert_eq!(elements[1].1["name"], "a\"<&>␁\u{fffd}.csv");
        assert!(!text.contains(['\u{fffe}', '\u{ffff}', '\u{0}', '\u{b}']));
    }
}
