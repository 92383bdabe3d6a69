//! The frames of a take that were not handed out yet, column by column.
//!
//! A column is written when its value changes, and filled up then and at the end of a batch: what
//! stays the same for a whole sequence costs nothing a frame.

use std::collections::BTreeMap;

use ringmark_sdk::batch::NumberColumn;
use ringmark_sdk::{Column, Frames, Labels, NO_LABEL};

/// Frames in a batch.
const MOST_FRAMES: u32 = 1024;
/// Numbers in a batch, for headers with very many of them.
const MOST_NUMBERS: usize = 1 << 20;
/// Bytes of text in a batch, for headers with large texts.
const MOST_TEXT: usize = 4 << 20;

struct Number {
    unit: String,
    reference: String,
    now: f64,
    out: NumberColumn,
}

impl Number {
    fn fill(&mut self, count: u32) {
        self.out.values.resize(count as usize, self.now);
    }
}

struct Text {
    now: Option<String>,
    /// Where `now` is in the batch, if it is there already.
    place: Option<u32>,
    out: Labels,
}

impl Text {
    fn new(channel: String, form: &str) -> Self {
        Text {
            now: None,
            place: None,
            out: Labels {
                channel,
                form: form.to_owned(),
                text: String::new(),
                ends: Vec::new(),
                index: Vec::new(),
            },
        }
    }

    fn fill(&mut self, count: u32) {
        if self.out.index.len() == count as usize {
            return;
        }
        let place = match (&self.now, self.place) {
            (None, _) => NO_LABEL,
            (Some(_), Some(place)) => place,
            (Some(now), None) => {
                let place = self.out.ends.len() as u32;
                self.out.text.push_str(now);
                self.out.ends.push(self.out.text.len() as u32);
                self.place = Some(place);
                place
            }
        };
        self.out.index.resize(count as usize, place);
    }

    /// Ends what was so far; gives the string for the next text, emptied.
    fn next(&mut self, count: u32) -> &mut String {
        self.fill(count);
        self.place = None;
        let now = self.now.get_or_insert_default();
        now.clear();
        now
    }

    fn take(&mut self, count: u32) -> Labels {
        self.fill(count);
        self.place = None;
        let out = &mut self.out;
        Labels {
            channel: out.channel.clone(),
            form: out.form.clone(),
            text: std::mem::take(&mut out.text),
            ends: std::mem::take(&mut out.ends),
            index: std::mem::take(&mut out.index),
        }
    }
}

/// Where a frame came from.
pub struct Origin<'a> {
    /// Name of the file.
    pub file: &'a str,
    /// Its index.
    pub input: u32,
    /// Offset of the header of its part.
    pub offset: u64,
    /// Frame number, if there is one.
    pub frame: Option<f64>,
}

/// What a name stands for.
#[derive(Clone, Copy)]
enum Named {
    Number(usize),
    Text(usize),
}

/// Columns that can be joined by others at any frame.
pub struct Columns {
    numbers: Vec<Number>,
    texts: Vec<Text>,
    names: BTreeMap<String, Named>,
    frame: Option<Number>,
    files: Text,
    inputs: Vec<u32>,
    offsets: Vec<u64>,
    first: u64,
    count: u32,
    text_bytes: usize,
}

impl Columns {
    /// No frames and no columns.
    pub fn new() -> Self {
        Columns {
            numbers: Vec::new(),
            texts: Vec::new(),
            names: BTreeMap::new(),
            frame: None,
            files: Text::new("source-file".to_owned(), "text"),
            inputs: Vec::new(),
            offsets: Vec::new(),
            first: 0,
            count: 0,
            text_bytes: 0,
        }
    }

    /// Whether no frame was ever added.
    pub fn is_unused(&self) -> bool {
        self.first == 0 && self.count == 0
    }

    /// A new column of numbers; frames before have none.
    pub fn add_number(
        &mut self,
        channel: &str,
        type_name: &str,
        unit: &str,
        reference: &str,
    ) -> usize {
        let column = self.numbers.len();
        let channel = self.free_name(channel, type_name, Named::Number(column));
        self.numbers.push(Number {
            unit: unit.to_owned(),
            reference: reference.to_owned(),
            now: f64::NAN,
            out: NumberColumn::new(channel, unit, reference),
        });
        column
    }

    /// The column of numbers of this name, unit and reference.
    pub fn number_called(&self, channel: &str, unit: &str, reference: &str) -> Option<usize> {
        let Some(Named::Number(column)) = self.names.get(channel).copied() else {
            return None;
        };
        let number = self.numbers.get(column)?;
        (number.unit == unit && number.reference == reference).then_some(column)
    }

    /// The column of texts of this name and form.
    pub fn text_called(&self, channel: &str, form: &str) -> Option<usize> {
        let Some(Named::Text(column)) = self.names.get(channel).copied() else {
            return None;
        };
        (self.texts.get(column)?.out.form == form).then_some(column)
    }

    /// A new column of texts; frames before have none.
    pub fn add_text(&mut self, channel: &str, type_name: &str, form: &str) -> usize {
        let column = self.texts.len();
        let channel = self.free_name(channel, type_name, Named::Text(column));
        self.texts.push(Text::new(channel, form));
        column
    }

    /// Two attributes may want one channel: the same name with two types.
    fn free_name(&mut self, channel: &str, type_name: &str, named: Named) -> String {
        let mut name = channel.to_owned();
        while self.names.contains_key(&name) {
            name = format!("{name}:{type_name}");
        }
        self.names.insert(name.clone(), named);
        name
    }

    /// The number of a column from the next frame on; NaN for none.
    pub fn set_number(&mut self, column: usize, value: f64) {
        if let Some(number) = self.numbers.get_mut(column) {
            number.fill(self.count);
            number.now = value;
        }
    }

    /// The number set last.
    pub fn number(&self, column: usize) -> Option<f64> {
        let number = self.numbers.get(column)?.now;
        (!number.is_nan()).then_some(number)
    }

    /// The text of a column from the next frame on; `write` gets an empty string.
    pub fn set_text(&mut self, column: usize, write: impl FnOnce(&mut String)) {
        if let Some(text) = self.texts.get_mut(column) {
            let now = text.next(self.count);
            write(now);
            self.text_bytes += now.len();
        }
    }

    /// The column has no text from the next frame on.
    pub fn set_no_text(&mut self, column: usize) {
        if let Some(text) = self.texts.get_mut(column) {
            text.fill(self.count);
            text.now = None;
        }
    }

    /// Adds a frame.
    pub fn push(&mut self, origin: &Origin<'_>) {
        let number = origin.frame.unwrap_or(f64::NAN);
        if !number.is_nan() || self.frame.is_some() {
            let frame = self.frame.get_or_insert_with(|| Number {
                unit: String::new(),
                reference: String::new(),
                now: f64::NAN,
                out: NumberColumn::new("frame", "", ""),
            });
            frame.fill(self.count);
            frame.now = number;
        }
        self.files.next(self.count).push_str(origin.file);
        self.text_bytes += origin.file.len();
        self.inputs.push(origin.input);
        self.offsets.push(origin.offset);
        self.count += 1;
    }

    /// Whether the batch is large enough to be handed out.
    pub fn is_full(&self) -> bool {
        self.count >= MOST_FRAMES
            || self.text_bytes >= MOST_TEXT
            || self.count as usize * self.numbers.len() >= MOST_NUMBERS
    }

    /// The frames so far as a batch of `take`; `None` if there are none.
    pub fn flush(&mut self, take: u32) -> Option<Frames> {
        if self.count == 0 {
            return None;
        }
        let count = self.count;
        let columns: Vec<Column> = self
            .frame
            .iter_mut()
            .chain(&mut self.numbers)
            .map(|number| {
                number.fill(count);
                number.out.take()
            })
            .collect();
        let labels: Vec<Labels> = std::iter::once(&mut self.files)
            .chain(&mut self.texts)
            .map(|text| text.take(count))
            .collect();
        let frames = Frames {
            take,
            first: self.first,
            count,
            columns,
            labels,
            inputs: std::mem::take(&mut self.inputs),
            offsets: std::mem::take(&mut self.offsets),
        };
        self.first += u64::from(count);
        self.count = 0;
        self.text_bytes = 0;
        Some(frames)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::batch::{column, label_text, labels};

    fn origin(input: u32) -> Origin<'static> {
        Origin {
            file: "a.exr",
            input,
            offset: 8,
            frame: None,
        }
    }

    #[test]
    fn a_column_that_comes_late_is_filled_with_not_recorded() {
        let mut columns = Columns::new();
        columns.push(&origin(0));
        let number = columns.add_number("focus-distance", "float", "m", "unstated");
        let text = columns.add_text("lens-model", "string", "text");
        columns.set_number(number, 2.0);
        columns.set_text(text, |t| t.push('X'));
        columns.push(&origin(1));
        columns.push(&origin(2));
        columns.set_number(number, f64::NAN);
        columns.set_no_text(text);
        columns.push(&origin(3));
        let frames = columns.flush(0).unwrap();
        let values = &column(&frames, "focus-distance").unwrap().values;
        assert!(values[0].is_nan() && values[3].is_nan());
        assert_eq!(values[1..3], [2.0, 2.0]);
        let texts = labels(&frames, "lens-model").unwrap();
        let read: Vec<_> = (0..4).map(|n| label_text(texts, n)).collect();
        assert_eq!(read, [None, Some("X"), Some("X"), None]);
        assert_eq!(texts.text, "X");
        assert_eq!((frames.inputs, frames.count), (vec![0, 1, 2, 3], 4));
        assert!(columns.flush(0).is_none());
    }

    #[test]
    fn values_go_on_into_the_next_batch() {
        let mut columns = Columns::new();
        let number = columns.add_number("t-stop", "float", "T", "");
        let text = columns.add_text("lens-model", "string", "text");
        columns.set_number(number, 2.0);
        columns.set_text(text, |t| t.push('X'));
        for first in 0..2 {
            columns.push(&origin(0));
            let frames = columns.flush(0).unwrap();
            assert_eq!(frames.first, first);
            assert_eq!(column(&frames, "t-stop").unwrap().values, [2.0]);
            assert_eq!(
                label_text(labels(&frames, "lens-model").unwrap(), 0),
                Some("X")
            );
        }
    }

    #[test]
    fn the_frame_channel_exists_if_a_frame_has_a_number() {
        let mut columns = Columns::new();
        columns.push(&origin(0));
        let frame = Some(7.0);
        columns.push(&Origin { frame, ..origin(1) });
        columns.push(&origin(2));
        let frames = columns.flush(0).unwrap();
        let values = &column(&frames, "frame").unwrap().values;
        assert!(values[0].is_nan() && values[1] == 7.0 && values[2].is_nan());
    }

    #[test]
    fn two_attributes_that_want_one_channel_get_two() {
        let mut columns = Columns::new();
        columns.add_number("extra/a", "int", "", "");
        columns.add_text("extra/a", "string", "text");
        columns.push(&origin(0));
        let frames = columns.flush(0).unwrap();
        assert!(column(&frames, "extra/a").is_some());
        assert!(labels(&frames, "extra/a:string").is_some());
    }

    #[test]
    fn large_texts_make_small_batches() {
        let mut columns = Columns::new();
        let text = columns.add_text("extra/a", "own", "hex");
        columns.set_text(text, |t| t.push_str(&"00".repeat(MOST_TEXT / 2)));
        assert!(columns.is_full());
    }
}
