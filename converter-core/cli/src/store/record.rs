//! What is kept of a checked document, as bytes: all that reports show, and nothing that an acceptance or a date decides.

use std::borrow::Cow;

use ringmark_checks::TakeSummary;
use ringmark_model::{
    Axis, Change, Edit, Finding, FoundValue, FrameRange, Lens, Place, Repair, Severity, Subject,
};
use ringmark_outputs::{FileReport, Pictures};
use ringmark_quantity::{DistanceReference, FrameRate, Unit};
use serde::{Deserialize, Serialize};

use crate::batch::{Checked, Compared, Subjects};

/// What is known of a document before it is checked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum Known {
    /// No format reads it.
    PassedOver,
    /// A document; the lenses at its start, if anybody looked.
    Document(Option<AheadIds>),
}

/// By what the lenses at the start of a document connect it with others.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct AheadIds {
    /// Lenses with marks that give curves.
    pub calibrations: Vec<LensId>,
    /// The one lens of a document that has no marks of its own.
    pub bare: Option<LensId>,
}

/// By what a lens is known.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct LensId {
    /// Maker.
    pub maker: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
}

impl LensId {
    /// Of a lens.
    pub fn of(lens: &Lens) -> LensId {
        LensId {
            maker: lens.maker.clone(),
            model: lens.model.clone(),
            serial: lens.serial.clone(),
        }
    }

    /// A lens of which nothing else is known.
    pub fn lens(self) -> Lens {
        Lens {
            maker: self.maker,
            model: self.model,
            serial: self.serial,
            ..Lens::default()
        }
    }

    /// Whether a take with this lens may be compared with the marks of the lens `other`: model and serial number agree.
    pub fn is_of(&self, other: &LensId) -> bool {
        self.serial.is_some() && self.serial == other.serial && self.model == other.model
    }

    /// Whether the two are of one model and have other serial numbers.
    pub fn is_sibling_of(&self, other: &LensId) -> bool {
        let numbers = self.serial.as_ref().zip(other.serial.as_ref());
        self.model.is_some() && self.model == other.model && numbers.is_some_and(|(a, b)| a != b)
    }
}

/// A checked document.
#[derive(Serialize, Deserialize)]
pub struct Record {
    findings: Vec<FindingRecord>,
    left_out: u64,
    lenses: Vec<String>,
    takes: Vec<String>,
    lens_ids: Vec<LensId>,
    lens_of_take: Vec<Option<u64>>,
    rings: bool,
    compared: Vec<Compared>,
    ran: Vec<String>,
    pictures: Option<Pictures>,
    summaries: Vec<TakeRecord>,
}

/// What is kept of a take to compare it with those of other documents.
#[derive(Serialize, Deserialize)]
struct TakeRecord {
    names: (Option<String>, Option<String>, Option<String>),
    rate: Option<String>,
    counts: Option<(i64, i64)>,
    labels: Option<(String, String)>,
    place: Option<PlaceRecord>,
}

#[derive(Serialize, Deserialize)]
struct FindingRecord {
    check: String,
    severity: u8,
    message: String,
    subject: (u8, u64),
    frames: Option<FramesRecord>,
    values: Vec<(String, f64, String)>,
    place: Option<PlaceRecord>,
    also: Vec<(PlaceRecord, String)>,
    help: Option<String>,
    repair: Option<RepairRecord>,
}

#[derive(Serialize, Deserialize)]
struct FramesRecord {
    first: u64,
    last: u64,
    count: u64,
    numbers: (Option<i64>, Option<i64>),
    labels: (Option<String>, Option<String>),
}

#[derive(Serialize, Deserialize)]
struct PlaceRecord {
    input: u32,
    offset: u64,
    length: u64,
    field: Option<String>,
}

#[derive(Serialize, Deserialize)]
struct RepairRecord {
    action: String,
    evidence: String,
    edits: Vec<(u64, String, ChangeRecord)>,
}

#[derive(Serialize, Deserialize)]
enum ChangeRecord {
    Value(u64, f64, Option<String>),
    Position(u64, f64),
    Remove(u64),
    Unit(String),
    Reference(String),
}

impl Record {
    /// Of a document that was read to its end; another one is not kept, since the next run may fare better.
    pub fn of(checked: &Checked) -> Option<Record> {
        // All fields are named, so that a new one is kept, or left out with a reason.
        let FileReport {
            failure: None,
            findings,
            left_out,
            lenses,
            takes,
            ran,
            pictures,
            // Where the files are, what is accepted and how long it took are those of each run.
            file: _,
            sources: _,
            accepted: _,
            seconds: _,
        } = &checked.file
        else {
            return None;
        };
        Some(Record {
            findings: findings.iter().map(FindingRecord::of).collect(),
            left_out: *left_out,
            lenses: lenses.clone(),
            takes: takes.clone(),
            lens_ids: checked.subjects.lenses.iter().map(LensId::of).collect(),
            lens_of_take: checked
                .subjects
                .lens_of_take
                .iter()
                .map(|index| index.map(|index| index as u64))
                .collect(),
            rings: checked.rings,
            compared: checked.compared.clone(),
            ran: ran.iter().map(ToString::to_string).collect(),
            pictures: pictures.clone(),
            summaries: checked.summaries.iter().map(TakeRecord::of).collect(),
        })
    }

    /// Puts it into `checked`, which knows its files. `None` if something in it is unknown: then it is no record of ours.
    pub fn put(self, checked: &mut Checked) -> Option<()> {
        let findings = self.findings.into_iter().map(FindingRecord::finding);
        checked.file.findings = findings.collect::<Option<_>>()?;
        checked.file.left_out = self.left_out;
        checked.file.lenses = self.lenses;
        checked.file.takes = self.takes;
        let lens_of_take = self.lens_of_take.into_iter();
        checked.subjects = Subjects {
            lenses: self.lens_ids.into_iter().map(LensId::lens).collect(),
            lens_of_take: lens_of_take
                .map(|index| match index {
                    None => Some(None),
                    Some(index) => usize::try_from(index).ok().map(Some),
                })
                .collect::<Option<_>>()?,
        };
        checked.rings = self.rings;
        checked.summaries = self.summaries.into_iter().map(TakeRecord::take).collect();
        checked.compared = self.compared;
        checked.file.ran = self.ran.into_iter().map(Cow::from).collect();
        checked.file.pictures = self.pictures;
        Some(())
    }
}

impl TakeRecord {
    fn of(take: &TakeSummary) -> TakeRecord {
        TakeRecord {
            names: (take.clip.clone(), take.reel.clone(), take.camera.clone()),
            rate: take.rate.map(|rate| rate.to_string()),
            counts: take.counts,
            labels: take.labels.clone(),
            place: take.place.as_ref().map(PlaceRecord::of),
        }
    }

    fn take(self) -> TakeSummary {
        let (clip, reel, camera) = self.names;
        TakeSummary {
            clip,
            reel,
            camera,
            rate: self.rate.and_then(|rate| FrameRate::parse(&rate).ok()),
            counts: self.counts,
            labels: self.labels,
            place: self.place.map(PlaceRecord::place),
        }
    }
}

impl FindingRecord {
    fn of(finding: &Finding) -> FindingRecord {
        let value = |v: &FoundValue| (v.name.to_string(), v.value, v.unit.to_string());
        FindingRecord {
            check: finding.check.to_string(),
            severity: finding.severity as u8,
            message: finding.message.clone(),
            subject: match finding.subject {
                Subject::File => (0, 0),
                Subject::Lens(index) => (1, index as u64),
                Subject::Take(index) => (2, index as u64),
            },
            frames: finding.frames.as_ref().map(|frames| FramesRecord {
                first: frames.first,
                last: frames.last,
                count: frames.count,
                numbers: (frames.first_number, frames.last_number),
                labels: (frames.first_label.clone(), frames.last_label.clone()),
            }),
            values: finding.values.iter().map(value).collect(),
            place: finding.place.as_ref().map(PlaceRecord::of),
            also: finding
                .also
                .iter()
                .map(|(place, text)| (PlaceRecord::of(place), text.clone()))
                .collect(),
            help: finding.help.clone(),
            repair: finding.repair.as_ref().map(|repair| RepairRecord {
                action: repair.action.clone(),
                evidence: repair.evidence.clone(),
                edits: repair.edits.iter().map(edit_record).collect(),
            }),
        }
    }

    fn finding(self) -> Option<Finding> {
        let severities = [Severity::Note, Severity::Warning, Severity::Error];
        let severity = severities.into_iter().find(|s| *s as u8 == self.severity)?;
        let index = usize::try_from(self.subject.1).ok()?;
        let subject = match self.subject.0 {
            0 => Subject::File,
            1 => Subject::Lens(index),
            2 => Subject::Take(index),
            _ => return None,
        };
        let mut finding = Finding::new(self.check, severity, subject, self.message);
        finding.frames = self.frames.map(|frames| FrameRange {
            first: frames.first,
            last: frames.last,
            count: frames.count,
            first_number: frames.numbers.0,
            last_number: frames.numbers.1,
            first_label: frames.labels.0,
            last_label: frames.labels.1,
        });
        let value = |(name, value, unit): (String, f64, String)| FoundValue {
            name: name.into(),
            value,
            unit: unit.into(),
        };
        finding.values = self.values.into_iter().map(value).collect();
        finding.place = self.place.map(PlaceRecord::place);
        let also = self.also.into_iter();
        finding.also = also.map(|(place, text)| (place.place(), text)).collect();
        finding.help = self.help;
        finding.repair = match self.repair {
            None => None,
            Some(repair) => Some(Repair {
                action: repair.action,
                evidence: repair.evidence,
                edits: repair.edits.into_iter().map(edit).collect::<Option<_>>()?,
            }),
        };
        Some(finding)
    }
}

impl PlaceRecord {
    fn of(place: &Place) -> PlaceRecord {
        PlaceRecord {
            input: place.input,
            offset: place.offset,
            length: place.length,
            field: place.field.clone(),
        }
    }

    fn place(self) -> Place {
        Place {
            input: self.input,
            offset: self.offset,
            length: self.length,
            field: self.field,
        }
    }
}

fn edit_record(edit: &Edit) -> (u64, String, ChangeRecord) {
    let change = match &edit.change {
        Change::Value {
            mark,
            value,
            engraved,
        } => ChangeRecord::Value(*mark as u64, *value, engraved.clone()),
        Change::Position { mark, position } => ChangeRecord::Position(*mark as u64, *position),
        Change::Remove { mark } => ChangeRecord::Remove(*mark as u64),
        Change::Unit(unit) => ChangeRecord::Unit(unit.symbol().to_owned()),
        Change::Reference(reference) => ChangeRecord::Reference(reference.name().to_owned()),
    };
    (edit.lens as u64, edit.axis.name().to_owned(), change)
}

fn edit((lens, axis, change): (u64, String, ChangeRecord)) -> Option<Edit> {
    let index = |number: u64| usize::try_from(number).ok();
    Some(Edit {
        lens: index(lens)?,
        axis: Axis::from_name(&axis)?,
        change: match change {
            ChangeRecord::Value(mark, value, engraved) => Change::Value {
                mark: index(mark)?,
                value,
                engraved,
            },
            ChangeRecord::Position(mark, position) => Change::Position {
                mark: index(mark)?,
                position,
            },
            ChangeRecord::Remove(mark) => Change::Remove { mark: index(mark)? },
            ChangeRecord::Unit(unit) => Change::Unit(Unit::from_symbol(&unit)?),
            ChangeRecord::Reference(name) => {
                Change::Reference(DistanceReference::from_name(&name)?)
            }
        },
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn place(field: Option<&str>) -> Place {
        Place {
            input: 3,
            offset: u64::MAX,
            length: 7,
            field: field.map(str::to_owned),
        }
    }

    fn full() -> Finding {
        let edit = |change| Edit {
            lens: 2,
            axis: Axis::Zoom,
            change,
        };
        let mut finding = Finding::new("ring-jump", Severity::Warning, Subject::Lens(4), "ä “x”")
            .at(Some(place(Some("part 1"))))
            .help("look")
            .value("allowed", f64::INFINITY, "m")
            .value("weight of evidence", -0.1, "ln odds")
            .value("f", 2.8, "f");
        finding.also.push((place(None), "other".to_owned()));
        finding.frames = Some(FrameRange {
            first: 0,
            last: 9,
            count: 3,
            first_number: Some(-1),
            last_number: None,
            first_label: Some("10:00:00:00".to_owned()),
            last_label: None,
        });
        finding.repair = Some(Repair {
            action: "write".to_owned(),
            evidence: "since".to_owned(),
            edits: vec![
                edit(Change::Value {
                    mark: 1,
                    value: f64::INFINITY,
                    engraved: Some("∞".to_owned()),
                }),
                edit(Change::Position {
                    mark: 1,
                    position: 0.25,
                }),
                edit(Change::Remove { mark: 9 }),
            ],
        });
        finding
    }

    fn back(checked: &Checked) -> Option<Checked> {
        let bytes = postcard::to_allocvec(&Record::of(checked)?).unwrap();
        let mut back = Checked::default();
        postcard::from_bytes::<Record>(&bytes)
            .unwrap()
            .put(&mut back)?;
        Some(back)
    }

    #[test]
    fn everything_that_reports_show_comes_back() {
        let mut checked = Checked::default();
        let mut findings = vec![full()];
        for subject in [Subject::File, Subject::Take(1)] {
            findings.push(Finding::new("x", Severity::Note, subject, ""));
        }
        // Every unit and every reference that a repair may set.
        let units = Unit::ALL.map(Change::Unit);
        let references = DistanceReference::ALL.map(Change::Reference);
        let edits = units.into_iter().chain(references).map(|change| Edit {
            lens: 0,
            axis: Axis::Focus,
            change,
        });
        let mut other = full();
        other.severity = Severity::Error;
        if let Some(repair) = &mut other.repair {
            repair.edits = edits.collect();
        }
        findings.push(other);
        checked.file.findings = findings;
        checked.file.left_out = 12;
        checked.file.lenses = vec!["a".to_owned()];
        checked.file.takes = vec!["b".to_owned(), "c".to_owned()];
        let id = LensId {
            serial: Some("1".to_owned()),
            ..LensId::default()
        };
        checked.subjects.lenses = vec![id.lens()];
        checked.subjects.lens_of_take = vec![None, Some(0)];
        checked.rings = true;
        checked.file.ran = vec!["ring-jump".into()];
        checked.compared = vec![Compared {
            take: "A001".to_owned(),
            with: Some("b.klv".to_owned()),
        }];
        let back = back(&checked).unwrap();
        assert_eq!(back.file.findings, checked.file.findings);
        assert_eq!((back.file.left_out, back.rings), (12, true));
        assert_eq!(
            (&back.file.lenses, &back.file.takes),
            (&checked.file.lenses, &checked.file.takes)
        );
        assert_eq!(back.subjects, checked.subjects);
        assert_eq!(
            (back.file.ran, back.compared),
            (checked.file.ran, checked.compared)
        );
    }

    #[test]
    fn a_document_that_failed_is_not_kept() {
        let mut checked = Checked::default();
        assert!(back(&checked).is_some());
        checked.file.failure = Some(ringmark_outputs::Failure {
            message: "the cable came off".to_owned(),
            place: None,
            help: None,
        });
        assert!(back(&checked).is_none());
    }
}
