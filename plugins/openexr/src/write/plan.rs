//! Columns of a batch, and where their values go.

use std::rc::Rc;

use ringmark_sdk::batch::label_text;
use ringmark_sdk::{Column, Failure, Frames, Labels, NO_LABEL, failure};

use crate::fields::{FIELDS, Role, place_of_channel};
use crate::private::EXTRA;

/// Where the values of a column go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// The attribute at this place of the table.
    Field(usize),
    /// Label of the time code.
    Label,
    /// Its user bits.
    UserBits,
    /// Its flags.
    Flags,
    /// Frame number, which the file's name says.
    Frame,
    /// Name of the file.
    SourceFile,
    /// An attribute of the extra's own name.
    Extra,
    /// A private attribute.
    Private,
}

/// A column without its values.
#[derive(Debug, PartialEq, Eq)]
pub struct Head {
    /// Channel, or `extra/NAME`.
    pub channel: String,
    /// Where values go.
    pub target: Target,
    /// Unit of numbers.
    pub unit: String,
    /// What distances are measured from; empty where nothing is said.
    pub reference: String,
    /// Form of texts; empty for numbers.
    pub form: String,
}

impl Head {
    /// The name of an extra.
    pub fn name(&self) -> &str {
        self.channel.strip_prefix(EXTRA).unwrap_or(&self.channel)
    }
}

/// A value that is recorded.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Never NaN.
    Number(f64),
    /// A text.
    Text(Rc<str>),
}

/// What one frame of a take says. Clones are cheap enough to be held back.
#[derive(Debug, Clone)]
pub struct Row {
    /// The columns.
    pub heads: Rc<Vec<Head>>,
    /// Recorded values, with the index of their column.
    pub values: Vec<(u32, Value)>,
}

impl Row {
    /// Recorded values with their columns.
    pub fn iter(&self) -> impl Iterator<Item = (&Head, &Value)> {
        self.values
            .iter()
            .filter_map(|(index, value)| Some((self.heads.get(*index as usize)?, value)))
    }

    /// The recorded text of a channel.
    pub fn text(&self, channel: &str) -> Option<&str> {
        self.iter().find_map(|(head, value)| match value {
            Value::Text(text) if head.channel == channel => Some(&**text),
            _ => None,
        })
    }

    /// The recorded number of a channel.
    pub fn number(&self, channel: &str) -> Option<f64> {
        self.iter().find_map(|(head, value)| match value {
            Value::Number(number) if head.channel == channel => Some(*number),
            _ => None,
        })
    }

    /// Whether the take has a column of this name, recorded or not.
    pub fn has_column(&self, channel: &str) -> bool {
        self.heads.iter().any(|head| head.channel == channel)
    }
}

/// The columns of a batch with their heads.
pub struct Batch<'a> {
    frames: &'a Frames,
    heads: Rc<Vec<Head>>,
    /// Texts that were fetched already, by column and place in its dictionary.
    texts: Vec<Vec<Option<Rc<str>>>>,
}

impl<'a> Batch<'a> {
    /// Looks at the columns; `before` are those of the batch before.
    pub fn new(frames: &'a Frames, before: Option<&Rc<Vec<Head>>>) -> Result<Self, Failure> {
        check_lengths(frames)?;
        let numbers = frames.columns.iter().map(number_head);
        let texts = frames.labels.iter().map(|labels| Ok(text_head(labels)));
        let heads: Vec<Head> = numbers.chain(texts).collect::<Result<_, Failure>>()?;
        let heads = match before {
            Some(before) if **before == heads => Rc::clone(before),
            _ => Rc::new(heads),
        };
        Ok(Batch {
            frames,
            heads,
            texts: vec![Vec::new(); frames.labels.len()],
        })
    }

    /// The columns.
    pub fn heads(&self) -> &Rc<Vec<Head>> {
        &self.heads
    }

    /// What frame `at` of the batch says.
    pub fn row(&mut self, at: usize) -> Row {
        let columns = &self.frames.columns;
        let numbers = columns.iter().enumerate().filter_map(|(index, column)| {
            let number = *column.values.get(at)?;
            (!number.is_nan()).then_some((index as u32, Value::Number(number)))
        });
        let mut values: Vec<_> = numbers.collect();
        let labels = self.frames.labels.iter().zip(&mut self.texts).enumerate();
        values.extend(labels.filter_map(|(index, (labels, known))| {
            let text = fetch(labels, known, at)?;
            Some(((columns.len() + index) as u32, Value::Text(text)))
        }));
        Row {
            heads: Rc::clone(&self.heads),
            values,
        }
    }
}

fn fetch(labels: &Labels, known: &mut Vec<Option<Rc<str>>>, at: usize) -> Option<Rc<str>> {
    let place = *labels.index.get(at)? as usize;
    if let Some(Some(text)) = known.get(place) {
        return Some(Rc::clone(text));
    }
    let text: Rc<str> = label_text(labels, at)?.into();
    if known.len() <= place {
        known.resize(place + 1, None);
    }
    known[place] = Some(Rc::clone(&text));
    Some(text)
}

fn number_head(column: &Column) -> Result<Head, Failure> {
    let target = match column.channel.as_str() {
        "frame" => Target::Frame,
        "extra/timeCode.userData" => Target::UserBits,
        "extra/timeCode.flags" => Target::Flags,
        channel if channel.starts_with(EXTRA) => Target::Extra,
        channel => match place_of_channel(channel) {
            Some(place) if matches!(FIELDS[place].role, Role::Number { .. }) => {
                Target::Field(place)
            }
            _ => Target::Private,
        },
    };
    if let Target::Field(place) = target
        && let Some(Role::Number { unit, .. }) = FIELDS.get(place).map(|field| field.role)
        && unit != column.unit
    {
        return Err(failure(
            format!(
                "{} came in '{}', OpenEXR has it in '{unit}'",
                column.channel, column.unit
            ),
            "report this to the authors of the program",
            None,
        ));
    }
    let reference = match column.reference.as_str() {
        "unstated" => "",
        reference => reference,
    };
    Ok(Head {
        channel: column.channel.clone(),
        target,
        unit: column.unit.clone(),
        reference: reference.to_owned(),
        form: String::new(),
    })
}

fn text_head(labels: &Labels) -> Head {
    let target = match labels.channel.as_str() {
        "timecode" => Target::Label,
        "source-file" => Target::SourceFile,
        channel if channel.starts_with(EXTRA) => Target::Extra,
        channel => match place_of_channel(channel) {
            Some(place) if matches!(FIELDS[place].role, Role::LensText(_)) => Target::Field(place),
            _ => Target::Private,
        },
    };
    Head {
        channel: labels.channel.clone(),
        target,
        unit: String::new(),
        reference: String::new(),
        form: labels.form.clone(),
    }
}

fn check_lengths(frames: &Frames) -> Result<(), Failure> {
    let wrong =
        |message: String| failure(message, "report this to the authors of the program", None);
    let count = frames.count as usize;
    let numbers = frames.columns.iter().map(|c| (&c.channel, c.values.len()));
    let texts = frames.labels.iter().map(|l| (&l.channel, l.index.len()));
    let mut seen = std::collections::HashSet::new();
    for (channel, length) in numbers.chain(texts) {
        if length != count {
            return Err(wrong(format!(
                "{channel} has {length} values in a batch of {count} frames"
            )));
        }
        if !seen.insert(channel) {
            return Err(wrong(format!("two columns are called {channel}")));
        }
    }
    for labels in &frames.labels {
        if !["text", "json", "hex"].contains(&labels.form.as_str()) {
            return Err(wrong(format!(
                "texts of {} have the unknown form '{}'",
                labels.channel, labels.form
            )));
        }
        let recorded = labels.index.iter().enumerate();
        let mut recorded = recorded.filter(|(_, index)| **index != NO_LABEL);
        if let Some((frame, _)) = recorded.find(|(frame, _)| label_text(labels, *frame).is_none()) {
            return Err(wrong(format!(
                "{} of frame {frame} of the batch refers to a text that is not there",
                labels.channel
            )));
        }
    }
    Ok(())
}
