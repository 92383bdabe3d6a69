//! One finding as a SARIF result.

use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};
use std::fmt::Write;

use ringmark_model::{Finding, Place, Subject};
use sha2::{Digest, Sha256};

use super::fix::fix;
use super::form::{
    Artifact, Location, LogicalLocation, Message, Outcome, PhysicalLocation, Properties, Region,
    Suppression,
};
use crate::document::{FramesEntry, RepairEntry, ValueEntry};
use crate::report::FileReport;
use crate::safe::safe;
use crate::text::frame_words;
use crate::uri;

/// Makes results, and tells alike ones of a file apart.
#[derive(Debug)]
pub(super) struct Results {
    index_of: HashMap<&'static str, usize>,
    base: Option<String>,
    alike: HashMap<[u8; 16], u64>,
}

impl Results {
    pub fn new(rules: Vec<&'static str>, base: Option<String>) -> Self {
        Results {
            index_of: rules.into_iter().zip(0..).collect(),
            base,
            alike: HashMap::new(),
        }
    }

    /// From here on findings are of another file.
    pub fn next_file(&mut self) {
        self.alike.clear();
    }

    pub fn uri(&self, name: &str) -> String {
        uri::of_file(name, self.base.as_deref())
    }

    pub fn of<'a>(
        &mut self,
        file: &'a FileReport,
        finding: &'a Finding,
        accepted: Option<&'a str>,
    ) -> Outcome<'a> {
        let mut text = safe(&finding.message);
        if let Some(help) = &finding.help {
            text = Cow::Owned(format!("{text}\n{}", safe(help)));
        }
        let physical = match &finding.place {
            Some(place) => self.physical(file, place),
            None => PhysicalLocation {
                artifact_location: Artifact {
                    uri: self.uri(&file.file),
                },
                region: None,
            },
        };
        let fingerprint = self.fingerprint(file, finding);
        Outcome {
            rule_id: &finding.check,
            rule_index: self.index_of.get(finding.check.as_ref()).copied(),
            level: finding.severity.name(),
            message: Message::plain(text),
            locations: [Location {
                id: None,
                physical_location: Some(physical),
                logical_locations: logical(file, finding),
                message: None,
            }],
            related_locations: (1..)
                .zip(&finding.also)
                .map(|(id, (place, text))| Location {
                    id: Some(id),
                    physical_location: Some(self.physical(file, place)),
                    logical_locations: Vec::new(),
                    message: Some(Message::plain(safe(text))),
                })
                .collect(),
            partial_fingerprints: BTreeMap::from([("ringmarkFinding/v1", fingerprint)]),
            fixes: fix(file, finding, |name| self.uri(name))
                .into_iter()
                .collect(),
            suppressions: accepted
                .map(|reason| Suppression {
                    kind: "external",
                    status: "accepted",
                    justification: safe(reason),
                })
                .into_iter()
                .collect(),
            properties: Properties {
                frames: finding.frames.as_ref().map(FramesEntry::of),
                values: finding.values.iter().map(ValueEntry::of).collect(),
                repair: finding.repair.as_ref().map(RepairEntry::of),
            },
        }
    }

    pub fn physical(&self, file: &FileReport, place: &Place) -> PhysicalLocation {
        let name = file.sources.name(place.input).unwrap_or(&file.file);
        PhysicalLocation {
            artifact_location: Artifact {
                uri: self.uri(name),
            },
            region: Some(region(file, place)),
        }
    }

    /// The same for the same finding in another run, wherever its line has moved to; never the same for two of one run.
    fn fingerprint(&mut self, file: &FileReport, finding: &Finding) -> String {
        let (kind, index, label) = file.subject(&finding.subject);
        let mut hash = Sha256::new();
        let mut part = |text: &str| {
            hash.update((text.len() as u64).to_le_bytes());
            hash.update(text.as_bytes());
        };
        part(&finding.check);
        part(&self.uri(&file.file));
        part(kind);
        part(&index.unwrap_or(0).to_string());
        part(label);
        match &finding.frames {
            // What is recorded of a frame stays when lines are added before it.
            Some(frames) => match (&frames.first_label, frames.first_number) {
                (Some(label), _) => part(label),
                (None, Some(number)) => part(&number.to_string()),
                (None, None) => part(&format!("frame {} from 0", frames.first)),
            },
            // A mark is known by what is said about it.
            None => part(&finding.message),
        }
        if let Some(field) = finding.place.as_ref().and_then(|p| p.field.as_ref()) {
            part(field);
        }
        let digest = hash.finalize();
        let mut key = [0; 16];
        key.iter_mut().zip(digest.iter()).for_each(|(k, d)| *k = *d);
        let count = self.alike.entry(key).or_default();
        *count += 1;
        let mut text = String::with_capacity(40);
        for byte in key {
            // Writing to a String does not fail.
            let _ = write!(text, "{byte:02x}");
        }
        let _ = write!(text, ":{count}");
        text
    }
}

/// Lines and columns of a place, or its bytes where there are no lines.
pub(super) fn region(file: &FileReport, place: &Place) -> Region {
    let Some((start_line, start_column)) = file.sources.position(place) else {
        return Region::Bytes {
            byte_offset: place.offset,
            byte_length: place.length,
        };
    };
    let end = (place.length > 0)
        .then(|| {
            let end = Place {
                offset: place.offset.saturating_add(place.length),
                ..place.clone()
            };
            file.sources.position(&end)
        })
        .flatten();
    Region::Text {
        start_line,
        start_column,
        end_line: end.map(|(line, _)| line),
        end_column: end.map(|(_, column)| column),
    }
}

/// What a finding is about, beyond its place: lens or take, frames, field.
fn logical<'a>(file: &'a FileReport, finding: &'a Finding) -> Vec<LogicalLocation<'a>> {
    let (kind, _, label) = file.subject(&finding.subject);
    let mut found = Vec::new();
    let mut path = String::new();
    let mut add = |name: Cow<'a, str>, kind| {
        if !path.is_empty() {
            path.push('/');
        }
        path.push_str(&name);
        found.push(LogicalLocation {
            name,
            fully_qualified_name: path.clone(),
            kind,
        });
    };
    if finding.subject != Subject::File && !label.is_empty() {
        add(safe(label), kind);
    }
    if let Some(frames) = &finding.frames {
        add(Cow::Owned(frame_words(frames).join(", ")), "frames");
    }
    if let Some(field) = finding.place.as_ref().and_then(|p| p.field.as_ref()) {
        add(safe(field), "member");
    }
    found
}
