//! Frames as lines: the hot path of writing.

use std::collections::HashMap;
use std::sync::Arc;

use super::error::WriteError;
use super::printer::{key_text, must_be_escaped, push_text};
use crate::batch::{Batch, ColumnHead, ColumnKey, NO_LABEL, NumberColumn, TextColumn};
use crate::json::{MAX_LINE, number};

/// The columns of a take as they have been declared so far, ready to be written.
#[derive(Debug, Clone, Default)]
pub struct Layout {
    /// `{"take":1` for takes other than the first, empty for the first.
    start: Vec<u8>,
    columns: Vec<LayoutColumn>,
}

/// A declared column.
#[derive(Debug, Clone)]
pub(super) struct LayoutColumn {
    pub head: Arc<ColumnHead>,
    is_text: bool,
    /// `"name":`
    fragment: Vec<u8>,
}

impl Layout {
    pub(super) fn new(take: usize) -> Self {
        let start = match take {
            0 => Vec::new(),
            take => format!("{{\"take\":{take}").into_bytes(),
        };
        Layout {
            start,
            columns: Vec::new(),
        }
    }

    pub(super) fn len(&self) -> usize {
        self.columns.len()
    }

    /// Columns of the batch that are not declared, or with another head; in the order of the registry, extras last.
    pub(super) fn missing(&self, batch: &Batch) -> Vec<LayoutColumn> {
        let declared: HashMap<&ColumnKey, &LayoutColumn> =
            self.columns.iter().map(|c| (&c.head.key, c)).collect();
        let mut missing: Vec<_> = heads(batch)
            .filter(|(head, is_text)| {
                declared.get(&head.key).is_none_or(|column| {
                    column.is_text != *is_text
                        || !(Arc::ptr_eq(&column.head, head) || column.head == **head)
                })
            })
            .map(|(head, is_text)| LayoutColumn {
                head: Arc::clone(head),
                is_text,
                fragment: key_text(&head.key.name()),
            })
            .collect();
        missing.sort_by_key(|column| match column.head.key {
            ColumnKey::Channel(channel) => (0, Some(channel)),
            ColumnKey::Extra(_) => (1, None),
        });
        missing
    }

    /// Declares columns; a column of the same key is replaced.
    pub(super) fn declare(&mut self, columns: &[LayoutColumn]) {
        for column in columns {
            let old = self
                .columns
                .iter_mut()
                .find(|c| c.head.key == column.head.key);
            match old {
                Some(old) => *old = column.clone(),
                None => self.columns.push(column.clone()),
            }
        }
    }

    /// The batch's columns in the order of the layout.
    fn sources<'a>(&'a self, batch: &'a Batch) -> Vec<Source<'a>> {
        let mut numbers: HashMap<&ColumnKey, &NumberColumn> =
            batch.numbers.iter().map(|c| (&c.head.key, c)).collect();
        let mut texts: HashMap<&ColumnKey, &TextColumn> =
            batch.texts.iter().map(|c| (&c.head.key, c)).collect();
        self.columns
            .iter()
            .filter_map(|column| {
                let data = match column.is_text {
                    false => Data::numbers(&numbers.remove(&column.head.key)?.values),
                    true => Data::texts(texts.remove(&column.head.key)?),
                };
                Some(Source {
                    fragment: &column.fragment,
                    data,
                    written: 0..0,
                })
            })
            .collect()
    }
}

/// Heads of all columns of a batch, and whether they hold texts.
pub(super) fn heads(batch: &Batch) -> impl Iterator<Item = (&Arc<ColumnHead>, bool)> {
    let numbers = batch.numbers.iter().map(|c| (&c.head, false));
    numbers.chain(batch.texts.iter().map(|c| (&c.head, true)))
}

/// One column while lines are written.
struct Source<'a> {
    fragment: &'a [u8],
    data: Data<'a>,
    /// Where key and value of the latest frame stand in the output: many values stay the same for long.
    written: std::ops::Range<usize>,
}

enum Data<'a> {
    Numbers {
        values: &'a [f64],
        /// Bits of the value at `written`.
        last: u64,
    },
    Texts {
        column: &'a TextColumn,
        /// Whether no text of the column needs an escape.
        plain: bool,
        /// Dictionary index of the text at `written`.
        last: u32,
    },
}

impl<'a> Data<'a> {
    fn numbers(values: &'a [f64]) -> Self {
        // NaN is never written, so nothing equals it.
        let last = f64::NAN.to_bits();
        Data::Numbers { values, last }
    }

    fn texts(column: &'a TextColumn) -> Self {
        Data::Texts {
            column,
            plain: !column.text.bytes().any(must_be_escaped),
            last: NO_LABEL,
        }
    }
}

impl Source<'_> {
    /// Appends `,"name":value`, or nothing where nothing was recorded.
    #[inline]
    fn push(&mut self, frame: usize, out: &mut Vec<u8>) {
        let comma = out.len();
        out.push(b',');
        if self.push_member(frame, out) {
            // Without the comma, which becomes a bracket where the member is the first of its line.
            self.written = comma + 1..out.len();
        } else {
            out.truncate(comma);
        }
    }

    /// Appends `"name":value` and says so.
    #[inline]
    fn push_member(&mut self, frame: usize, out: &mut Vec<u8>) -> bool {
        match &mut self.data {
            Data::Numbers { values, last } => {
                let Some(&value) = values.get(frame) else {
                    return false;
                };
                if value.to_bits() == *last && !value.is_nan() {
                    out.extend_from_within(self.written.clone());
                } else if value.is_finite() {
                    out.extend_from_slice(self.fragment);
                    number::push_finite(out, value);
                    *last = value.to_bits();
                } else if value.is_infinite() {
                    out.extend_from_slice(self.fragment);
                    out.extend_from_slice(number::word(value));
                    *last = value.to_bits();
                } else {
                    return false;
                }
            }
            Data::Texts {
                column,
                plain,
                last,
            } => {
                let index = column.index.get(frame).copied().unwrap_or(NO_LABEL);
                if index == NO_LABEL {
                    return false;
                }
                if index == *last {
                    out.extend_from_within(self.written.clone());
                } else if let Some(text) = column.entry(index) {
                    out.extend_from_slice(self.fragment);
                    if *plain {
                        out.push(b'"');
                        out.extend_from_slice(text.as_bytes());
                        out.push(b'"');
                    } else {
                        push_text(out, text);
                    }
                    *last = index;
                } else {
                    return false;
                }
            }
        }
        true
    }
}

/// Appends one line for each frame of the batch. Needs nothing but its arguments, so that
/// batches can be encoded side by side and written in order.
pub fn encode_batch(layout: &Layout, batch: &Batch, out: &mut Vec<u8>) -> Result<(), WriteError> {
    let mut sources = layout.sources(batch);
    let fragments: usize = sources.iter().map(|s| s.fragment.len() + 12).sum();
    out.reserve(
        batch
            .count
            .saturating_mul(fragments + layout.start.len() + 3),
    );
    for frame in 0..batch.count {
        let start = out.len();
        out.extend_from_slice(&layout.start);
        for source in &mut sources {
            source.push(frame, out);
        }
        if layout.start.is_empty() {
            // Takes the place of the first comma.
            match out.get_mut(start) {
                Some(comma) => *comma = b'{',
                None => out.push(b'{'),
            }
        }
        out.extend_from_slice(b"}\n");
        if out.len() - start > MAX_LINE {
            return Err(too_long(batch, frame, out.len() - start));
        }
    }
    Ok(())
}

#[cold]
fn too_long(batch: &Batch, frame: usize, length: usize) -> WriteError {
    WriteError::content(
        format!(
            "frame {} of take {} makes a line of {length} bytes; at most {MAX_LINE} can be written",
            batch.first.saturating_add(frame as u64),
            batch.take
        ),
        "leave out its long texts",
    )
}
