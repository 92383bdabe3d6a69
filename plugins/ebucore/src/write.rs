//! Writes a take as one document, segment by segment.

use std::collections::{BTreeMap, HashSet};

use ringmark_sdk::batch::{label_text, labels};
use ringmark_sdk::{Failure, Frames, Input, Item, NO_LABEL, Output, Writer, failure};

use crate::emit::Emit;
use crate::escape;
use crate::fields::{self, CAPTURE_RATE, LENS};
use crate::head::{Head, Heads};
use crate::parameter::MAX_PARAMETERS;
use crate::plan::{Parameter, plan};
use crate::private::{IMPLIED, Kind, REFERENCE};
use crate::remarks::shown;
use crate::segment::{Channel, Filled, Segment};

const TIMECODE: &str = "timecode";

/// The writing half of the plugin.
pub struct TakeWriter {
    emit: Emit,
    heads: Heads,
    /// Whether the head of the take came.
    begun: bool,
    head: Option<Head>,
    segment: Segment,
    /// Frame of the day that the next frame should have.
    next: u64,
    /// Frames of the segments written.
    written: u64,
    /// Channels so far, and whether a value of each was written.
    known: BTreeMap<String, (Channel, bool)>,
}

/// Where a frame stands by its label.
enum Step {
    /// Where it should.
    Follows,
    /// Where it should, but it does not say so.
    Unlabelled,
    /// Further on.
    Jumps(u64),
}

impl Writer for TakeWriter {
    fn open(
        outputs: Vec<Box<dyn Output>>,
        _templates: Vec<Box<dyn Input>>,
        _options: &str,
    ) -> Result<Self, Failure> {
        let count = outputs.len();
        let mut outputs = outputs.into_iter();
        let (Some(output), None) = (outputs.next(), outputs.next()) else {
            return Err(failure(
                format!("an EBUCore document is one file, {count} were given"),
                "name one output",
                None,
            ));
        };
        Ok(TakeWriter {
            emit: Emit::new(output),
            heads: Heads::default(),
            begun: false,
            head: None,
            segment: Segment::default(),
            next: 0,
            written: 0,
            known: BTreeMap::new(),
        })
    }

    fn put(&mut self, item: Item) -> Result<(), Failure> {
        match item {
            Item::Lens(lens) => self.heads.lenses.push(lens.facts),
            Item::Take(take) => {
                if self.begun {
                    return Err(failure(
                        "there is more than one take, and a document is written with one",
                        "convert the takes one by one",
                        None,
                    ));
                }
                self.begun = true;
                self.heads.lens = take.lens;
                self.heads.take = take.facts;
            }
            Item::Frames(frames) => self.frames(&frames)?,
            Item::Remark(_) => {}
        }
        Ok(())
    }

    fn finish(&mut self) -> Result<(), Failure> {
        if self.segment.rows == 0 {
            return Err(failure(
                "there is no frame to write: acquisition data is of takes, frame by frame",
                "convert a take, or write the lens in another format",
                None,
            ));
        }
        for (channel, written) in self.known.values() {
            if !written {
                self.segment.add_empty(channel);
            }
        }
        self.flush(true)?;
        self.emit.end();
        Ok(())
    }
}

impl TakeWriter {
    fn frames(&mut self, frames: &Frames) -> Result<(), Failure> {
        check_lengths(frames)?;
        if frames.count == 0 {
            return Ok(());
        }
        if !self.begun {
            return Err(failure(
                "frames came before the head of their take",
                "report this to the authors of the program",
                None,
            ));
        }
        let timecode = labels(frames, TIMECODE).filter(|labels| labels.form == "text");
        if self.head.is_none() {
            let label = timecode.and_then(|labels| label_text(labels, 0));
            let head = self.heads.decide(frames, label)?;
            self.next = head.start.unwrap_or_default();
            self.emit.begin(&head);
            self.head = Some(head);
        }
        let numbers: Vec<Channel> = frames
            .columns
            .iter()
            .map(|column| Channel {
                name: column.channel.clone(),
                kind: Kind::Number(column.reference.clone()),
                unit: column.unit.clone(),
            })
            .collect();
        let texts = frames
            .labels
            .iter()
            .map(|labels| {
                let kind = Kind::of_labels(&labels.form).ok_or_else(|| unknown_form(labels))?;
                Ok(Channel {
                    name: labels.channel.clone(),
                    kind,
                    unit: String::new(),
                })
            })
            .collect::<Result<Vec<_>, Failure>>()?;
        let all = || numbers.iter().chain(&texts);
        for channel in all() {
            self.know(channel)?;
        }
        if !all().all(|channel| self.segment.fits(channel)) {
            self.flush(false)?;
        }
        let mut done = 0;
        while done < frames.count as usize {
            if self.segment.full() {
                self.flush(false)?;
            }
            let (begun, row) = (done, self.segment.rows);
            let mut jumps = false;
            while done < frames.count as usize && !self.segment.full() {
                match self.step(timecode.and_then(|labels| label_text(labels, done))) {
                    Step::Follows => self.segment.labelled += 1,
                    Step::Unlabelled => {}
                    Step::Jumps(_) if self.segment.rows > 0 => {
                        jumps = true;
                        break;
                    }
                    Step::Jumps(to) => {
                        self.next = to;
                        self.segment.labelled += 1;
                    }
                }
                if self.segment.rows == 0 {
                    self.segment.start = self.next;
                }
                self.next = self.moved(1);
                for (channel, labels) in texts.iter().zip(&frames.labels) {
                    self.segment
                        .add_text(channel, labels, done, self.segment.rows);
                }
                self.segment.rows += 1;
                done += 1;
            }
            for (channel, column) in numbers.iter().zip(&frames.columns) {
                self.segment.add_numbers(channel, column, begun..done, row);
            }
            if jumps {
                self.flush(false)?;
            }
        }
        Ok(())
    }

    fn moved(&self, by: i64) -> u64 {
        let head = self.head.as_ref();
        head.map_or(0, |head| head.clock.moved(self.next, by))
    }

    fn step(&self, label: Option<&str>) -> Step {
        let (Some(head), Some(label)) = (&self.head, label) else {
            return Step::Unlabelled;
        };
        match head.clock.frame_of(label) {
            Some(frame) if frame == self.next => Step::Follows,
            Some(frame) if head.clock.distance(self.next, frame) > 0 => Step::Jumps(frame),
            _ => Step::Unlabelled,
        }
    }

    fn know(&mut self, channel: &Channel) -> Result<(), Failure> {
        if let Some((known, _)) = self.known.get_mut(&channel.name) {
            let same = match (&known.kind, &channel.kind) {
                (Kind::Number(_), Kind::Number(_)) => true,
                (known, kind) => known == kind,
            };
            if !same {
                return Err(failure(
                    format!(
                        "{} changes its kind of values at frame {}",
                        shown(&channel.name),
                        self.written + self.segment.rows as u64
                    ),
                    "give it one kind of values in the whole take",
                    None,
                ));
            }
            known.clone_from(channel);
            return Ok(());
        }
        // Half of what is read: a channel may come in two units.
        if self.known.len() >= MAX_PARAMETERS / 2 {
            return Err(failure(
                format!("the take has more than {} channels", MAX_PARAMETERS / 2),
                "leave some out",
                None,
            ));
        }
        self.known
            .insert(channel.name.clone(), (channel.clone(), false));
        Ok(())
    }

    /// Writes the segment at hand. Channels without a value in it are left out; those that never had
    /// one are named in the last segment, so that they are not forgotten.
    fn flush(&mut self, last: bool) -> Result<(), Failure> {
        let Some(head) = &mut self.head else {
            return Ok(());
        };
        if self.segment.rows == 0 {
            return Ok(());
        }
        let mut implied = std::mem::take(&mut head.implied);
        let mut columns = Vec::new();
        let mut labels = false;
        for filled in self.segment.take() {
            let known = self.known.get_mut(&filled.channel.name);
            let recorded = filled.cells.recorded();
            let first_mention = match known {
                Some((_, written)) if recorded => {
                    *written = true;
                    false
                }
                Some((_, written)) => last && !*written,
                None => false,
            };
            if filled.channel.name == TIMECODE && recorded {
                labels = true;
                if self.segment.labelled == self.segment.rows {
                    continue;
                }
            }
            if recorded || first_mention {
                columns.push(filled);
            }
        }
        if !labels {
            implied.push(TIMECODE);
        }
        let mut own = std::mem::take(&mut head.facts);
        let mut constants = head.constants.clone();
        implied_constants(head, &columns, &mut constants, &mut implied);
        let (parameters, reference) = plan(columns);
        if let Some(reference) = reference {
            let item = escape::item(&reference);
            own.push(Parameter::ours(REFERENCE.to_owned(), None, item));
        }
        if !implied.is_empty() {
            own.push(Parameter::ours(IMPLIED.to_owned(), None, implied.join(" ")));
        }
        let rows = self.segment.rows;
        self.emit.segment(
            head.clock,
            self.segment.start,
            rows,
            self.written,
            own.into_iter().chain(constants).chain(parameters),
        )?;
        self.written += rows as u64;
        self.segment = Segment::default();
        Ok(())
    }
}

/// What other programs should see although no frame says it: the lens and the rate of capture.
fn implied_constants(
    head: &Head,
    columns: &[Filled],
    constants: &mut Vec<Parameter>,
    implied: &mut Vec<&'static str>,
) {
    let has = |name: &str| columns.iter().any(|filled| filled.channel.name == name);
    if let Some(name) = &head.lens_name
        && !has("lens")
        && let Some(field) = fields::field(LENS)
    {
        constants.push(Parameter::text(field, name.clone()));
        implied.push(LENS);
    }
    if let Some(rate) = head.capture_rate
        && !has("capture-rate")
        && let Some(field) = fields::field(CAPTURE_RATE)
    {
        constants.push(Parameter::number(field, rate));
        implied.push(CAPTURE_RATE);
    }
}

fn unknown_form(labels: &ringmark_sdk::Labels) -> Failure {
    failure(
        format!(
            "texts of {} have the unknown form '{}'",
            shown(&labels.channel),
            shown(&labels.form)
        ),
        "report this to the authors of the program",
        None,
    )
}

fn check_lengths(frames: &Frames) -> Result<(), Failure> {
    let count = frames.count as usize;
    let wrong = |message: String| {
        let help = "report this to the authors of the program";
        Err(failure(message, help, None))
    };
    let numbers = frames.columns.iter().map(|c| (&c.channel, c.values.len()));
    let texts = frames.labels.iter().map(|l| (&l.channel, l.index.len()));
    let mut names = HashSet::new();
    for (channel, length) in numbers.chain(texts) {
        if length != count {
            return wrong(format!(
                "{} has {length} values in a batch of {count} frames",
                shown(channel)
            ));
        }
        if !names.insert(channel) {
            return wrong(format!("the channel {} comes twice", shown(channel)));
        }
    }
    for labels in &frames.labels {
        let texts = labels.ends.len();
        let mut index = labels.index.iter();
        if index.any(|&i| i != NO_LABEL && i as usize >= texts) {
            return wrong(format!(
                "{} refers to a text that is not there",
                shown(&labels.channel)
            ));
        }
    }
    Ok(())
}
