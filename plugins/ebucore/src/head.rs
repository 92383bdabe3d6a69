//! What is said once: frame rate, start, and the facts of take and lenses.

use ringmark_sdk::quantity::FrameRate;
use ringmark_sdk::{Datum, Fact, Failure, Frames, failure};

use crate::clock::Clock;
use crate::escape;
use crate::fields::{self, Form};
use crate::number;
use crate::plan::Parameter;
use crate::private::{LENS, LENSES, MAX_LENSES, Owner, Private};
use crate::tokens::MAX_ITEM;

/// Facts of take and lenses together.
const MAX_FACTS: usize = 50_000;

/// The take and its lenses as they came.
#[derive(Debug, Default)]
pub struct Heads {
    /// Facts of the take.
    pub take: Vec<Fact>,
    /// Facts of each lens.
    pub lenses: Vec<Vec<Fact>>,
    /// Which lens the take uses.
    pub lens: Option<u32>,
}

/// What follows from them for the whole document.
#[derive(Debug)]
pub struct Head {
    /// How frames are counted.
    pub clock: Clock,
    /// Frame of the day at which the take starts, if the source has time code.
    pub start: Option<u64>,
    /// Facts that the document seems to state and the source did not.
    pub implied: Vec<&'static str>,
    /// Parameters of the first segment.
    pub facts: Vec<Parameter>,
    /// Parameters of every segment.
    pub constants: Vec<Parameter>,
    /// What the lens is called, where frames do not say it.
    pub lens_name: Option<String>,
    /// Frames captured a second, where frames do not say it.
    pub capture_rate: Option<f64>,
}

impl Heads {
    fn text(&self, name: &str) -> Option<&str> {
        text(&self.take, name)
    }

    fn rate(&self, name: &str) -> Option<FrameRate> {
        FrameRate::parse(self.text(name)?).ok()
    }

    /// Decides for the whole document; `label` is the time code of the first frame.
    pub fn decide(&self, first: &Frames, label: Option<&str>) -> Result<Head, Failure> {
        self.check()?;
        let capture_rate = self.rate("capture-rate");
        let rate = self
            .rate("frame-rate")
            .or(capture_rate)
            .or_else(|| captured(first))
            .ok_or_else(|| {
                failure(
                    "the take has no frame rate, and EBUCore tells the time of every value by it",
                    "state the frame rate, for example in a mapping file, or write another format",
                    None,
                )
            })?;
        let (clock, start) = self.start(rate, label);
        let mut implied = Vec::new();
        let mut stated = vec![("frame-rate", rate.to_string())];
        if start.is_some() {
            let counting = if clock.drops() {
                "drop-frame"
            } else {
                "non-drop"
            };
            stated.push(("counting", counting.to_owned()));
        }
        for (name, _) in &stated {
            if self.text(name).is_none() {
                implied.push(*name);
            }
        }
        let mut head = Head {
            clock,
            start,
            implied,
            facts: Vec::new(),
            constants: Vec::new(),
            lens_name: self.lens_name(),
            capture_rate: capture_rate.map(FrameRate::as_f64),
        };
        self.facts(&stated, &mut head)?;
        Ok(head)
    }

    fn check(&self) -> Result<(), Failure> {
        let count = self.lenses.iter().map(Vec::len).sum::<usize>() + self.take.len();
        if count > MAX_FACTS || self.lenses.len() > MAX_LENSES as usize {
            return Err(failure(
                format!(
                    "{} lenses with {count} facts are too many for one document",
                    self.lenses.len()
                ),
                format!("at most {MAX_LENSES} lenses and {MAX_FACTS} facts can be written"),
                None,
            ));
        }
        if let Some(lens) = self.lens
            && lens as usize >= self.lenses.len()
        {
            return Err(failure(
                format!(
                    "the take uses lens {lens}, and there are {}",
                    self.lenses.len()
                ),
                "report this to the authors of the program",
                None,
            ));
        }
        Ok(())
    }

    /// How frames are counted, and the first one: by its label, else by the take's fact. Without
    /// either nothing is said about counting, so that readers count without leaving labels out.
    fn start(&self, rate: FrameRate, label: Option<&str>) -> (Clock, Option<u64>) {
        let drop = |label: &str| match self.text("counting") {
            Some(counting) => counting == "drop-frame",
            None => label.contains(';'),
        };
        for label in [label, self.text("start-timecode")].into_iter().flatten() {
            let clock = Clock::new(rate, drop(label));
            if let Some(frame) = clock.frame_of(label) {
                return (clock, Some(frame));
            }
        }
        (Clock::new(rate, false), None)
    }

    fn facts(&self, stated: &[(&str, String)], head: &mut Head) -> Result<(), Failure> {
        if !self.lenses.is_empty() {
            head.facts.push(ours(LENSES, self.lenses.len()));
        }
        if let Some(lens) = self.lens {
            head.facts.push(ours(LENS, lens as usize));
        }
        for (lens, facts) in self.lenses.iter().enumerate() {
            for fact in facts {
                head.facts.push(aside(Owner::Lens(lens as u32), fact)?);
            }
        }
        let mut done: Vec<&str> = Vec::new();
        for fact in &self.take {
            let again = done.contains(&&*fact.name);
            done.push(&fact.name);
            let native = match (&fact.value, fields::of_fact(&fact.name)) {
                (Datum::Text(text), _) => {
                    fact.unit.is_empty() && stated.iter().any(|(n, t)| *n == fact.name && t == text)
                }
                (Datum::Number(value), Some(field))
                    if value.is_finite() && fact.unit == field.unit =>
                {
                    if !again {
                        head.constants.push(Parameter::number(field, *value));
                    }
                    true
                }
                _ => false,
            };
            if !native || again {
                head.facts.push(aside(Owner::Take, fact)?);
            }
        }
        Ok(())
    }

    /// Maker, model and serial number of the lens in use.
    fn lens_name(&self) -> Option<String> {
        let facts = self.lenses.get(self.lens? as usize)?;
        let parts = ["lens-maker", "lens-model", "lens-serial"];
        let parts: Vec<&str> = parts.iter().filter_map(|name| text(facts, name)).collect();
        let name = parts.join(" ");
        escape::is_plain(&name).then(|| escape::plain(&name))
    }
}

fn text<'f>(facts: &'f [Fact], name: &str) -> Option<&'f str> {
    facts.iter().find_map(|fact| match &fact.value {
        Datum::Text(text) if fact.name == name => Some(&**text),
        _ => None,
    })
}

/// The rate of capture, if the frames say it.
fn captured(frames: &Frames) -> Option<FrameRate> {
    let column = ringmark_sdk::batch::column(frames, "capture-rate")?;
    let rate = column.values.iter().copied().find(|v| !v.is_nan())?;
    FrameRate::from_decimal(rate).ok()
}

fn ours(name: &str, count: usize) -> Parameter {
    Parameter::ours(name.to_owned(), None, count.to_string())
}

fn aside(owner: Owner, fact: &Fact) -> Result<Parameter, Failure> {
    let (item, text) = match &fact.value {
        Datum::Text(text) => (escape::item(text), true),
        Datum::Number(value) => {
            let mut item = Vec::new();
            number::push(&mut item, *value, Form::Plain);
            (String::from_utf8_lossy(&item).into_owned(), false)
        }
    };
    if item.len() > MAX_ITEM {
        return Err(failure(
            format!(
                "the fact {} is longer than 1 MiB",
                crate::remarks::shown(&fact.name)
            ),
            "shorten it, or leave it out",
            None,
        ));
    }
    let unit = escape::name(&fact.unit, &[]);
    let name = Private::Fact(owner, fact.name.clone(), text).to_name();
    Ok(Parameter::ours(
        name,
        Some(unit).filter(|unit| !unit.is_empty()),
        item,
    ))
}
