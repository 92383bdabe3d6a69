//! Frames of a take, one a line: the hot path of reading.

use std::collections::HashMap;
use std::sync::Arc;

use super::columns::{Declared, unknown_channel};
use super::cursor::Cursor;
use super::document::BATCH;
use super::error::{Fault, Parsed};
use crate::batch::{Batch, ColumnHead, FramePlaces, NO_LABEL, NumberColumn, TextColumn};
use crate::channel::Channel;
use crate::json::write::key_text;

/// Columns that are looked at ahead, where a frame leaves some out.
const AHEAD: usize = 8;

/// Most values of a batch, for takes with very many columns.
const BATCH_VALUES: usize = 1 << 20;

/// Most bytes of the file that go into one batch.
const BATCH_BYTES: u64 = 4 << 20;

/// A take while its lines are read.
#[derive(Debug, Default)]
pub(super) struct TakeFrames {
    columns: Vec<FrameColumn>,
    index: HashMap<String, usize>,
    /// Frames of the batches that are done.
    done: u64,
    rows: usize,
    offsets: Vec<u64>,
}

#[derive(Debug)]
struct FrameColumn {
    head: Arc<ColumnHead>,
    /// `"name":` as this program writes it.
    fragment: Vec<u8>,
    data: Data,
}

/// Values of the batch at hand; frames at the end in which the column is missing are filled up later.
#[derive(Debug)]
enum Data {
    Numbers(Vec<f64>),
    Texts(TextColumn),
}

impl TakeFrames {
    /// Frames so far.
    pub fn count(&self) -> u64 {
        self.done + self.rows as u64
    }

    /// Columns so far.
    pub fn columns(&self) -> usize {
        self.columns.len()
    }

    /// Adds columns or replaces those of the same name. The batch at hand must be flushed.
    pub fn declare(&mut self, declared: Vec<Declared>) {
        for column in declared {
            let name = column.head.key.name();
            let fragment = key_text(&name);
            let data = match column.is_text {
                true => Data::Texts(TextColumn::from_texts(Arc::clone(&column.head), [])),
                false => Data::Numbers(Vec::new()),
            };
            let column = FrameColumn {
                head: column.head,
                fragment,
                data,
            };
            match self
                .index
                .get(&name)
                .and_then(|&at| self.columns.get_mut(at))
            {
                Some(old) => *old = column,
                None => {
                    self.index.insert(name, self.columns.len());
                    self.columns.push(column);
                }
            }
        }
    }

    /// Whether the cursor is at the first column, or one that soon follows.
    #[inline]
    pub fn comes_next(&self, c: &Cursor) -> bool {
        let mut ahead = c.clone();
        self.expected(&mut ahead, 0).is_some()
    }

    /// Passes over the key of one of the columns from `from` on.
    #[inline]
    fn expected(&self, c: &mut Cursor, from: usize) -> Option<usize> {
        let columns = self.columns.get(from..).unwrap_or(&[]);
        let ahead = columns.iter().take(AHEAD);
        let found = ahead
            .into_iter()
            .position(|column| c.take_exactly(&column.fragment));
        found.map(|found| from + found)
    }

    /// A frame in which nothing was recorded, whose line begins at `offset`.
    pub fn empty_frame(&mut self, offset: u64) {
        self.offsets.push(offset);
        self.rows += 1;
    }

    /// Reads a frame from its first key to its closing bracket; its line begins at `offset`.
    #[inline]
    pub fn frame(&mut self, c: &mut Cursor, offset: u64) -> Parsed<()> {
        let mut next = 0;
        loop {
            c.space();
            let start = c.at();
            let index = match self.expected(c, next) {
                Some(index) => index,
                None => self.other(c)?,
            };
            if let Some(column) = self.columns.get_mut(index) {
                column.read(c, self.rows, start)?;
            }
            next = index + 1;
            if !c.goes_on(b'}')? {
                break;
            }
        }
        self.empty_frame(offset);
        Ok(())
    }

    /// Passes over a key that was not expected.
    fn other(&self, c: &mut Cursor) -> Parsed<usize> {
        let start = c.at();
        let key = c.key()?;
        match self.index.get(&*key) {
            Some(&index) => Ok(index),
            None => Err(self.not_declared(c, start, &key)),
        }
    }

    #[cold]
    fn not_declared(&self, c: &Cursor, start: usize, key: &str) -> Box<Fault> {
        let declared: Vec<&str> = self.index.keys().map(String::as_str).collect();
        let known = Channel::from_name(key).is_some() || key.starts_with(crate::raw::EXTRA);
        match known {
            true => c.fault(
                start,
                format!(
                    "`{}` is not declared in the channels of the take",
                    key.escape_debug()
                ),
                "",
            ),
            false if declared.is_empty() => unknown_channel(c, start, key),
            false => c.unknown(start, "channel", key, &declared),
        }
    }

    /// Whether the batch at hand is large enough, with the cursor at `offset`.
    #[inline]
    pub fn is_full(&self, offset: u64) -> bool {
        let rows = (BATCH_VALUES / self.columns.len().max(1)).clamp(64, BATCH);
        self.rows >= rows
            || self
                .offsets
                .first()
                .is_some_and(|first| offset - first > BATCH_BYTES)
    }

    /// The batch at hand, if it has frames.
    pub fn flush(&mut self, take: usize) -> Option<Batch> {
        if self.rows == 0 {
            return None;
        }
        let mut batch = Batch {
            take,
            first: self.done,
            count: self.rows,
            places: FramePlaces {
                inputs: Vec::new(),
                offsets: std::mem::replace(&mut self.offsets, Vec::with_capacity(self.rows)),
            },
            ..Batch::default()
        };
        for column in &mut self.columns {
            match &mut column.data {
                Data::Numbers(values) => {
                    values.resize(self.rows, f64::NAN);
                    batch.numbers.push(NumberColumn {
                        head: Arc::clone(&column.head),
                        values: std::mem::replace(values, Vec::with_capacity(self.rows)),
                    });
                }
                Data::Texts(texts) => {
                    texts.index.resize(self.rows, NO_LABEL);
                    let empty = TextColumn::from_texts(Arc::clone(&column.head), []);
                    batch.texts.push(std::mem::replace(texts, empty));
                }
            }
        }
        self.done += self.rows as u64;
        self.rows = 0;
        Some(batch)
    }
}

impl FrameColumn {
    /// Reads the value of frame `row`; the key begins at `start`.
    #[inline]
    fn read(&mut self, c: &mut Cursor, row: usize, start: usize) -> Parsed<()> {
        match &mut self.data {
            Data::Numbers(values) => {
                if values.len() != row {
                    if values.len() > row {
                        return Err(twice(c, start, &self.head));
                    }
                    values.resize(row, f64::NAN);
                }
                values.push(c.value()?);
            }
            Data::Texts(texts) => {
                if texts.index.len() != row {
                    if texts.index.len() > row {
                        return Err(twice(c, start, &self.head));
                    }
                    texts.index.resize(row, NO_LABEL);
                }
                match c.peek() {
                    Some(b'n') => {
                        c.null()?;
                        texts.push(None);
                    }
                    _ => texts.push(Some(&c.text()?)),
                }
            }
        }
        Ok(())
    }
}

#[cold]
fn twice(c: &Cursor, start: usize, head: &ColumnHead) -> Box<Fault> {
    c.fault(
        start,
        format!("`{}` stands twice in the frame", head.key.name()),
        "remove one",
    )
}
