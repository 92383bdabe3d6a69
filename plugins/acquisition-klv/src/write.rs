//! Writes a KLV stream: a frame is a lens unit set, a camera unit set if there is anything in it,
//! whole sets that came from reading, and the private part if there is one.
//!
//! Items stand by tag, lengths of sets take four bytes (83 xx xx xx). The lens unit set is always
//! there, even empty: it is the set that starts frames.

mod aside;
mod plan;
mod take_facts;
mod units;

use std::collections::HashSet;

use ringmark_sdk::batch::label_text;
use ringmark_sdk::{Fact, Failure, Frames, Input, Item, NO_LABEL, Output, Writer, failure};

use crate::fields::{FIELDS, FROM_FRONT_VERTEX, FROM_IMAGE_PLANE};
use crate::keys::{CAMERA, LENS, USER_DEFINED};
use crate::klv::{self, from_hex};
use crate::local_set::{Coding, Items};
use crate::private::{self, Record};

use aside::{Aside, Part};
use plan::Plan;
use take_facts::TakeFacts;
use units::HIDDEN;

/// Bytes that are gathered before they go out.
const BUFFER: usize = 256 * 1024;

/// The writing half of the plugin.
pub struct SetWriter {
    output: Box<dyn Output>,
    buffer: Vec<u8>,
    lenses: Vec<Vec<Fact>>,
    take: Option<TakeFacts>,
    aside: Aside,
    plan: Option<Plan>,
    /// What `focus-distance` is, once a frame says.
    focus: Option<Focus>,
    /// Frames written.
    frames: u64,
    frame: Frame,
}

/// What `focus-distance` is.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Focus {
    by_vertex: bool,
    reference: String,
}

/// The frame that is being written.
#[derive(Default)]
struct Frame {
    lens: Vec<u8>,
    camera: Vec<u8>,
    sets: Vec<u8>,
    /// Columns whose value goes to the private part: numbers, texts.
    numbers: Vec<usize>,
    texts: Vec<usize>,
    /// The value of one item.
    value: Vec<u8>,
    /// Which of [`HIDDEN`] items seem to state from here on.
    hides: [bool; 3],
    /// Whether items state the sensor's size of the facts.
    states_sensor: [bool; 2],
    records: Vec<u8>,
}

impl Frame {
    fn clear(&mut self) {
        self.lens.clear();
        self.camera.clear();
        self.sets.clear();
        self.numbers.clear();
        self.texts.clear();
        self.hides = [false; 3];
        self.states_sensor = [false; 2];
        self.records.clear();
    }
}

impl Writer for SetWriter {
    fn open(
        outputs: Vec<Box<dyn Output>>,
        _templates: Vec<Box<dyn Input>>,
        _options: &str,
    ) -> Result<Self, Failure> {
        let count = outputs.len();
        let mut outputs = outputs.into_iter();
        let (Some(output), None) = (outputs.next(), outputs.next()) else {
            return Err(failure(
                format!("a take of acquisition sets is one file, {count} were given"),
                "name one output",
                None,
            ));
        };
        Ok(SetWriter {
            output,
            buffer: Vec::with_capacity(BUFFER + BUFFER / 4),
            lenses: Vec::new(),
            take: None,
            aside: Aside::default(),
            plan: None,
            focus: None,
            frames: 0,
            frame: Frame::default(),
        })
    }

    fn put(&mut self, item: Item) -> Result<(), Failure> {
        match item {
            Item::Lens(lens) => self.lenses.push(lens.facts),
            Item::Take(take) => {
                if self.take.is_some() {
                    return Err(failure(
                        "there is more than one take, and a KLV stream holds one",
                        "convert the takes one by one",
                        None,
                    ));
                }
                self.take = Some(TakeFacts::new(take.facts, take.lens));
            }
            Item::Frames(frames) => self.put_frames(&frames)?,
            Item::Remark(_) => {}
        }
        Ok(())
    }

    fn finish(&mut self) -> Result<(), Failure> {
        if self.frames == 0 {
            return Err(failure(
                "there is no frame to write: acquisition sets hold takes, frame by frame",
                "convert a take, or write the lens in another format",
                None,
            ));
        }
        self.output.write(&self.buffer);
        self.buffer.clear();
        Ok(())
    }
}

impl SetWriter {
    fn put_frames(&mut self, frames: &Frames) -> Result<(), Failure> {
        check(frames)?;
        if self.take.is_none() {
            return Err(failure(
                "frames came before the head of their take",
                "report this to the authors of the program",
                None,
            ));
        }
        let mut plan = match self.plan.take() {
            Some(plan) if plan.fits(frames) => plan,
            _ => Plan::new(frames)?,
        };
        for row in 0..frames.count as usize {
            self.put_frame(&mut plan, frames, row)?;
            self.frames += 1;
            if self.buffer.len() >= BUFFER {
                self.output.write(&self.buffer);
                self.buffer.clear();
            }
        }
        self.plan = Some(plan);
        Ok(())
    }

    fn put_frame(&mut self, plan: &mut Plan, frames: &Frames, row: usize) -> Result<(), Failure> {
        self.frame.clear();
        let focus_starts = self.learn_focus(plan, frames, row)?;
        self.fill_units(plan, frames, row);
        self.fill_sets(plan, frames, row);
        self.fill_private(plan, frames, row, focus_starts)?;
        let Frame {
            lens,
            camera,
            sets,
            records,
            ..
        } = &self.frame;
        let mut whole = klv::push(&mut self.buffer, &LENS, lens);
        if !camera.is_empty() {
            whole &= klv::push(&mut self.buffer, &CAMERA, camera);
        }
        self.buffer.extend_from_slice(sets);
        if !records.is_empty() {
            whole &= private::push_set(&mut self.buffer, records);
        }
        if whole {
            return Ok(());
        }
        Err(failure(
            format!(
                "frame {} of the take has more data than a set can hold",
                self.frames
            ),
            "leave out its longest texts: a set holds 16 MiB",
            None,
        ))
    }

    /// Decides what `focus-distance` is in the first frame that says. `true` if this is the one.
    fn learn_focus(&mut self, plan: &Plan, frames: &Frames, row: usize) -> Result<bool, Failure> {
        let given = plan.focus.map(|column| &frames.columns[column]);
        let here = |column: Option<usize>| {
            column.is_some_and(|column| !frames.columns[column].values[row].is_nan())
        };
        let Some(focus) = &self.focus else {
            let reference = given.filter(|column| {
                let recorded = |v: &f64| !v.is_nan();
                here(plan.focus)
                    || column.reference != "front-vertex" && column.values.iter().any(recorded)
            });
            let known = here(plan.focus) || here(plan.front_vertex);
            if known {
                let reference = reference.map_or("image-plane", |column| &column.reference);
                self.focus = Some(Focus {
                    by_vertex: reference == "front-vertex",
                    reference: reference.to_owned(),
                });
            }
            return Ok(known);
        };
        match given {
            Some(column)
                if here(plan.focus)
                    && column.reference != focus.reference
                    && column.reference != "front-vertex" =>
            {
                Err(failure(
                    format!(
                        "focus-distance is measured from '{}' from frame {} of the take on, before from '{}'",
                        column.reference, self.frames, focus.reference
                    ),
                    "write two takes",
                    None,
                ))
            }
            _ => Ok(false),
        }
    }

    /// Whole sets as they came.
    fn fill_sets(&mut self, plan: &Plan, frames: &Frames, row: usize) {
        let mut before = None;
        let mut count = 0;
        for (key, number, labels) in &plan.sets {
            let Some(text) = label_text(&frames.labels[*labels], row) else {
                continue;
            };
            if before != Some(key) {
                before = Some(key);
                count = 0;
            }
            let own = |value: &[u8]| *key == USER_DEFINED && private::is_private(value);
            let written = from_hex(text).is_some_and(|value| {
                *number == count + 1 && !own(&value) && klv::push(&mut self.frame.sets, key, &value)
            });
            if written {
                count += 1;
            } else {
                self.frame.texts.push(*labels);
            }
        }
    }

    /// What the sets cannot say.
    fn fill_private(
        &mut self,
        plan: &mut Plan,
        frames: &Frames,
        row: usize,
        focus_starts: bool,
    ) -> Result<(), Failure> {
        let first = self.frames == 0;
        let (Some(take), frame) = (&self.take, &mut self.frame) else {
            return Ok(());
        };
        frame.numbers.extend(&plan.aside_numbers);
        frame.texts.extend(&plan.aside_texts);
        let mut part = Part::new(&mut frame.records);
        if first {
            part.heads(&self.lenses, take, frame.states_sensor);
        }
        for (hides, name) in frame.hides.iter().zip(HIDDEN) {
            if *hides {
                part.push(&Record::Hidden(name));
            }
        }
        if focus_starts && let Some(focus) = &self.focus {
            let stated = match &*focus.reference {
                "image-plane" => has_item(&frame.lens, FIELDS[FROM_IMAGE_PLANE].tag),
                "front-vertex" => has_item(&frame.lens, FIELDS[FROM_FRONT_VERTEX].tag),
                _ => false,
            };
            if !stated {
                part.push(&Record::Focus(&focus.reference));
            }
        }
        self.aside
            .values(plan, frames, row, &frame.numbers, &frame.texts, &mut part)?;
        if part.whole {
            return Ok(());
        }
        Err(failure(
            format!(
                "frame {} of the take has a name or text that is too long to be kept",
                self.frames
            ),
            "leave it out: names have at most 65,535 bytes",
            None,
        ))
    }
}

/// Whether the body of a set of two-byte tags and lengths has an item.
fn has_item(body: &[u8], tag: u16) -> bool {
    let coding = Coding::of(&LENS);
    coding.is_some_and(|coding| {
        Items::new(coding, body)
            .map_while(Result::ok)
            .any(|item| item.tag == tag)
    })
}

/// Refuses a batch that is not one.
fn check(frames: &Frames) -> Result<(), Failure> {
    let wrong = |message: String| {
        Err(failure(
            message,
            "report this to the authors of the program",
            None,
        ))
    };
    let count = frames.count as usize;
    let numbers = frames.columns.iter().map(|c| (&c.channel, c.values.len()));
    let texts = frames.labels.iter().map(|l| (&l.channel, l.index.len()));
    let mut names = HashSet::new();
    for (channel, length) in numbers.chain(texts) {
        if length != count {
            return wrong(format!(
                "{channel} has {length} values in a batch of {count} frames"
            ));
        }
        if !names.insert(channel) {
            return wrong(format!("the channel {channel} comes twice"));
        }
    }
    for labels in &frames.labels {
        if private::Form::of_texts(&labels.form).is_none() {
            return wrong(format!(
                "texts of {} have the unknown form '{}'",
                labels.channel, labels.form
            ));
        }
        for row in 0..count {
            if labels.index[row] != NO_LABEL && label_text(labels, row).is_none() {
                return wrong(format!(
                    "{} refers to a text that is not there",
                    labels.channel
                ));
            }
        }
    }
    Ok(())
}
