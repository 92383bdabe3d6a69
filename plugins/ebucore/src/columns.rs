//! Columns of a batch while they are filled from several sources.

use std::collections::HashMap;

use ringmark_sdk::{Column, Labels, NO_LABEL};

use crate::private::Kind;

/// What a column is; columns of one name, unit and reference are one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Channel, or `extra/NAME`.
    pub channel: String,
    /// What its values are.
    pub kind: Kind,
    /// Unit of numbers.
    pub unit: String,
}

/// A value of a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A number; NaN is 'not recorded'.
    Number(f64),
    /// A text; `None` is 'not recorded'.
    Text(Option<String>),
}

#[derive(Debug)]
enum Cells {
    Numbers(Vec<f64>),
    Texts {
        text: String,
        ends: Vec<u32>,
        index: Vec<u32>,
    },
}

impl Cells {
    fn rows(&self) -> usize {
        match self {
            Cells::Numbers(values) => values.len(),
            Cells::Texts { index, .. } => index.len(),
        }
    }
}

#[derive(Debug)]
struct Slot {
    head: Head,
    cells: Cells,
    /// Whether the batch at hand has the column.
    used: bool,
}

/// See the module.
#[derive(Debug, Default)]
pub struct Columns {
    slots: Vec<Slot>,
    by_channel: HashMap<String, usize>,
    text_bytes: usize,
}

/// Two sources that state different values for a frame.
#[derive(Debug, PartialEq)]
pub struct Conflict {
    /// Row of the first.
    pub row: usize,
    /// What stood there.
    pub kept: String,
}

impl Columns {
    /// The column of a channel. A channel has one kind of values in a file: `None` if it has the other.
    pub fn slot(&mut self, channel: &str, kind: &Kind) -> Option<usize> {
        if let Some(&slot) = self.by_channel.get(channel) {
            let same = match (&self.slots[slot].head.kind, kind) {
                (Kind::Number(_), Kind::Number(_)) => true,
                (known, kind) => known == kind,
            };
            return same.then_some(slot);
        }
        let slot = self.slots.len();
        let cells = match kind {
            Kind::Number(_) => Cells::Numbers(Vec::new()),
            Kind::Label(_) => Cells::Texts {
                text: String::new(),
                ends: Vec::new(),
                index: Vec::new(),
            },
        };
        self.slots.push(Slot {
            head: Head {
                channel: channel.to_owned(),
                kind: kind.clone(),
                unit: String::new(),
            },
            cells,
            used: false,
        });
        self.by_channel.insert(channel.to_owned(), slot);
        Some(slot)
    }

    /// Columns so far.
    pub fn len(&self) -> usize {
        self.slots.len()
    }

    /// Bytes of text in the batch.
    pub fn text_bytes(&self) -> usize {
        self.text_bytes
    }

    /// Whether values of this unit and reference fit to what the batch already has in the column.
    pub fn fits(&self, slot: usize, head: &Head) -> bool {
        let slot = &self.slots[slot];
        !slot.used || (slot.head.unit == head.unit && slot.head.kind == head.kind)
    }

    /// Whether the column has a value, recorded or not, in the row.
    pub fn filled(&self, slot: usize, row: usize) -> bool {
        self.slots[slot].cells.rows() > row
    }

    /// Puts a value into `count` rows from `row` on; values that stand there stay.
    pub fn put(
        &mut self,
        slot: usize,
        head: &Head,
        row: usize,
        count: usize,
        value: &Value,
    ) -> Option<Conflict> {
        let slot = &mut self.slots[slot];
        if !slot.used {
            slot.used = true;
            slot.head.unit.clone_from(&head.unit);
            slot.head.kind.clone_from(&head.kind);
        }
        match (&mut slot.cells, value) {
            (Cells::Numbers(values), Value::Number(number)) => {
                if values.len() < row {
                    values.resize(row, f64::NAN);
                }
                let overlap = values.len().min(row + count);
                let conflict = (row..overlap)
                    .find(|&r| !values[r].is_nan() && !number.is_nan() && values[r] != *number);
                for old in &mut values[row..overlap] {
                    if old.is_nan() {
                        *old = *number;
                    }
                }
                let end = values.len().max(row + count);
                values.resize(end, *number);
                conflict.map(|row| Conflict {
                    row,
                    kept: values[row].to_string(),
                })
            }
            (Cells::Texts { text, ends, index }, Value::Text(value)) => {
                if index.len() < row {
                    index.resize(row, NO_LABEL);
                }
                let overlap = index.len().min(row + count);
                let id = match value {
                    Some(value) => id(text, ends, value, &mut self.text_bytes),
                    None => NO_LABEL,
                };
                let conflict = (row..overlap).find(|&r| {
                    id != NO_LABEL
                        && index[r] != NO_LABEL
                        && part(text, ends, index[r]) != part(text, ends, id)
                });
                for old in &mut index[row..overlap] {
                    if *old == NO_LABEL {
                        *old = id;
                    }
                }
                let end = index.len().max(row + count);
                index.resize(end, id);
                conflict.map(|row| Conflict {
                    row,
                    kept: part(text, ends, index[row]).to_owned(),
                })
            }
            _ => None,
        }
    }

    /// The columns of a batch of `rows` rows; empty again.
    pub fn take(&mut self, rows: usize) -> (Vec<Column>, Vec<Labels>) {
        let mut numbers = Vec::new();
        let mut labels = Vec::new();
        for slot in &mut self.slots {
            if !std::mem::take(&mut slot.used) {
                continue;
            }
            let channel = slot.head.channel.clone();
            match (&mut slot.cells, &slot.head.kind) {
                (Cells::Numbers(values), Kind::Number(reference)) => {
                    values.resize(rows, f64::NAN);
                    numbers.push(Column {
                        channel,
                        unit: slot.head.unit.clone(),
                        reference: reference.clone(),
                        values: std::mem::take(values),
                    });
                }
                (Cells::Texts { text, ends, index }, Kind::Label(form)) => {
                    index.resize(rows, NO_LABEL);
                    labels.push(Labels {
                        channel,
                        form: (*form).to_owned(),
                        text: std::mem::take(text),
                        ends: std::mem::take(ends),
                        index: std::mem::take(index),
                    });
                }
                _ => {}
            }
        }
        self.text_bytes = 0;
        (numbers, labels)
    }
}

/// Index of a text; the one before is used again if it is the same.
fn id(text: &mut String, ends: &mut Vec<u32>, value: &str, bytes: &mut usize) -> u32 {
    let last = ends.len() as u32;
    if last > 0 && part(text, ends, last - 1) == value {
        return last - 1;
    }
    text.push_str(value);
    *bytes += value.len();
    ends.push(text.len() as u32);
    last
}

fn part<'t>(text: &'t str, ends: &[u32], index: u32) -> &'t str {
    let index = index as usize;
    let end = ends.get(index).map_or(0, |end| *end as usize);
    let start = match index {
        0 => 0,
        i => ends.get(i - 1).map_or(0, |end| *end as usize),
    };
    text.get(start..end).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn number(columns: &mut Columns) -> (usize, Head) {
        let head = Head {
            channel: "t-stop".into(),
            kind: Kind::Number(String::new()),
            unit: "T".into(),
        };
        (columns.slot("t-stop", &head.kind).unwrap(), head)
    }

    #[test]
    fn the_first_value_stays_and_a_different_one_is_told() {
        let mut columns = Columns::default();
        let (slot, head) = number(&mut columns);
        let mut put =
            |row, count, value| columns.put(slot, &head, row, count, &Value::Number(value));
        assert_eq!(put(2, 2, 2.0), None);
        assert_eq!(put(0, 3, 2.0), None);
        let conflict = put(2, 3, 4.0).unwrap();
        assert_eq!((conflict.row, &*conflict.kept), (2, "2"));
        let (numbers, _) = columns.take(6);
        assert_eq!(numbers[0].values[..5], [2.0, 2.0, 2.0, 2.0, 4.0]);
        assert!(numbers[0].values[5].is_nan());
        assert_eq!(columns.take(6).0, []);
    }

    #[test]
    fn texts_too() {
        let mut columns = Columns::default();
        let kind = Kind::Label("text");
        let slot = columns.slot("lens", &kind).unwrap();
        let head = Head {
            channel: "lens".into(),
            kind,
            unit: String::new(),
        };
        let text = |text: &str| Value::Text(Some(text.to_owned()));
        assert_eq!(columns.put(slot, &head, 1, 2, &text("A")), None);
        assert_eq!(columns.put(slot, &head, 0, 3, &text("A")), None);
        let conflict = columns.put(slot, &head, 1, 3, &text("B")).unwrap();
        assert_eq!((conflict.row, &*conflict.kept), (1, "A"));
        let labels = columns.take(5).1.remove(0);
        assert_eq!(labels.text, "AB");
        assert_eq!(labels.index, [0, 0, 0, 1, NO_LABEL]);
    }

    #[test]
    fn a_channel_has_one_kind() {
        let mut columns = Columns::default();
        number(&mut columns);
        assert_eq!(columns.slot("t-stop", &Kind::Label("text")), None);
        assert_eq!(columns.slot("t-stop", &Kind::Number("x".into())), Some(0));
    }
}
