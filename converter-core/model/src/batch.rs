//! Consecutive frames of a take, column by column: the unit of work everywhere.

use std::sync::Arc;

use ringmark_quantity::DistanceReference;

use crate::channel::Channel;

/// Index of a label that is not recorded.
pub const NO_LABEL: u32 = u32::MAX;

/// What a column is: a channel of the registry, or an extra under the name its source gave it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum ColumnKey {
    /// A channel of the registry.
    Channel(Channel),
    /// Anything else, kept so that a round trip loses nothing.
    Extra(Arc<str>),
}

impl ColumnKey {
    /// `focus-distance`, or `extra/NAME`.
    pub fn name(&self) -> String {
        match self {
            ColumnKey::Channel(channel) => channel.name().to_owned(),
            ColumnKey::Extra(name) => format!("{}{name}", crate::raw::EXTRA),
        }
    }

    /// The channel, if it is one.
    pub fn channel(&self) -> Option<Channel> {
        match self {
            ColumnKey::Channel(channel) => Some(*channel),
            ColumnKey::Extra(_) => None,
        }
    }
}

/// Where a column's values come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// As the source has them.
    Recorded,
    /// Recorded in another unit.
    Converted,
    /// Interpolated between the marks of a ring.
    Interpolated,
    /// Computed from other channels.
    Derived,
}

impl Origin {
    /// Name in documents.
    pub const fn name(self) -> &'static str {
        match self {
            Origin::Recorded => "recorded",
            Origin::Converted => "converted",
            Origin::Interpolated => "interpolated",
            Origin::Derived => "derived",
        }
    }

    /// The origin called `name`.
    pub fn from_name(name: &str) -> Option<Self> {
        [
            Origin::Recorded,
            Origin::Converted,
            Origin::Interpolated,
            Origin::Derived,
        ]
        .into_iter()
        .find(|o| o.name() == name)
    }
}

/// What every frame of a column shares.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnHead {
    /// What it is.
    pub key: ColumnKey,
    /// Unit symbol of the values as they stand in the neutral form; for extras, what the source said. Empty for texts and pure numbers.
    pub unit: String,
    /// What distances are measured from; `None` for columns that are no distance.
    pub reference: Option<DistanceReference>,
    /// Where the values come from.
    pub origin: Origin,
    /// Unit symbol in the source where it differs from `unit`.
    pub source_unit: Option<String>,
    /// Text, JSON or hexadecimal; `None` for numbers.
    pub form: Option<TextForm>,
}

/// How to read the texts of a column or extra.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TextForm {
    /// Plain text.
    Text,
    /// A JSON value.
    Json,
    /// Bytes in hexadecimal.
    Hex,
}

impl TextForm {
    /// Name in documents and in the contract.
    pub const fn name(self) -> &'static str {
        match self {
            TextForm::Text => "text",
            TextForm::Json => "json",
            TextForm::Hex => "hex",
        }
    }

    /// The form called `name`.
    pub fn from_name(name: &str) -> Option<Self> {
        [TextForm::Text, TextForm::Json, TextForm::Hex]
            .into_iter()
            .find(|f| f.name() == name)
    }
}

/// Numbers in the channel's canonical unit; NaN is 'not recorded', +infinity is infinity.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberColumn {
    /// What it is.
    pub head: Arc<ColumnHead>,
    /// One value a frame.
    pub values: Vec<f64>,
}

/// Texts, dictionary coded.
#[derive(Debug, Clone, PartialEq)]
pub struct TextColumn {
    /// What it is.
    pub head: Arc<ColumnHead>,
    /// All texts behind one another.
    pub text: String,
    /// Where each text ends; ascending, on character borders (checked on construction).
    pub ends: Vec<u32>,
    /// Which text each frame has, or [`NO_LABEL`].
    pub index: Vec<u32>,
}

impl TextColumn {
    /// The text of a frame, counted within the batch.
    pub fn get(&self, frame: usize) -> Option<&str> {
        self.entry(*self.index.get(frame)?)
    }

    /// The text with this index in the dictionary.
    pub fn entry(&self, index: u32) -> Option<&str> {
        let index = index as usize;
        let end = *self.ends.get(index)? as usize;
        let start = match index {
            0 => 0,
            i => self.ends[i - 1] as usize,
        };
        self.text.get(start..end)
    }

    /// Texts of all frames.
    pub fn iter(&self) -> impl Iterator<Item = Option<&str>> {
        self.index.iter().map(|&index| self.entry(index))
    }

    /// A column from one optional text a frame.
    pub fn from_texts<'a>(
        head: Arc<ColumnHead>,
        texts: impl IntoIterator<Item = Option<&'a str>>,
    ) -> Self {
        let mut column = TextColumn {
            head,
            text: String::new(),
            ends: Vec::new(),
            index: Vec::new(),
        };
        for text in texts {
            column.push(text);
        }
        column
    }

    /// Adds a frame's text; equal neighbours share one entry.
    pub fn push(&mut self, text: Option<&str>) {
        let Some(text) = text else {
            self.index.push(NO_LABEL);
            return;
        };
        let last = self.ends.len() as u32;
        if last > 0 && self.entry(last - 1) == Some(text) {
            self.index.push(last - 1);
            return;
        }
        self.text.push_str(text);
        self.ends.push(self.text.len() as u32);
        self.index.push(last);
    }
}

/// Where frames stand in the source.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FramePlaces {
    /// Input of each frame; empty: all from input 0.
    pub inputs: Vec<u32>,
    /// Byte offset of each frame's record; empty: not known.
    pub offsets: Vec<u64>,
}

/// Consecutive frames of one take. All columns hold `count` frames.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Batch {
    /// Which take of the document.
    pub take: usize,
    /// Index in the take of the first frame, from 0.
    pub first: u64,
    /// Frames in the batch.
    pub count: usize,
    /// Columns of numbers.
    pub numbers: Vec<NumberColumn>,
    /// Columns of texts.
    pub texts: Vec<TextColumn>,
    /// Where the frames stand in the source.
    pub places: FramePlaces,
}

impl Batch {
    /// The numbers of a channel.
    pub fn numbers(&self, channel: Channel) -> Option<&[f64]> {
        self.number_column(channel).map(|c| c.values.as_slice())
    }

    /// The column of numbers of a channel.
    pub fn number_column(&self, channel: Channel) -> Option<&NumberColumn> {
        self.numbers
            .iter()
            .find(|c| c.head.key == ColumnKey::Channel(channel))
    }

    /// The texts of a channel.
    pub fn texts(&self, channel: Channel) -> Option<&TextColumn> {
        self.texts
            .iter()
            .find(|c| c.head.key == ColumnKey::Channel(channel))
    }

    /// Input and byte offset of a frame, counted within the batch.
    pub fn place(&self, frame: usize) -> Option<(u32, u64)> {
        let offset = *self.places.offsets.get(frame)?;
        Some((self.places.inputs.get(frame).copied().unwrap_or(0), offset))
    }
}
