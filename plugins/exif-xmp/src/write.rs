//! Writes sidecars: one a frame.

use ringmark_sdk::batch::label_text;
use ringmark_sdk::pairing::{FileKey, Pairing};
use ringmark_sdk::{
    Datum, Fact, Failure, Frames, Input, Item, NO_LABEL, Output, Take, Writer, failure,
};

use crate::packet;
use crate::sidecar;
use crate::values::{Number, Text, Values};
use crate::xml::MOST_BYTES;

const REPORT: &str = "report this to the authors of the program";

/// Writes the frames of one take.
pub struct SidecarWriter {
    outputs: Vec<Box<dyn Output>>,
    /// Which still each frame belongs to; `None` for a single sidecar.
    pairing: Option<Pairing>,
    lenses: Vec<Vec<Fact>>,
    head: Option<Values>,
    frames: u64,
}

impl Writer for SidecarWriter {
    fn open(
        outputs: Vec<Box<dyn Output>>,
        templates: Vec<Box<dyn Input>>,
        _options: &str,
    ) -> Result<Self, Failure> {
        let pairing = match (outputs.len(), templates.len()) {
            (1, 0) => None,
            (_, 0) => {
                return Err(failure(
                    format!(
                        "{} outputs and no stills that they belong to",
                        outputs.len()
                    ),
                    "name the stills with `--frames DIR`",
                    None,
                ));
            }
            (outputs, stills) if outputs != stills => {
                return Err(failure(
                    format!("{outputs} outputs for {stills} stills"),
                    REPORT,
                    None,
                ));
            }
            _ => {
                let names = templates.iter().map(|still| FileKey::named(still.name()));
                Some(Pairing::new(names))
            }
        };
        Ok(SidecarWriter {
            outputs,
            pairing,
            lenses: Vec::new(),
            head: None,
            frames: 0,
        })
    }

    fn put(&mut self, item: Item) -> Result<(), Failure> {
        match item {
            Item::Lens(lens) => self.lenses.push(recorded(lens.facts)),
            Item::Take(take) => self.take(take)?,
            Item::Frames(frames) => self.frames(&frames)?,
            Item::Remark(_) => {}
        }
        Ok(())
    }

    fn finish(&mut self) -> Result<(), Failure> {
        match &self.pairing {
            Some(pairing) => pairing.finish(),
            None if self.frames == 0 => Err(failure(
                "there is no frame to write: a sidecar holds one frame of a take",
                "convert a take, or write the lens in another format",
                None,
            )),
            None => Ok(()),
        }
    }
}

/// Facts without those that are NaN, which is 'not recorded'.
fn recorded(mut facts: Vec<Fact>) -> Vec<Fact> {
    facts.retain(|fact| !matches!(fact.value, Datum::Number(number) if number.is_nan()));
    facts
}

impl SidecarWriter {
    fn take(&mut self, take: Take) -> Result<(), Failure> {
        if self.head.is_some() {
            return Err(failure(
                "there is more than one take, and sidecars hold one",
                "convert the takes one by one",
                None,
            ));
        }
        if let Some(lens) = take.lens
            && lens as usize >= self.lenses.len()
        {
            let count = self.lenses.len();
            let message = format!("the take has lens {lens}, and {count} lenses came before it");
            return Err(failure(message, REPORT, None));
        }
        self.head = Some(Values {
            lenses: std::mem::take(&mut self.lenses),
            lens: take.lens,
            take: recorded(take.facts),
            ..Values::default()
        });
        Ok(())
    }

    fn frames(&mut self, frames: &Frames) -> Result<(), Failure> {
        check_lengths(frames)?;
        let Some(head) = &self.head else {
            return Err(failure(
                "frames came before the head of their take",
                REPORT,
                None,
            ));
        };
        let places = match &mut self.pairing {
            Some(pairing) => pairing.pair(frames)?,
            None if self.frames + u64::from(frames.count) > 1 => {
                return Err(failure(
                    "the take has more than one frame, and a sidecar holds one",
                    "name the stills that the sidecars belong to with `--frames DIR`",
                    None,
                ));
            }
            None => vec![Some(0); frames.count as usize],
        };
        self.frames += u64::from(frames.count);
        if self.pairing.as_ref().is_some_and(Pairing::is_broken) {
            // Nothing of it will be kept; all frames are looked at to name those without a still.
            return Ok(());
        }
        for (row, place) in places.into_iter().enumerate() {
            let Some(output) = place.and_then(|place| self.outputs.get_mut(place)) else {
                continue;
            };
            let text = packet::text(sidecar::properties(&still(head, frames, row)));
            if text.len() as u64 > MOST_BYTES {
                return Err(failure(
                    format!(
                        "frame {} of the take (counted from 1): its sidecar would have {} bytes, at most {MOST_BYTES} are read again",
                        frames.first + row as u64 + 1,
                        text.len()
                    ),
                    "leave large extras out",
                    None,
                ));
            }
            output.write(text.as_bytes());
        }
        Ok(())
    }
}

/// All that is said about one frame.
fn still(head: &Values, frames: &Frames, row: usize) -> Values {
    let mut values = head.clone();
    for column in &frames.columns {
        if let Some(&value) = column.values.get(row)
            && !value.is_nan()
        {
            values.numbers.push(Number {
                channel: column.channel.clone(),
                unit: column.unit.clone(),
                reference: column.reference.clone(),
                value,
            });
        }
    }
    for labels in &frames.labels {
        if let Some(text) = label_text(labels, row) {
            values.texts.push(Text {
                channel: labels.channel.clone(),
                form: labels.form.clone(),
                text: text.to_owned(),
            });
        }
    }
    values
}

/// Refuses batches that are not what they say.
fn check_lengths(frames: &Frames) -> Result<(), Failure> {
    let wrong = |message: String| Err(failure(message, REPORT, None));
    let count = frames.count as usize;
    let numbers = frames.columns.iter().map(|c| (&c.channel, c.values.len()));
    let texts = frames.labels.iter().map(|l| (&l.channel, l.index.len()));
    let mut names = std::collections::HashSet::new();
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
        if !["text", "json", "hex"].contains(&labels.form.as_str()) {
            let (channel, form) = (&labels.channel, &labels.form);
            return wrong(format!("texts of {channel} have the unknown form '{form}'"));
        }
        let texts = labels.ends.len();
        if labels
            .index
            .iter()
            .any(|&i| i != NO_LABEL && i as usize >= texts)
        {
            return wrong(format!(
                "{} refers to a text that is not there",
                labels.channel
            ));
        }
    }
    Ok(())
}
