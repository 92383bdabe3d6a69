//! Writes takes as Camera prims of one stage.

mod column;
mod files;
mod line;
mod places;
mod prim;
mod take;

use std::collections::HashSet;

use ringmark_sdk::quantity::FrameRate;
use ringmark_sdk::{Datum, Fact, Failure, Input, Item, Output, Take, Writer, failure};

use self::files::Files;
use self::take::TakeOut;
use crate::text::identifier;
use crate::units::{self, Scene};

/// The writing half of the plugin.
pub struct StageWriter {
    files: Files,
    meters_per_unit: f64,
    scene: Scene,
    lenses: Vec<Vec<Fact>>,
    takes: Vec<TakeOut>,
    names: HashSet<String>,
    rate: Option<f64>,
}

impl Writer for StageWriter {
    fn open(
        outputs: Vec<Box<dyn Output>>,
        _templates: Vec<Box<dyn Input>>,
        options: &str,
    ) -> Result<Self, Failure> {
        if outputs.is_empty() {
            return Err(failure("no output to write to", "name one", None));
        }
        let meters_per_unit = meters_per_unit(options)?;
        let scene = Scene::new(meters_per_unit).ok_or_else(|| {
            failure(
                format!("metersPerUnit {meters_per_unit} is no size"),
                "give the scene unit in metres: 0.01, 1 or 0.001",
                None,
            )
        })?;
        Ok(StageWriter {
            files: Files::new(outputs),
            meters_per_unit,
            scene,
            lenses: Vec::new(),
            takes: Vec::new(),
            names: HashSet::new(),
            rate: None,
        })
    }

    fn put(&mut self, item: Item) -> Result<(), Failure> {
        match item {
            Item::Lens(lens) => self.lenses.push(lens.facts),
            Item::Take(take) => self.take(take)?,
            Item::Frames(frames) => match self.takes.get_mut(frames.take as usize) {
                Some(take) => take.frames(&frames, &mut self.files)?,
                None => {
                    return Err(failure(
                        "frames came before the head of their take",
                        "report this to the authors of the program",
                        None,
                    ));
                }
            },
            Item::Remark(_) => {}
        }
        Ok(())
    }

    fn finish(&mut self) -> Result<(), Failure> {
        let Some(first) = self.takes.first() else {
            return Err(failure(
                "there is no take to write: a camera holds a take, frame by frame",
                "convert a take, or write the lens in another format",
                None,
            ));
        };
        let ranges = self.takes.iter().filter_map(|take| take.range);
        let range = ranges.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
        let mut top = Vec::new();
        prim::push_top(
            &mut top,
            &prim::Top {
                lenses: &self.lenses,
                default_prim: &first.name,
                range,
                rate: self.rate,
                meters_per_unit: self.meters_per_unit,
            },
        )?;
        self.files.write(0, &top);
        let mut tail = 0;
        for take in std::mem::take(&mut self.takes) {
            tail = take.end(range.unwrap_or_default(), tail, &mut self.files)?;
        }
        Ok(())
    }
}

impl StageWriter {
    fn take(&mut self, take: Take) -> Result<(), Failure> {
        self.settle_rate(&take)?;
        let clip = text(&take.facts, "clip").unwrap_or("Camera");
        let wished = identifier(clip);
        let mut name = wished.clone();
        let mut number = 2;
        while !self.names.insert(name.clone()) {
            name = format!("{wished}_{number}");
            number += 1;
        }
        let lens = take.lens.and_then(|lens| self.lenses.get(lens as usize));
        let squeeze = lens.and_then(|facts| prim::number(facts, "squeeze", ""));
        let squeeze = squeeze.filter(|s| *s > 0.0 && s.is_finite());
        self.takes
            .push(TakeOut::new(take, name, squeeze, self.scene));
        Ok(())
    }

    /// A stage has one rate.
    fn settle_rate(&mut self, take: &Take) -> Result<(), Failure> {
        let Some(text) = text(&take.facts, "frame-rate") else {
            return Ok(());
        };
        let rate = FrameRate::parse(text).map_err(|error| {
            failure(
                format!("the frame rate '{text}': {error}"),
                "write a rate such as 24 or 24000/1001",
                None,
            )
        })?;
        let rate = rate.as_f64();
        match self.rate.filter(|before| *before != rate) {
            Some(before) => Err(failure(
                format!(
                    "one take has {before} frames a second, another {rate}, and a stage has one rate"
                ),
                "convert the takes one by one",
                None,
            )),
            None => {
                self.rate = Some(rate);
                Ok(())
            }
        }
    }
}

fn text<'f>(facts: &'f [Fact], name: &str) -> Option<&'f str> {
    let fact = facts.iter().find(|f| f.name == name)?;
    match &fact.value {
        Datum::Text(text) => Some(text),
        Datum::Number(_) => None,
    }
}

/// The one option, which concerns writing only; a reader checks it too.
pub fn meters_per_unit(options: &str) -> Result<f64, Failure> {
    let wrong = |what: String| {
        failure(
            what,
            "give the options as JSON, such as {\"metersPerUnit\": 0.01}",
            None,
        )
    };
    if options.trim().is_empty() {
        return Ok(units::DEFAULT);
    }
    let options: serde_json::Value =
        serde_json::from_str(options).map_err(|error| wrong(format!("the options: {error}")))?;
    let Some(members) = options.as_object() else {
        return Err(wrong(format!("the options are {options}")));
    };
    if let Some(other) = members.keys().find(|key| *key != "metersPerUnit") {
        return Err(wrong(format!("there is no option '{other}'")));
    }
    match members.get("metersPerUnit") {
        None => Ok(units::DEFAULT),
        Some(value) => value
            .as_f64()
            .ok_or_else(|| wrong(format!("metersPerUnit {value} is no number"))),
    }
}
