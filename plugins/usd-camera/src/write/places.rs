//! Which output each attribute of a take goes to.
//!
//! Attributes stand in one order, whatever order their columns come in: those of the schema as
//! the table has them, then other numbers, then texts. So reading and writing again gives the
//! same bytes, and the attributes of the schema have their outputs set aside from the start.

use std::collections::HashSet;
use std::ops::Range;

use ringmark_sdk::Column;

use super::files::{Files, Sink};
use crate::fields::{FIELDS, is_of_schema};

/// Outputs for numbers that begin later, and as many for texts.
const SPARE: usize = 13;

/// Lines of the shutter: when it opens, when it closes, the exact angle.
const SHUTTER: usize = 3;

/// The head, the attributes of the table with their exact values, the shutter, which frames
/// there are, the end.
const FIXED: usize = 1 + 2 * FIELDS.len() + SHUTTER + 2;

/// What a line is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Slot {
    /// What stands before all attributes.
    Head,
    /// The attribute at this place of the table.
    Field(usize),
    /// Its exact values.
    Exact(usize),
    /// The shutter's lines.
    Shutter(usize),
    /// Another number.
    Number,
    /// A text.
    Text,
    /// Which frames there are.
    Recorded,
}

/// Outputs and names of attributes of one take.
#[derive(Default)]
pub struct Places {
    /// The first output; without it everything stays in memory.
    head: Option<usize>,
    numbers: Range<usize>,
    texts: Range<usize>,
    /// The last output, which ends the take.
    pub tail: Option<usize>,
    names: HashSet<String>,
}

impl Places {
    /// Sets outputs aside for a take that begins with these columns.
    pub fn reserve(&mut self, files: &mut Files, columns: &[Column], texts: usize) {
        let others = columns.iter().filter(|c| !is_of_schema(&c.channel));
        let numbers = others.filter(|c| c.channel != "frame").count();
        let outputs = files.reserve(FIXED + numbers + texts + 2 * SPARE);
        let Some(free) = outputs.len().checked_sub(FIXED) else {
            return;
        };
        let spare = match free.checked_sub(numbers + texts + 2 * SPARE) {
            Some(_) => SPARE,
            None => 0,
        };
        let first = outputs.start + FIXED - 2;
        let middle = first + free.min(numbers + spare);
        self.head = Some(outputs.start);
        self.numbers = first..middle;
        self.texts = middle..outputs.end - 2;
        self.tail = Some(outputs.end - 1);
    }

    /// A sink for one more attribute.
    pub fn sink(&mut self, slot: Slot) -> Sink {
        let Some(head) = self.head else {
            return Sink::default();
        };
        Sink::new(match slot {
            Slot::Head => Some(head),
            Slot::Field(index) => Some(head + 1 + 2 * index),
            Slot::Exact(index) => Some(head + 2 + 2 * index),
            Slot::Shutter(index) => Some(head + 1 + 2 * FIELDS.len() + index),
            Slot::Number => self.numbers.next(),
            Slot::Text => self.texts.next(),
            Slot::Recorded => self.tail.map(|tail| tail - 1),
        })
    }

    /// Takes the name of an attribute; `false` if it is taken already.
    pub fn take(&mut self, name: &str) -> bool {
        self.names.insert(name.to_owned())
    }

    /// Takes a name like `name`.
    pub fn near(&mut self, name: &str) -> String {
        if self.take(name) {
            return name.to_owned();
        }
        let mut number = 2;
        loop {
            let other = format!("{name}_{number}");
            if self.take(&other) {
                return other;
            }
            number += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::Output;
    use ringmark_sdk::native::MemoryOutput;

    fn outputs(count: usize) -> Files {
        let outputs: Vec<Box<dyn Output>> = (0..count)
            .map(|_| MemoryOutput::default().boxed())
            .collect();
        Files::new(outputs)
    }

    fn column(channel: &str) -> Column {
        Column {
            channel: channel.to_owned(),
            unit: String::new(),
            reference: String::new(),
            values: Vec::new(),
        }
    }

    #[test]
    fn no_output_is_given_away_twice() {
        let columns = ["frame", "t-stop", "extra/exposure", "focus-distance"].map(column);
        for count in 1..200 {
            let mut files = outputs(count);
            let mut used = HashSet::from([0]);
            for _ in 0..3 {
                let mut places = Places::default();
                places.reserve(&mut files, &columns, 1);
                let mut slots = vec![Slot::Head, Slot::Recorded, Slot::Number, Slot::Text];
                slots.extend((0..FIELDS.len()).flat_map(|n| [Slot::Field(n), Slot::Exact(n)]));
                slots.extend((0..SHUTTER).map(Slot::Shutter));
                let tail = places.tail;
                let given = slots.into_iter().map(|slot| places.sink(slot).output());
                for output in given.chain([tail]).flatten() {
                    assert!(output < count && used.insert(output), "{output} of {count}");
                }
            }
        }
    }
}
