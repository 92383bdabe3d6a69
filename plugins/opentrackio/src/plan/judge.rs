//! What can be written of a frame by the rules of the standard.

use super::{Choice, Plan, Row, Source, State};
use crate::constants::When;

impl Plan {
    /// Finds out what can be written of a node and all below.
    pub(super) fn judge(&mut self, index: usize, row: Row<'_>) -> State {
        let members = self.judge_members(index, row);
        let elements = self.judge_elements(index, row);
        let (single, source) = self.judge_sources(index, row);
        let options = [
            (members, Choice::Object),
            (elements, Choice::List),
            (single, Choice::Source(source)),
        ];
        let best = [State::Whole, State::Broken, State::Weak]
            .into_iter()
            .find_map(|wanted| options.into_iter().find(|(state, _)| *state == wanted));
        self.states[index] = best.unwrap_or((State::Absent, Choice::Object));
        self.states[index].0
    }

    fn judge_members(&mut self, index: usize, row: Row<'_>) -> State {
        let (mut any, mut broken, mut weak) = (false, false, false);
        for at in 0..self.nodes[index].members.len() {
            let member = self.nodes[index].members[at];
            match self.judge(member, row) {
                State::Whole => any = true,
                State::Broken => broken = true,
                State::Weak => weak = true,
                State::Absent => {}
            }
        }
        let node = &self.nodes[index];
        let complete = node.required.as_ref().is_some_and(|required| {
            required
                .iter()
                .all(|&m| matches!(self.states[m].0, State::Whole | State::Weak))
        });
        match (any, broken) {
            (_, true) if node.whole || !any => State::Broken,
            (true, _) if complete => State::Whole,
            (true, _) => State::Broken,
            (false, _) if weak && complete => State::Weak,
            (false, _) => State::Absent,
        }
    }

    fn judge_elements(&mut self, index: usize, row: Row<'_>) -> State {
        let mut whole = 0;
        let mut broken = false;
        for at in 0..self.nodes[index].elements.len() {
            let (position, element) = self.nodes[index].elements[at];
            match self.judge(element, row) {
                State::Whole if position == whole => whole += 1,
                State::Whole | State::Broken => broken = true,
                State::Weak | State::Absent => {}
            }
        }
        match (broken, whole) {
            (true, _) => State::Broken,
            (false, 0) => State::Absent,
            (false, _) => State::Whole,
        }
    }

    fn judge_sources(&self, index: usize, row: Row<'_>) -> (State, usize) {
        let node = &self.nodes[index];
        let allowed = |good: bool| if good { State::Whole } else { State::Broken };
        for (at, source) in node.sources.iter().enumerate() {
            let state = match source {
                Source::Number {
                    column,
                    fact,
                    other,
                } => {
                    let value = row.number(*column);
                    let same = |&(column, fact): &(usize, f64)| {
                        row.number(column).to_bits() == fact.to_bits()
                    };
                    if value.is_nan() || (!fact.is_empty() && fact.iter().all(same)) {
                        continue;
                    }
                    let complete = other.is_none_or(|other| !row.number(other).is_nan());
                    allowed(complete && node.rule.allows_number(value))
                }
                Source::Held(column) => {
                    let value = row.number(*column);
                    let last = self.held.iter().find(|h| h.column == *column);
                    if value.is_nan() || last.is_some_and(|h| h.last.to_bits() == value.to_bits()) {
                        continue;
                    }
                    allowed(node.rule.allows_number(value))
                }
                Source::Text(column, fact) => match row.text(*column) {
                    Some(text) if fact.as_deref() != Some(text) => {
                        allowed(node.rule.allows_text(text))
                    }
                    _ => continue,
                },
                Source::Json(column) => match row.text(*column) {
                    Some(json) => allowed(node.rule.allows_json(json)),
                    None => continue,
                },
                Source::Timecode(part) => match (self.timecode, part) {
                    (None, _) => continue,
                    (Some(label), 4) if label.drop => State::Whole,
                    // `false` is only written where the take says so: not every source knows.
                    (Some(_), 4) if matches!(self.counting, Some((_, false))) => State::Whole,
                    (Some(label), part) => match label.parts.get(*part) {
                        Some(&number) => allowed(node.rule.allows_number(number.into())),
                        None => continue,
                    },
                },
                Source::Constant(constant) => match self.constants[*constant].when {
                    When::Always => State::Whole,
                    When::Once if row.first => State::Whole,
                    When::Once | When::WithOthers => State::Weak,
                },
            };
            return (state, at);
        }
        (State::Absent, 0)
    }
}
