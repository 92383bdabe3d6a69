//! Writes what was judged to be writable.

use super::{Choice, Plan, Row, Source, State};
use crate::encode;

impl Plan {
    pub(super) fn emit(&mut self, index: usize, row: Row<'_>, out: &mut Vec<u8>) {
        match self.states[index].1 {
            Choice::Object => {
                out.push(b'{');
                let mut first = true;
                for at in 0..self.nodes[index].members.len() {
                    let member = self.nodes[index].members[at];
                    let state = self.states[member].0;
                    if state == State::Whole || (state == State::Weak && self.nodes[index].whole) {
                        if !std::mem::take(&mut first) {
                            out.push(b',');
                        }
                        out.extend_from_slice(&self.nodes[member].key);
                        self.emit(member, row, out);
                    }
                }
                out.push(b'}');
            }
            Choice::List => {
                out.push(b'[');
                let mut first = true;
                for at in 0..self.nodes[index].elements.len() {
                    let (_, element) = self.nodes[index].elements[at];
                    if self.states[element].0 == State::Whole {
                        if !std::mem::take(&mut first) {
                            out.push(b',');
                        }
                        self.emit(element, row, out);
                    }
                }
                out.push(b']');
            }
            Choice::Source(source) => self.emit_source(index, source, row, out),
        }
    }

    fn emit_source(&mut self, index: usize, source: usize, row: Row<'_>, out: &mut Vec<u8>) {
        let node = &self.nodes[index];
        let Some(source) = node.sources.get(source) else {
            return;
        };
        if !matches!(source, Source::Constant(_)) {
            self.written.implied.extend(node.implies.clone());
            for source in &node.sources {
                if let Source::Constant(constant) = source {
                    let constant = &self.constants[*constant];
                    let facts = constant
                        .facts
                        .iter()
                        .map(|fact| (*fact, constant.row, false));
                    self.written.at_keys.extend(facts);
                }
            }
        }
        match source {
            Source::Number { column, .. } => {
                node.rule.push_number(out, row.number(*column));
                self.written.numbers[*column] = true;
            }
            Source::Held(column) => {
                let value = row.number(*column);
                node.rule.push_number(out, value);
                for held in self.held.iter_mut().filter(|h| h.column == *column) {
                    held.last = value;
                }
            }
            Source::Text(column, _) => {
                encode::push_text(out, row.text(*column).unwrap_or_default());
                self.written.texts[*column] = true;
            }
            Source::Json(column) => {
                out.extend_from_slice(row.text(*column).unwrap_or_default().as_bytes());
                self.written.texts[*column] = true;
            }
            Source::Timecode(part) => self.emit_timecode(*part, out),
            Source::Constant(constant) => {
                let constant = &self.constants[*constant];
                out.extend_from_slice(&constant.json);
                if row.first {
                    let facts = constant
                        .facts
                        .iter()
                        .map(|fact| (*fact, constant.row, true));
                    self.written.at_keys.extend(facts);
                }
                self.written
                    .implied
                    .extend(constant.implies.map(str::to_owned));
            }
        }
    }

    fn emit_timecode(&mut self, part: usize, out: &mut Vec<u8>) {
        let Some(label) = self.timecode else { return };
        if let Some(&number) = label.parts.get(part) {
            out.extend_from_slice(itoa::Buffer::new().format(number).as_bytes());
            if let Some(column) = self.timecode_column {
                self.written.texts[column] = true;
            }
            return;
        }
        out.extend_from_slice(if label.drop { b"true" } else { b"false" });
        match self.counting {
            Some((fact, drop)) if drop == label.drop => self.written.facts[fact] = true,
            Some(_) => {}
            None => self.written.implied.push("counting".to_owned()),
        }
    }
}
