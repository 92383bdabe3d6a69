//! Items of the lens and the camera unit set of a frame.

use ringmark_sdk::Frames;
use ringmark_sdk::batch::label_text;

use super::SetWriter;
use super::plan::{Holds, Plan, Source};
use crate::fields::{FIELDS, FROM_FRONT_VERTEX, FROM_IMAGE_PLANE, HEIGHT, RATE, Unit, WIDTH};
use crate::item::{Value, decode, encode_number, encode_text, holds};
use crate::klv::from_hex;
use crate::local_set;

/// What items may seem to state although the source did not: the sensor's size as facts, the
/// capture rate as a channel.
pub const HIDDEN: [&str; 3] = ["sensor-width", "sensor-height", "capture-rate"];

/// Which of the sensor's sizes an item is.
fn size_of(field: Option<usize>) -> Option<usize> {
    match field {
        Some(WIDTH) => Some(0),
        Some(HEIGHT) => Some(1),
        _ => None,
    }
}

impl SetWriter {
    /// Fills the two sets; items stand by tag.
    pub(super) fn fill_units(&mut self, plan: &Plan, frames: &Frames, row: usize) {
        let mut last = None;
        for source in &plan.sources {
            self.frame.value.clear();
            let stated = last == Some((source.unit, source.tag));
            let written = match source.holds {
                Holds::Number(column) => {
                    let value = frames.columns[column].values[row];
                    !value.is_nan() && self.number(source, plan, column, value)
                }
                Holds::Text(labels) => {
                    let text = label_text(&frames.labels[labels], row);
                    text.is_some_and(|text| self.text(source, labels, text))
                }
                Holds::Fact => !stated && self.fact(source),
                Holds::Bytes(labels) => {
                    let text = label_text(&frames.labels[labels], row);
                    text.is_some_and(|text| self.bytes(source, labels, text, stated))
                }
            };
            if written {
                let body = match source.unit {
                    Unit::Lens => &mut self.frame.lens,
                    Unit::Camera => &mut self.frame.camera,
                };
                local_set::push(body, source.tag, &self.frame.value);
                last = Some((source.unit, source.tag));
            }
        }
    }

    /// Codes a number; what the code does not keep goes aside. `true` if there is a code.
    fn number(&mut self, source: &Source, plan: &Plan, column: usize, value: f64) -> bool {
        let Some(index) = source.field else {
            return false;
        };
        let by_vertex = self.focus.as_ref().is_some_and(|focus| focus.by_vertex);
        if plan.focus == Some(column) {
            let from_vertex = plan.numbers[column].reference == "front-vertex";
            let here = match index {
                FROM_FRONT_VERTEX => by_vertex,
                _ => !by_vertex && !from_vertex,
            };
            if !here {
                // The column has two items; where neither holds it, it goes aside once.
                if index == FROM_IMAGE_PLANE && by_vertex != from_vertex {
                    self.frame.numbers.push(column);
                }
                return false;
            }
        } else if index == FROM_FRONT_VERTEX && by_vertex {
            self.frame.numbers.push(column);
            return false;
        }
        let Some(take) = &mut self.take else {
            return false;
        };
        if index == RATE && take.rate_hidden {
            self.frame.numbers.push(column);
            return false;
        }
        let field = &FIELDS[index];
        let coded = encode_number(field.codec, value, &mut self.frame.value);
        let kept = if field.is_extra() {
            let back = decode(field.codec, &self.frame.value);
            coded && matches!(back, Ok((Value::Number(back), _)) if back == value)
        } else {
            holds(field.codec, value)
        };
        if let Some(which) = size_of(source.field) {
            if take.is_sensor(which, &self.frame.value) {
                self.frame.numbers.push(column);
                return false;
            }
            if coded && !take.has_sensor(which) && !take.sensor_hidden[which] {
                take.sensor_hidden[which] = true;
                self.frame.hides[which] = true;
            }
        }
        if !kept {
            self.frame.numbers.push(column);
        }
        coded
    }

    fn text(&mut self, source: &Source, labels: usize, text: &str) -> bool {
        let codec = source.field.map(|field| FIELDS[field].codec);
        let value = &mut self.frame.value;
        let coded = text.len() <= usize::from(u16::MAX)
            && codec.is_some_and(|codec| encode_text(codec, text, value));
        if !coded {
            self.frame.texts.push(labels);
        }
        coded
    }

    /// A fact of the take that the item states.
    fn fact(&mut self, source: &Source) -> bool {
        let Some(take) = &mut self.take else {
            return false;
        };
        let first = self.frames == 0;
        match size_of(source.field) {
            Some(which) => match take.sensor_code(which) {
                Some(code) => {
                    self.frame.value.extend_from_slice(&code);
                    self.frame.states_sensor[which] = true;
                    true
                }
                None => false,
            },
            None => match take.rate_code() {
                Some(code) if first || take.rate_hidden => {
                    self.frame.hides[2] = first;
                    take.rate_hidden = true;
                    self.frame.value.extend_from_slice(&code);
                    true
                }
                _ => false,
            },
        }
    }

    /// Bytes as they came, unless they would be read as something else.
    fn bytes(&mut self, source: &Source, labels: usize, text: &str, stated: bool) -> bool {
        let kept = |bytes: &Vec<u8>| match source.field {
            Some(field) => matches!(decode(FIELDS[field].codec, bytes), Ok((Value::Kept, _))),
            None => true,
        };
        let bytes = from_hex(text)
            .filter(|bytes| !stated && bytes.len() <= usize::from(u16::MAX) && kept(bytes));
        match bytes {
            Some(bytes) => {
                self.frame.value = bytes;
                true
            }
            None => {
                self.frame.texts.push(labels);
                false
            }
        }
    }
}
