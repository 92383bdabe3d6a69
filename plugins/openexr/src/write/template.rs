//! What is remembered of a template until its frame comes, and no more.

use std::rc::Rc;

use ringmark_sdk::pairing::FileKey;
use ringmark_sdk::quantity::FrameRate;

use super::facts::TakeFacts;
use super::plan::Row;
use crate::name;
use crate::source::HeaderSource;
use crate::take::decode::frame_rate;
use crate::timecode::Stamp;

/// Parts that are read as one take: those of a view. As in reading, parts of one view that name
/// different lenses are different takes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    view: Vec<u8>,
    serial: Vec<u8>,
    /// The parts.
    pub parts: Vec<usize>,
}

/// A template while its frame is awaited.
pub struct Template {
    /// Name of the file.
    pub name: Rc<str>,
    stamp: Option<Stamp>,
    rate: Option<FrameRate>,
    /// The groups; one list for all templates that have the same.
    pub groups: Rc<Vec<Group>>,
    /// Frames that came already, of files with several groups: take and what it says, a group.
    pub waiting: Vec<Option<(u32, Row)>>,
    /// Whether the copy is written.
    pub is_written: bool,
}

impl Group {
    /// The view; empty without.
    pub fn view(&self) -> String {
        String::from_utf8_lossy(&self.view).into_owned()
    }
}

impl Template {
    /// What the header says that was read last. `before` is the template before.
    pub fn new(name: String, source: &HeaderSource, before: Option<&Template>) -> Self {
        let groups = groups(source);
        let groups = match before {
            Some(before) if *before.groups == groups => Rc::clone(&before.groups),
            _ => Rc::new(groups),
        };
        let value = |key: &[u8]| {
            let parts = source.header.parts.iter();
            let mut values = parts.map(|part| source.value_of(part, key));
            values.find(|value| !value.is_empty())
        };
        Template {
            name: name.into(),
            stamp: value(b"timeCode\0timecode\0").map(Stamp::decode),
            rate: value(b"framesPerSecond\0rational\0").and_then(frame_rate),
            groups,
            waiting: Vec::new(),
            is_written: false,
        }
    }

    /// What frames are paired by. `rate` is that of the take, for files that say none.
    pub fn key(&self, rate: Option<FrameRate>) -> FileKey {
        FileKey {
            number: name::frame_number(&self.name),
            name: self.name.to_string(),
            label: self.stamp.and_then(|stamp| stamp.at(self.rate.or(rate)).0),
        }
    }

    /// The groups that belong to a take.
    pub fn groups_of(&self, take: &TakeFacts) -> Vec<usize> {
        let has_views = self.groups.iter().any(|group| !group.view.is_empty());
        let view = take.view.as_deref().filter(|_| has_views);
        let fits = |group: &Group| view.is_none_or(|view| group.view == view.as_bytes());
        let found: Vec<usize> = (0..self.groups.len())
            .filter(|&at| fits(&self.groups[at]))
            .collect();
        let serial = take.serial.as_deref().unwrap_or_default().as_bytes();
        let own = |&at: &usize| !serial.is_empty() && self.groups[at].serial == serial;
        // Parts of one view with several lenses: the lens says which.
        let same_view = found
            .iter()
            .all(|&at| self.groups[at].view == self.groups[found[0]].view);
        match found.iter().copied().find(own) {
            Some(at) if same_view => vec![at],
            _ => found,
        }
    }
}

fn groups(source: &HeaderSource) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for (number, part) in source.header.parts.iter().enumerate() {
        let view = part
            .view
            .map(|entry| entry.value(&source.bytes))
            .unwrap_or_default();
        let serial = source.value_of(part, b"lensSerialNumber\0string\0");
        let fits = |group: &&mut Group| {
            let same_lens = group.serial.is_empty() || serial.is_empty() || group.serial == serial;
            group.view == view && same_lens
        };
        match groups.iter_mut().find(fits) {
            Some(group) => {
                if group.serial.is_empty() {
                    group.serial = serial.to_vec();
                }
                group.parts.push(number);
            }
            None => groups.push(Group {
                view: view.to_vec(),
                serial: serial.to_vec(),
                parts: vec![number],
            }),
        }
    }
    groups
}
