//! Findings as machines read them: the types behind the JSON forms. All keys are always there, but for the edits of a repair.

use ringmark_model::{Change, Edit, Finding, FoundValue, FrameRange, Place, Repair};
use serde::{Serialize, Serializer};

use crate::report::{Accepted, FileReport};

/// Version of the findings document.
pub(crate) const FINDINGS_VERSION: &str = "1.0";

/// A file and how it fared.
#[derive(Serialize)]
pub(crate) struct InputEntry<'a> {
    file: &'a str,
    status: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<&'a str>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    accepted: Vec<AcceptedEntry<'a>>,
}

/// A finding that a profile accepts.
#[derive(Serialize)]
struct AcceptedEntry<'a> {
    check: &'a str,
    message: &'a str,
    reason: &'a str,
    until: Option<&'a str>,
}

impl<'a> InputEntry<'a> {
    pub fn of(report: &'a FileReport) -> Self {
        InputEntry {
            file: &report.file,
            status: report.status().name(),
            error: report.failure.as_ref().map(|f| f.message.as_str()),
            accepted: report.accepted.iter().map(AcceptedEntry::of).collect(),
        }
    }
}

impl<'a> AcceptedEntry<'a> {
    fn of(accepted: &'a Accepted) -> Self {
        AcceptedEntry {
            check: &accepted.finding.check,
            message: &accepted.finding.message,
            reason: &accepted.reason,
            until: accepted.until.as_deref(),
        }
    }
}

#[derive(Serialize)]
pub(crate) struct FindingEntry<'a> {
    check: &'a str,
    severity: &'static str,
    message: &'a str,
    file: &'a str,
    subject: SubjectEntry<'a>,
    frames: Option<FramesEntry<'a>>,
    values: Vec<ValueEntry<'a>>,
    place: Option<PlaceEntry<'a>>,
    also: Vec<AlsoEntry<'a>>,
    help: Option<&'a str>,
    repair: Option<RepairEntry<'a>>,
}

#[derive(Serialize)]
struct SubjectEntry<'a> {
    kind: &'static str,
    index: Option<usize>,
    label: &'a str,
}

#[derive(Serialize)]
pub(crate) struct FramesEntry<'a> {
    first: u64,
    last: u64,
    count: u64,
    first_number: Option<i64>,
    last_number: Option<i64>,
    first_label: Option<&'a str>,
    last_label: Option<&'a str>,
}

#[derive(Serialize)]
pub(crate) struct ValueEntry<'a> {
    name: &'a str,
    #[serde(serialize_with = "number")]
    value: f64,
    unit: &'a str,
}

#[derive(Serialize)]
struct PlaceEntry<'a> {
    file: &'a str,
    line: Option<u64>,
    column: Option<u64>,
    offset: u64,
    length: u64,
    field: Option<&'a str>,
}

#[derive(Serialize)]
struct AlsoEntry<'a> {
    place: PlaceEntry<'a>,
    text: &'a str,
}

#[derive(Serialize)]
pub(crate) struct RepairEntry<'a> {
    action: &'a str,
    evidence: &'a str,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    edits: Vec<EditEntry<'a>>,
}

#[derive(Serialize)]
struct EditEntry<'a> {
    lens: usize,
    ring: &'static str,
    #[serde(flatten)]
    change: ChangeEntry<'a>,
}

#[derive(Serialize)]
#[serde(untagged)]
enum ChangeEntry<'a> {
    Value {
        mark: usize,
        #[serde(serialize_with = "number")]
        value: f64,
        #[serde(skip_serializing_if = "Option::is_none")]
        engraved: Option<&'a str>,
    },
    Position {
        mark: usize,
        position: f64,
    },
    Remove {
        mark: usize,
        remove: bool,
    },
    Unit {
        source_unit: &'static str,
    },
    Reference {
        reference: &'static str,
    },
}

impl<'a> FindingEntry<'a> {
    pub fn of(report: &'a FileReport, finding: &'a Finding) -> Self {
        let (kind, index, label) = report.subject(&finding.subject);
        FindingEntry {
            check: &finding.check,
            severity: finding.severity.name(),
            message: &finding.message,
            file: &report.file,
            subject: SubjectEntry { kind, index, label },
            frames: finding.frames.as_ref().map(FramesEntry::of),
            values: finding.values.iter().map(ValueEntry::of).collect(),
            place: finding.place.as_ref().map(|p| place(report, p)),
            also: finding
                .also
                .iter()
                .map(|(p, text)| AlsoEntry {
                    place: place(report, p),
                    text,
                })
                .collect(),
            help: finding.help.as_deref(),
            repair: finding.repair.as_ref().map(RepairEntry::of),
        }
    }
}

fn edit(edit: &Edit) -> EditEntry<'_> {
    let change = match &edit.change {
        Change::Value {
            mark,
            value,
            engraved,
        } => ChangeEntry::Value {
            mark: *mark,
            value: *value,
            engraved: engraved.as_deref(),
        },
        Change::Position { mark, position } => ChangeEntry::Position {
            mark: *mark,
            position: *position,
        },
        Change::Remove { mark } => ChangeEntry::Remove {
            mark: *mark,
            remove: true,
        },
        Change::Unit(unit) => ChangeEntry::Unit {
            source_unit: unit.symbol(),
        },
        Change::Reference(reference) => ChangeEntry::Reference {
            reference: reference.name(),
        },
    };
    EditEntry {
        lens: edit.lens,
        ring: edit.axis.name(),
        change,
    }
}

impl<'a> FramesEntry<'a> {
    pub fn of(frames: &'a FrameRange) -> Self {
        FramesEntry {
            first: frames.first,
            last: frames.last,
            count: frames.count,
            first_number: frames.first_number,
            last_number: frames.last_number,
            first_label: frames.first_label.as_deref(),
            last_label: frames.last_label.as_deref(),
        }
    }
}

impl<'a> ValueEntry<'a> {
    pub fn of(found: &'a FoundValue) -> Self {
        ValueEntry {
            name: &found.name,
            value: found.value,
            unit: &found.unit,
        }
    }
}

impl<'a> RepairEntry<'a> {
    pub fn of(repair: &'a Repair) -> Self {
        RepairEntry {
            action: &repair.action,
            evidence: &repair.evidence,
            edits: repair.edits.iter().map(edit).collect(),
        }
    }
}

fn place<'a>(report: &'a FileReport, place: &'a Place) -> PlaceEntry<'a> {
    let (line, column) = report.sources.position(place).unzip();
    PlaceEntry {
        file: report.sources.name(place.input).unwrap_or(&report.file),
        line,
        column,
        offset: place.offset,
        length: place.length,
        field: place.field.as_deref(),
    }
}

/// Numbers as JSON can hold them: infinity as `"inf"`, 'not recorded' as null.
pub(crate) fn number<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    if value.is_nan() {
        serializer.serialize_none()
    } else if value.is_infinite() {
        serializer.serialize_str(if *value > 0.0 { "inf" } else { "-inf" })
    } else {
        serializer.serialize_f64(*value)
    }
}
