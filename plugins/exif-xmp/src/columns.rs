//! The frames of a take that were not handed out yet, column by column. Columns may begin at any frame.

use std::collections::{BTreeMap, BTreeSet};

use ringmark_sdk::batch::{LabelColumn, NumberColumn};
use ringmark_sdk::{Frames, NO_LABEL};

use crate::values::{Number, Text, Values};

/// Frames in a batch.
const MOST_FRAMES: usize = 1024;
/// Numbers in a batch, for files with very many of them.
const MOST_NUMBERS: usize = 1 << 20;
/// Bytes of text in a batch.
const MOST_TEXT: usize = 4 << 20;

/// What makes a column of numbers: channel, unit, reference.
type NumberHead = (String, String, String);
/// What makes a column of texts: channel, form.
type TextHead = (String, &'static str);

/// See the module.
#[derive(Default)]
pub struct Columns {
    numbers: BTreeMap<NumberHead, NumberColumn>,
    texts: BTreeMap<TextHead, LabelColumn>,
    names: BTreeSet<String>,
    inputs: Vec<u32>,
    offsets: Vec<u64>,
    first: u64,
    text_bytes: usize,
}

/// The forms that labels can have; others are plain text.
fn form_of(form: &str) -> &'static str {
    match form {
        "json" => "json",
        "hex" => "hex",
        _ => "text",
    }
}

impl Columns {
    fn count(&self) -> usize {
        self.inputs.len()
    }

    /// Adds a frame.
    pub fn push(&mut self, values: &Values, input: u32, offset: u64) {
        let count = self.count();
        for number in &values.numbers {
            self.push_number(number, count);
        }
        for text in &values.texts {
            self.push_text(text, count);
        }
        self.inputs.push(input);
        self.offsets.push(offset);
    }

    fn push_number(&mut self, number: &Number, count: usize) {
        let Number {
            channel,
            unit,
            reference,
            value,
        } = number;
        let head = (channel.clone(), unit.clone(), reference.clone());
        let names = &mut self.names;
        let column = self.numbers.entry(head).or_insert_with(|| {
            let name = free_name(names, channel, &[unit.as_str(), reference]);
            NumberColumn::new(name, unit.as_str(), reference.as_str())
        });
        column.values.resize(count, f64::NAN);
        column.values.push(*value);
    }

    fn push_text(&mut self, text: &Text, count: usize) {
        let form = form_of(&text.form);
        let names = &mut self.names;
        let column = self
            .texts
            .entry((text.channel.clone(), form))
            .or_insert_with(|| {
                LabelColumn::with_form(free_name(names, &text.channel, &[form]), form)
            });
        while column.len() < count {
            column.push_absent();
        }
        // One still says a thing once; of two texts the first stays.
        if column.len() == count {
            column.push(&text.text);
            self.text_bytes += text.text.len();
        }
    }

    /// Whether the batch is large enough to be handed out.
    pub fn is_full(&self) -> bool {
        let count = self.count();
        count >= MOST_FRAMES
            || self.text_bytes >= MOST_TEXT
            || count * (self.numbers.len() + self.texts.len()) >= MOST_NUMBERS
    }

    /// The frames so far as a batch; `None` if there are none.
    pub fn flush(&mut self) -> Option<Frames> {
        let count = self.count();
        if count == 0 {
            return None;
        }
        let columns = self.numbers.values_mut().map(|column| {
            column.values.resize(count, f64::NAN);
            column.take()
        });
        let columns = columns.collect();
        let labels = self.texts.values_mut().map(|column| {
            let mut labels = column.take();
            labels.index.resize(count, NO_LABEL);
            labels
        });
        let frames = Frames {
            take: 0,
            first: self.first,
            count: count as u32,
            columns,
            labels: labels.collect(),
            inputs: std::mem::take(&mut self.inputs),
            offsets: std::mem::take(&mut self.offsets),
        };
        self.first += count as u64;
        self.text_bytes = 0;
        Some(frames)
    }
}

/// The channel's name, or if that is taken by a column of another kind the name of an extra.
fn free_name(names: &mut BTreeSet<String>, channel: &str, kind: &[&str]) -> String {
    let mut name = channel.to_owned();
    while !names.insert(name.clone()) {
        let plain = name.strip_prefix("extra/").unwrap_or(&name);
        name = format!("extra/{plain}");
        for word in kind.iter().filter(|word| !word.is_empty()) {
            name.push('.');
            name.push_str(word);
        }
        if kind.iter().all(|word| word.is_empty()) {
            name.push_str(".number");
        }
    }
    name
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::batch::{column, label_text, labels};

    fn number(channel: &str, reference: &str, value: f64) -> Number {
        Number {
            channel: channel.into(),
            unit: "m".into(),
            reference: reference.into(),
            value,
        }
    }

    fn text(channel: &str, form: &str, text: &str) -> Text {
        Text {
            channel: channel.into(),
            form: form.into(),
            text: text.into(),
        }
    }

    #[test]
    fn a_column_that_comes_late_or_ends_early() {
        let mut columns = Columns::default();
        let mut values = Values::default();
        columns.push(&values, 0, 8);
        values
            .numbers
            .push(number("focus-distance", "unstated", 2.0));
        values.texts.push(text("lens", "text", "X"));
        columns.push(&values, 1, 9);
        columns.push(&Values::default(), 2, 10);
        let frames = columns.flush().unwrap();
        let values = &column(&frames, "focus-distance").unwrap().values;
        assert!(values[0].is_nan() && values[1] == 2.0 && values[2].is_nan());
        let lens = labels(&frames, "lens").unwrap();
        let read: Vec<_> = (0..3).map(|n| label_text(lens, n)).collect();
        assert_eq!(read, [None, Some("X"), None]);
        assert_eq!(
            (frames.inputs, frames.offsets),
            (vec![0, 1, 2], vec![8, 9, 10])
        );
        // The next batch has the same columns.
        columns.push(&Values::default(), 3, 11);
        let frames = columns.flush().unwrap();
        assert_eq!((frames.first, frames.columns.len()), (3, 1));
        assert!(columns.flush().is_none());
    }

    #[test]
    fn columns_of_one_name_and_two_kinds_get_two_names() {
        let mut columns = Columns::default();
        let mut values = Values::default();
        values
            .numbers
            .push(number("focus-distance", "unstated", 2.0));
        values
            .numbers
            .push(number("focus-distance", "image-plane", 3.0));
        values.texts.push(text("extra/a", "text", "1"));
        values.texts.push(text("extra/a", "json", "[1]"));
        columns.push(&values, 0, 0);
        let frames = columns.flush().unwrap();
        assert!(column(&frames, "focus-distance").is_some());
        assert!(column(&frames, "extra/focus-distance.m.image-plane").is_some());
        assert!(labels(&frames, "extra/a").is_some());
        assert!(labels(&frames, "extra/a.json").is_some());
    }
}
