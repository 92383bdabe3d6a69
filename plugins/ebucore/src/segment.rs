//! The frames of one segment while they are gathered, channel by channel.

use std::collections::HashMap;
use std::rc::Rc;

use ringmark_sdk::batch::label_text;
use ringmark_sdk::{Column, Labels};

use crate::private::Kind;

/// Frames of a segment.
pub const FRAMES: usize = 1000;

/// Bytes of text with which a segment ends early.
const MAX_TEXT: usize = 4 << 20;

/// Values of a channel, one a frame.
#[derive(Debug)]
pub enum Cells {
    /// NaN is 'not recorded'.
    Numbers(Vec<f64>),
    /// `None` is 'not recorded'.
    Texts(Vec<Option<Rc<str>>>),
}

impl Cells {
    /// Whether any frame has a value.
    pub fn recorded(&self) -> bool {
        match self {
            Cells::Numbers(values) => values.iter().any(|v| !v.is_nan()),
            Cells::Texts(values) => values.iter().any(Option::is_some),
        }
    }

    fn resize(&mut self, rows: usize) {
        match self {
            Cells::Numbers(values) => values.resize(rows, f64::NAN),
            Cells::Texts(values) => values.resize(rows, None),
        }
    }
}

/// What a channel of the take is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Channel {
    /// Its name.
    pub name: String,
    /// What its values are.
    pub kind: Kind,
    /// Unit of numbers.
    pub unit: String,
}

/// A channel and its values.
#[derive(Debug)]
pub struct Filled {
    /// What it is.
    pub channel: Channel,
    /// Its values.
    pub cells: Cells,
}

/// See the module.
#[derive(Debug, Default)]
pub struct Segment {
    /// Frame of the day of the first frame.
    pub start: u64,
    /// Frames so far.
    pub rows: usize,
    /// Frames whose label is the one that follows from the segment's start.
    pub labelled: usize,
    columns: Vec<Filled>,
    by_name: HashMap<String, usize>,
    text_bytes: usize,
}

impl Segment {
    /// Whether the next frame begins another segment.
    pub fn full(&self) -> bool {
        self.rows >= FRAMES || self.text_bytes >= MAX_TEXT
    }

    /// Whether values of this channel can go on in the segment.
    pub fn fits(&self, channel: &Channel) -> bool {
        let known = self.by_name.get(&channel.name);
        known.is_none_or(|&column| self.columns[column].channel == *channel)
    }

    fn column(&mut self, channel: &Channel) -> usize {
        if let Some(&column) = self.by_name.get(&channel.name) {
            return column;
        }
        let column = self.columns.len();
        self.columns.push(Filled {
            channel: channel.clone(),
            cells: match channel.kind {
                Kind::Number(_) => Cells::Numbers(Vec::new()),
                Kind::Label(_) => Cells::Texts(Vec::new()),
            },
        });
        self.by_name.insert(channel.name.clone(), column);
        column
    }

    /// Adds the text of frame `frame` of a batch to the row `row`.
    pub fn add_text(&mut self, channel: &Channel, labels: &Labels, frame: usize, row: usize) {
        let column = self.column(channel);
        let Cells::Texts(texts) = &mut self.columns[column].cells else {
            return;
        };
        texts.resize(row, None);
        let text = label_text(labels, frame).map(|text| match texts.last() {
            Some(Some(last)) if **last == *text => Rc::clone(last),
            _ => {
                self.text_bytes += text.len();
                text.into()
            }
        });
        texts.push(text);
    }

    /// Adds values to the rows from `row` on.
    pub fn add_numbers(
        &mut self,
        channel: &Channel,
        column: &Column,
        frames: std::ops::Range<usize>,
        row: usize,
    ) {
        let index = self.column(channel);
        if let Cells::Numbers(values) = &mut self.columns[index].cells {
            values.resize(row, f64::NAN);
            values.extend_from_slice(column.values.get(frames).unwrap_or_default());
        }
    }

    /// Adds a channel of which no frame has a value, if it is not there.
    pub fn add_empty(&mut self, channel: &Channel) {
        self.column(channel);
    }

    /// All channels, each with a value for every frame.
    pub fn take(&mut self) -> Vec<Filled> {
        self.by_name.clear();
        self.text_bytes = 0;
        let mut columns = std::mem::take(&mut self.columns);
        for filled in &mut columns {
            filled.cells.resize(self.rows);
        }
        columns
    }
}
