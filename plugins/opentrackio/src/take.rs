//! Turns the leaves of samples into frames, facts and extras.

mod composite;
mod leaf;
mod roles;

use ringmark_sdk::{Frames, Item, Place};

use self::roles::Role;
use crate::aside::{ColumnForm, Private};
use crate::columns::Columns;
use crate::fields::{self, FactForm};
use crate::remarks::{Remarks, Severity};
use crate::sample::{Sample, Value};
use crate::statics::Statics;
use crate::version::{self, Stated, Version};

/// No column yet.
const NONE: usize = usize::MAX;

/// The place of a `{num, denom}` that is read as a whole.
struct Ratio {
    path: &'static str,
    slot: usize,
    form: FactForm,
    parts: [Option<(u32, f64)>; 2],
}

/// Channels that tell one lens from another, in the order of the identity keys.
const IDENTITY: [(&str, &str); 3] = [
    ("static.lens.make", "lens-maker"),
    ("static.lens.model", "lens-model"),
    ("static.lens.serialNumber", "lens-serial"),
];

/// The take as read so far.
pub struct Take {
    version: Version,
    /// Leaves of `protocol` as seen last.
    protocol: Vec<(u32, f64, String)>,
    roles: Vec<Role>,
    /// Column of what stands at a place and is no channel or fact.
    extra_of: Vec<usize>,
    columns: Columns,
    statics: Statics,
    remarks: Remarks,
    ratios: Vec<Ratio>,
    counting: usize,
    timecode: [Option<(u32, u32)>; 5],
    timecode_column: usize,
    identity: [Option<String>; 3],
    /// Whether the lens changed, so that each frame says which one it is.
    lens_changes: bool,
    distortion_model: usize,
    first_radial_seen: bool,
    model_seen: bool,
    label: String,
    /// Frames of the batch so far.
    frame: usize,
    first: u64,
    offsets: Vec<u64>,
    offset: u64,
}

impl Take {
    /// An empty take in the names and units of `version`.
    pub fn new(version: Version) -> Self {
        let mut statics = Statics::default();
        let ratios = fields::FACTS
            .iter()
            .filter(|f| matches!(f.form, FactForm::Rate | FactForm::Quotient))
            .map(|field| Ratio {
                path: field.path,
                slot: statics.known(field),
                form: field.form,
                parts: [None; 2],
            })
            .collect();
        Take {
            version,
            protocol: Vec::new(),
            roles: Vec::new(),
            extra_of: Vec::new(),
            columns: Columns::default(),
            counting: statics.other("counting"),
            distortion_model: statics.other("distortion-model"),
            statics,
            remarks: Remarks::default(),
            ratios,
            timecode: [None; 5],
            timecode_column: NONE,
            identity: [None, None, None],
            lens_changes: false,
            first_radial_seen: false,
            model_seen: false,
            label: String::new(),
            frame: 0,
            first: 0,
            offsets: Vec::new(),
            offset: 0,
        }
    }

    /// Frames of the batch so far.
    pub fn frames(&self) -> usize {
        self.frame
    }

    /// Columns so far.
    pub fn columns(&self) -> usize {
        self.columns.len()
    }

    /// Bytes of text in the batch, at most.
    pub fn text_bytes(&self) -> usize {
        self.columns.text_bytes()
    }

    /// For remarks on the file as a whole.
    pub fn remarks(&mut self) -> &mut Remarks {
        &mut self.remarks
    }

    /// Adds a sample as the next frame. `Err` says why it cannot be, and what to do; nothing was added then.
    pub fn add(&mut self, sample: &mut Sample, offset: u64) -> Result<(), (String, &'static str)> {
        self.offset = offset;
        if let Some(private) = sample.private.take() {
            self.apply(*private);
        }
        self.resolve(sample);
        self.check_protocol(sample)?;
        for index in 0..sample.len() {
            let (node, value) = sample.leaf(index);
            self.leaf(sample, node, value);
        }
        self.end_timecode(sample);
        for ratio in 0..self.ratios.len() {
            self.end_ratio(sample, ratio);
        }
        self.end_distortion();
        self.remark_on_duplicates(sample);
        self.end_identity();
        self.columns.end_frame(self.frame);
        self.offsets.push(offset);
        self.frame += 1;
        Ok(())
    }

    /// Units depend on the version: it may not change.
    fn check_protocol(&mut self, sample: &Sample) -> Result<(), (String, &'static str)> {
        let mut changed = false;
        for index in 0..sample.len() {
            let (node, value) = sample.leaf(index);
            if self.roles[node as usize] == Role::Protocol {
                let (number, text) = match value {
                    Value::Number(number) => (number, ""),
                    Value::Text(text) | Value::Json(text) => (f64::NAN, text),
                };
                let known = self.protocol.iter_mut().find(|(place, ..)| *place == node);
                match known {
                    Some((_, n, t)) if n.to_bits() == number.to_bits() && t == text => {}
                    Some((_, n, t)) => {
                        changed = true;
                        *n = number;
                        text.clone_into(t);
                    }
                    None => {
                        changed = true;
                        self.protocol.push((node, number, text.to_owned()));
                    }
                }
            }
        }
        if !changed {
            return Ok(());
        }
        match version::stated(sample) {
            Stated::Known(other) if other != self.version => Err((
                "the version of OpenTrackIO changes within the file, and units with it".to_owned(),
                "convert the parts from files of their own",
            )),
            Stated::Unreadable(message, help) => Err((message, help)),
            _ => Ok(()),
        }
    }

    fn remark_on_duplicates(&mut self, sample: &Sample) {
        for &node in sample.duplicates() {
            let at = self.place();
            self.remarks.add(
                Severity::Error,
                "duplicate-key",
                node,
                || {
                    let path = sample.path(node);
                    format!("the key {path} stands twice in one object; the last value was read")
                },
                "keep one of both",
                at,
            );
        }
    }

    fn end_identity(&mut self) {
        if !self.lens_changes {
            return;
        }
        for ((_, channel), text) in IDENTITY.iter().zip(&self.identity) {
            if let Some(text) = text {
                let column = self.columns.named(channel, ColumnForm::Text);
                self.columns.set_text(column, self.frame, text);
            }
        }
    }

    /// The frames since the last batch, after the head of the take and remarks.
    pub fn batch(&mut self, items: &mut impl Extend<Item>) {
        if !self.statics.sealed() && self.frame > 0 {
            items.extend(self.statics.seal());
        }
        items.extend(self.remarks.take());
        if self.frame == 0 {
            return;
        }
        let (columns, labels) = self.columns.take(self.frame);
        items.extend([Item::Frames(Frames {
            take: 0,
            first: self.first,
            count: self.frame as u32,
            columns,
            labels,
            inputs: Vec::new(),
            offsets: std::mem::take(&mut self.offsets),
        })]);
        self.first += self.frame as u64;
        self.frame = 0;
    }

    fn place(&self) -> Option<Place> {
        Some(Place {
            input: 0,
            offset: self.offset,
            length: 0,
            field: String::new(),
        })
    }

    fn apply(&mut self, mut private: Private) {
        if self.first == 0 && self.frame == 0 {
            self.statics.keep(&mut private);
        } else if !private.facts.is_empty() || private.lenses.is_some() {
            let at = self.place();
            self.remarks.add(
                Severity::Warning,
                "second-take",
                0,
                || {
                    "facts of another take begin here; only those of the first take were read"
                        .to_owned()
                },
                "convert each take from a file of its own",
                at,
            );
        }
        self.statics.set_absent(&private.absent);
        for column in private.columns {
            self.columns.declare(column);
        }
    }
}
