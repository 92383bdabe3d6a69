//! The columns of a take while a batch is read.

use std::collections::HashMap;

use ringmark_sdk::batch::{LabelColumn, NumberColumn};
use ringmark_sdk::{Column, Labels};

use crate::aside::{ColumnForm, Declared};
use crate::fields;

enum Data {
    Numbers(NumberColumn),
    Labels(LabelColumn),
}

struct Entry {
    data: Data,
    declared: Declared,
    /// The value that holds until the next one.
    held: Option<f64>,
}

/// All columns of a take, in the order in which they came up.
#[derive(Default)]
pub struct Columns {
    entries: Vec<Entry>,
    by_name: HashMap<String, usize>,
    held: Vec<usize>,
    text_bytes: usize,
}

impl Columns {
    /// How many columns there are.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Bytes of text added since the last batch, at most.
    pub fn text_bytes(&self) -> usize {
        self.text_bytes
    }

    /// The column called `name`, if there is one.
    pub fn find(&self, name: &str) -> Option<usize> {
        self.by_name.get(name).copied()
    }

    /// The column called `name`; a new one holds what its place in the standard says, else `form`.
    pub fn named(&mut self, name: &str, form: ColumnForm) -> usize {
        if let Some(found) = self.find(name) {
            return found;
        }
        let (form, unit, reference) = match fields::place_of(name) {
            Some(field) => (ColumnForm::Number, field.unit, field.reference),
            None => (form, "", ""),
        };
        self.add(Declared {
            name: name.to_owned(),
            form,
            unit: unit.to_owned(),
            reference: reference.to_owned(),
        })
    }

    /// Adds a column that the file declares; one that exists stays as it is.
    pub fn declare(&mut self, declared: Declared) {
        if self.find(&declared.name).is_none() {
            self.add(declared);
        }
    }

    fn add(&mut self, declared: Declared) -> usize {
        let index = self.entries.len();
        let Declared {
            name,
            form,
            unit,
            reference,
        } = &declared;
        let data = match form {
            ColumnForm::Number => Data::Numbers(NumberColumn::new(name, unit, reference)),
            form => Data::Labels(LabelColumn::with_form(name, form.name())),
        };
        self.by_name.insert(name.clone(), index);
        self.entries.push(Entry {
            data,
            declared,
            held: None,
        });
        index
    }

    /// What the values of a column are.
    pub fn form(&self, column: usize) -> ColumnForm {
        self.entries[column].declared.form
    }

    /// Sets a number of frame `frame` of the batch.
    pub fn set_number(&mut self, column: usize, frame: usize, value: f64) {
        if let Data::Numbers(numbers) = &mut self.entries[column].data {
            numbers.values.resize(frame, f64::NAN);
            numbers.values.push(value);
        }
    }

    /// Sets a text of frame `frame` of the batch; the first one stays.
    pub fn set_text(&mut self, column: usize, frame: usize, text: &str) {
        if let Data::Labels(labels) = &mut self.entries[column].data {
            pad(labels, frame);
            if labels.len() == frame {
                self.text_bytes += text.len();
                labels.push(text);
            }
        }
    }

    /// Fills a column of texts up to `frame`.
    pub fn fill_text(&mut self, column: usize, frame: usize, text: &str) {
        if let Data::Labels(labels) = &mut self.entries[column].data {
            while labels.len() < frame {
                labels.push(text);
            }
        }
    }

    /// From now on `value` is the value of every frame that has none of its own.
    pub fn hold(&mut self, column: usize, value: f64) {
        let before = self.entries[column].held.replace(value);
        if before.is_none() {
            self.held.push(column);
        }
    }

    /// Ends frame `frame` of the batch: values that hold are filled in.
    pub fn end_frame(&mut self, frame: usize) {
        for at in 0..self.held.len() {
            let column = self.held[at];
            let entry = &self.entries[column];
            if let (Data::Numbers(numbers), Some(value)) = (&entry.data, entry.held)
                && numbers.values.len() <= frame
            {
                self.set_number(column, frame, value);
            }
        }
    }

    /// The columns of a batch of `count` frames; all are empty again.
    pub fn take(&mut self, count: usize) -> (Vec<Column>, Vec<Labels>) {
        self.text_bytes = 0;
        let (mut columns, mut labels) = (Vec::new(), Vec::new());
        for entry in &mut self.entries {
            match &mut entry.data {
                Data::Numbers(numbers) => {
                    numbers.values.resize(count, f64::NAN);
                    columns.push(numbers.take());
                }
                Data::Labels(texts) => {
                    pad(texts, count);
                    labels.push(texts.take());
                }
            }
        }
        (columns, labels)
    }
}

fn pad(labels: &mut LabelColumn, frame: usize) {
    while labels.len() < frame {
        labels.push_absent();
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::batch::label_text;

    #[test]
    fn gaps_are_not_recorded_and_held_values_go_on() {
        let mut columns = Columns::default();
        let distance = columns.named("focus-distance", ColumnForm::Text);
        let note = columns.named("extra/note", ColumnForm::Text);
        let angle = columns.named("shutter-angle", ColumnForm::Number);
        for frame in 0..4 {
            match frame {
                1 => {
                    columns.set_number(distance, frame, 2.0);
                    columns.hold(angle, 180.0);
                }
                2 => columns.set_number(angle, frame, f64::NAN),
                3 => columns.set_text(note, frame, "x"),
                _ => {}
            }
            columns.end_frame(frame);
        }
        let (numbers, labels) = columns.take(4);
        assert_eq!(
            (&*numbers[0].unit, &*numbers[0].reference),
            ("m", "unstated")
        );
        assert_eq!(format!("{:?}", numbers[0].values), "[NaN, 2.0, NaN, NaN]");
        assert_eq!(
            format!("{:?}", numbers[1].values),
            "[NaN, 180.0, NaN, 180.0]"
        );
        assert_eq!(label_text(&labels[0], 2), None);
        assert_eq!(label_text(&labels[0], 3), Some("x"));
        columns.end_frame(0);
        assert_eq!(columns.take(1).0[1].values, [180.0]);
    }
}
