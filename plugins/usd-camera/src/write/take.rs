//! One take while it is written: a Camera prim.

use std::collections::HashMap;

use ringmark_sdk::batch::label_text;
use ringmark_sdk::{Failure, Frames, NO_LABEL, Take, failure};

use super::column::{self, Written};
use super::files::{Files, Sink};
use super::line::{Line, Of};
use super::places::{Places, Slot};
use super::prim;
use crate::facts::RECORDED;
use crate::fields::SHUTTER_ANGLE;
use crate::units::Scene;

/// A take that was begun.
pub struct TakeOut {
    /// Its head.
    pub take: Take,
    /// Name of its prim.
    pub name: String,
    /// Squeeze of its lens.
    pub squeeze: Option<f64>,
    scene: Scene,
    /// When the shutter opens, in frames, if that is the same all the time.
    open: Option<f64>,
    columns: Vec<Written>,
    by_channel: HashMap<String, usize>,
    place: Places,
    recorded: Option<Line>,
    /// Whether frames have numbers of their own.
    numbered: bool,
    count: u64,
    /// First and last frame number.
    pub range: Option<(i64, i64)>,
}

impl TakeOut {
    /// A take with this head.
    pub fn new(take: Take, name: String, squeeze: Option<f64>, scene: Scene) -> Self {
        TakeOut {
            open: prim::shutter_open(&take.facts),
            take,
            name,
            squeeze,
            scene,
            columns: Vec::new(),
            by_channel: HashMap::new(),
            place: Places::default(),
            recorded: None,
            numbered: false,
            count: 0,
            range: None,
        }
    }

    /// The next frames.
    pub fn frames(&mut self, frames: &Frames, files: &mut Files) -> Result<(), Failure> {
        check(frames, self.count)?;
        if self.count == 0 && self.columns.is_empty() {
            self.numbered = frames.columns.iter().any(|c| c.channel == "frame");
            let labels = frames.labels.len();
            self.place.reserve(files, &frames.columns, labels);
        }
        let keys = self.keys(frames)?;
        let (Some(&first), Some(&last)) = (keys.first(), keys.last()) else {
            return Ok(());
        };
        self.record(&keys);
        let mut seen = vec![false; self.columns.len()];
        for column in &frames.columns {
            if column.channel == "frame" {
                continue;
            }
            let index = match self.by_channel.get(&column.channel) {
                Some(&index) => index,
                // A column begins with its first value.
                None if column.values.iter().all(|v| v.is_nan()) => continue,
                None => {
                    let (scene, open) = (self.scene, self.open);
                    let written = column::of_numbers(column, scene, open, &mut self.place)?;
                    self.add(written)
                }
            };
            once(&mut seen, index, &column.channel)?;
            let written = &mut self.columns[index];
            written.check(&column.channel, &column.unit, &column.reference)?;
            let (start, place) = (self.range.map(|r| r.0), &mut self.place);
            let scene = (self.scene, self.open);
            written.numbers(scene, &keys, &column.values, |exact| {
                let mut line = column::exact(exact, place);
                line.number(start.unwrap_or(first), f64::NAN);
                line
            });
        }
        for labels in &frames.labels {
            let index = match self.by_channel.get(&labels.channel) {
                Some(&index) => index,
                None if labels.index.iter().all(|i| *i == NO_LABEL) => continue,
                None => {
                    let written = column::of_texts(labels, &mut self.place);
                    self.add(written)
                }
            };
            once(&mut seen, index, &labels.channel)?;
            let written = &mut self.columns[index];
            written.check(&labels.channel, &labels.form, "")?;
            for line in written.lines() {
                for (row, key) in keys.iter().enumerate() {
                    line.text(*key, label_text(labels, row));
                }
            }
        }
        for (written, seen) in self.columns.iter_mut().zip(seen) {
            if !seen {
                written.nothing(first);
            }
            for line in written.lines() {
                line.pass(files)?;
            }
        }
        if let Some(recorded) = &mut self.recorded {
            recorded.pass(files)?;
        }
        self.count += u64::from(frames.count);
        self.range = Some((self.range.map_or(first, |r| r.0), last));
        Ok(())
    }

    fn add(&mut self, mut written: Written) -> usize {
        if let Some((first, _)) = self.range {
            written.nothing(first);
        }
        let index = self.columns.len();
        self.by_channel.insert(written.channel.clone(), index);
        self.columns.push(written);
        index
    }

    /// What stands before the attributes that change. It is known at the end: an attribute that
    /// changes is no fact.
    fn head(&mut self) -> Result<Sink, Failure> {
        let mut sink = self.place.sink(Slot::Head);
        let shutter = self.by_channel.contains_key(SHUTTER_ANGLE);
        let head = prim::Head {
            name: &self.name,
            facts: &self.take.facts,
            lens: self.take.lens,
            squeeze: self.squeeze,
            open: self.open.filter(|_| shutter),
            counted: !self.numbered,
            scene: self.scene,
        };
        let has = |channel: &str| self.by_channel.contains_key(channel);
        prim::push_head(&mut sink.text, &head, has)?;
        Ok(sink)
    }

    /// Frame numbers, which are the keys of samples.
    fn keys(&self, frames: &Frames) -> Result<Vec<i64>, Failure> {
        let numbers = frames.columns.iter().find(|c| c.channel == "frame");
        let mut last = self.range.map(|r| r.1);
        let place = |row: usize| format!("frame {} of the take", self.count + row as u64);
        let Some(numbers) = numbers else {
            if self.numbered {
                return Err(failure(
                    format!("{} has no frame number, and those before have", place(0)),
                    "number all frames or none",
                    None,
                ));
            }
            let first = self.count as i64;
            return Ok((first..first + i64::from(frames.count)).collect());
        };
        if !self.numbered {
            return Err(failure(
                format!("{} has a number, and those before have none", place(0)),
                "number all frames or none",
                None,
            ));
        }
        let mut keys = Vec::with_capacity(numbers.values.len());
        for (row, &number) in numbers.values.iter().enumerate() {
            // Keys are doubles: whole numbers up to 2^53 are exact.
            if number.fract() != 0.0 || number.is_nan() || number.abs() > 9_007_199_254_740_991.0 {
                return Err(failure(
                    format!("{} has the number {number}", place(row)),
                    "frame numbers are the time codes of samples: number all frames with whole numbers",
                    None,
                ));
            }
            let key = number as i64;
            if let Some(last) = last.filter(|last| key <= *last) {
                return Err(failure(
                    format!(
                        "{} has the number {key}, and the one before has {last}",
                        place(row)
                    ),
                    "frame numbers are the time codes of samples, so they have to rise: number the frames anew",
                    None,
                ));
            }
            last = Some(key);
            keys.push(key);
        }
        Ok(keys)
    }

    /// Notes frames that are left out.
    fn record(&mut self, keys: &[i64]) {
        let mut last = self.range.map(|r| r.1);
        let first = self
            .range
            .map(|r| r.0)
            .or(keys.first().copied())
            .unwrap_or(0);
        for &key in keys {
            if let Some(last) = last.filter(|last| key - last > 1) {
                let recorded = self
                    .recorded
                    .get_or_insert_with(|| recorded_line(self.place.sink(Slot::Recorded), first));
                recorded.number(last + 1, 0.0);
                recorded.number(key, 1.0);
            }
            last = Some(key);
        }
    }

    /// Ends the take. `stage` is the range of all takes, `tail` the output where text goes that
    /// has none. Gives the output behind which the next take may follow.
    pub fn end(
        mut self,
        stage: (i64, i64),
        tail: usize,
        files: &mut Files,
    ) -> Result<usize, Failure> {
        let mut rest = Vec::new();
        files.end(self.head()?, &mut rest);
        self.columns.sort_by_key(|written| written.order);
        for written in self.columns {
            for line in written.into_lines() {
                line.end(files, &mut rest);
            }
        }
        let mut recorded = self.recorded;
        match self.range {
            None => {
                let mut line = Line::custom(Of::Bool, RECORDED, Sink::default());
                line.number(0, 0.0);
                recorded = Some(line);
            }
            Some((first, last)) => {
                if recorded.is_none() && (first, last) != stage {
                    recorded = Some(recorded_line(Sink::default(), first));
                }
                if let Some(recorded) = &mut recorded {
                    recorded.number(last + 1, 0.0);
                }
            }
        }
        if let Some(recorded) = recorded {
            recorded.end(files, &mut rest);
        }
        rest.extend_from_slice(b"}\n");
        let tail = self.place.tail.unwrap_or(tail);
        files.write(tail, &rest);
        Ok(tail)
    }
}

/// The attribute that says which frames there are: none before the first.
fn recorded_line(sink: Sink, first: i64) -> Line {
    let mut line = Line::custom(Of::Bool, RECORDED, sink);
    line.number(first - 1, 0.0);
    line.number(first, 1.0);
    line
}

fn once(seen: &mut Vec<bool>, index: usize, channel: &str) -> Result<(), Failure> {
    if seen.len() <= index {
        seen.resize(index + 1, false);
    }
    if std::mem::replace(&mut seen[index], true) {
        return Err(failure(
            format!("the channel {channel} comes twice"),
            "leave one of both out",
            None,
        ));
    }
    Ok(())
}

/// Whether a batch is one.
fn check(frames: &Frames, before: u64) -> Result<(), Failure> {
    let broken = |message: String| {
        Err(failure(
            message,
            "report this to the authors of the program",
            None,
        ))
    };
    if frames.first != before {
        return broken(format!(
            "frame {} came where frame {before} was due",
            frames.first
        ));
    }
    let count = frames.count as usize;
    let numbers = frames.columns.iter().map(|c| (&c.channel, c.values.len()));
    let texts = frames.labels.iter().map(|l| (&l.channel, l.index.len()));
    for (channel, length) in numbers.chain(texts) {
        if length != count {
            return broken(format!(
                "{channel} has {length} values in a batch of {count} frames"
            ));
        }
    }
    for labels in &frames.labels {
        let known = |index: &u32| *index == NO_LABEL || (*index as usize) < labels.ends.len();
        if !labels.index.iter().all(known) {
            return broken(format!(
                "{} refers to a text that is not there",
                labels.channel
            ));
        }
    }
    Ok(())
}
