//! The data of a page as JSON.

use std::collections::BTreeMap;

use ringmark_model::{Finding, Severity, Subject};
use serde::Serialize;

use crate::excerpt::{excerpt, location};
use crate::picture::Pictures;
use crate::report::FileReport;
use crate::rule::RuleText;
use crate::safe::{safe, safe_lines};
use crate::text::{subject_line, value};

/// Findings of a file that are shown with an excerpt of the source.
const WITH_EXCERPT: usize = 20;

/// A file.
#[derive(Serialize)]
pub(super) struct Page<'a> {
    file: String,
    failure: Option<FailurePart>,
    takes: Vec<String>,
    lenses: Vec<String>,
    findings: Vec<FindingPart<'a>>,
    accepted: Vec<AcceptedPart>,
    left_out: u64,
    pictures: Option<&'a Pictures>,
}

#[derive(Serialize)]
struct FailurePart {
    message: String,
    place: Option<String>,
    help: Option<String>,
}

#[derive(Serialize)]
struct FindingPart<'a> {
    check: String,
    severity: &'static str,
    message: String,
    about: Option<String>,
    place: String,
    excerpt: Option<String>,
    /// Index of the take, and of its first and last frame.
    frames: Option<(usize, u64, u64)>,
    values: Vec<(String, String)>,
    help: Option<String>,
    repair: Option<String>,
    evidence: Option<&'a str>,
}

#[derive(Serialize)]
struct AcceptedPart {
    check: String,
    message: String,
    reason: String,
    until: Option<String>,
}

impl<'a> Page<'a> {
    pub fn of(file: &'a FileReport) -> Self {
        let named = |names: &[String]| names.iter().map(|n| safe(n).into_owned()).collect();
        Page {
            file: safe(&file.file).into_owned(),
            failure: file.failure.as_ref().map(|failure| FailurePart {
                message: safe_lines(&failure.message),
                place: failure
                    .place
                    .as_ref()
                    .map(|place| location(&file.sources, place)),
                help: failure.help.as_ref().map(|help| safe(help).into_owned()),
            }),
            takes: named(&file.takes),
            lenses: named(&file.lenses),
            findings: (0..)
                .zip(file.sorted())
                .map(|(index, finding)| part(file, finding, index < WITH_EXCERPT))
                .collect(),
            accepted: file
                .accepted
                .iter()
                .map(|accepted| AcceptedPart {
                    check: safe(&accepted.finding.check).into_owned(),
                    message: safe(&accepted.finding.message).into_owned(),
                    reason: safe(&accepted.reason).into_owned(),
                    until: accepted.until.clone(),
                })
                .collect(),
            left_out: file.left_out,
            pictures: file.pictures.as_ref(),
        }
    }
}

fn part<'a>(file: &FileReport, finding: &'a Finding, with_excerpt: bool) -> FindingPart<'a> {
    let place = match &finding.place {
        Some(place) => location(&file.sources, place),
        None => safe(&file.file).into_owned(),
    };
    let shown = finding.place.as_ref().filter(|_| with_excerpt);
    FindingPart {
        check: safe(&finding.check).into_owned(),
        severity: finding.severity.name(),
        message: safe(&finding.message).into_owned(),
        about: subject_line(file, finding),
        place,
        excerpt: shown
            .map(|place| excerpt(&file.sources, place, &finding.also, finding.severity, false)),
        frames: match (&finding.subject, &finding.frames) {
            (Subject::Take(take), Some(frames)) => Some((*take, frames.first, frames.last)),
            _ => None,
        },
        values: finding
            .values
            .iter()
            .map(|found| (safe(&found.name).into_owned(), value(found)))
            .collect(),
        help: finding.help.as_ref().map(|help| safe(help).into_owned()),
        repair: finding
            .repair
            .as_ref()
            .map(|repair| safe(&repair.action).into_owned()),
        evidence: finding
            .repair
            .as_ref()
            .map(|repair| repair.evidence.as_str())
            .filter(|evidence| !evidence.is_empty()),
    }
}

/// What the checks are, by their names.
#[derive(Serialize)]
pub(super) struct Rules(BTreeMap<&'static str, RulePart>);

#[derive(Serialize)]
struct RulePart {
    title: &'static str,
    severity: &'static str,
    meaning: String,
}

impl Rules {
    pub fn of(rules: &[RuleText]) -> Self {
        let part = |rule: &RuleText| RulePart {
            title: rule.title,
            severity: Severity::name(rule.severity),
            meaning: rule.meaning(),
        };
        Rules(rules.iter().map(|rule| (rule.id, part(rule))).collect())
    }
}

/// JSON for a script element: nothing in it ends the element or begins another (HTML, 'restrictions for contents of script
/// elements').
pub(super) fn embedded(value: &impl Serialize) -> serde_json::Result<String> {
    // `<` stands in JSON inside texts only, where it can be written by its number.
    Ok(serde_json::to_string(value)?.replace('<', "\\u003c"))
}
