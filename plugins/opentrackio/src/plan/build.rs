//! Finds the place of each column.

use ringmark_sdk::{Column, Labels};

use super::{Choice, Held, Node, Plan, Source, State};
use crate::constants::Heads;
use crate::fields::{self, Owner, RatioPart};
use crate::path::{self, Step};
use crate::rules::{Rule, SAMPLE};

/// Deepest place that is written; readers have their limits too.
const MAX_STEPS: usize = 48;

/// The label column of time codes and its parts in the standard.
const TIMECODE_PARTS: [&str; 5] = [
    "timing.timecode.hours",
    "timing.timecode.minutes",
    "timing.timecode.seconds",
    "timing.timecode.frames",
    "timing.timecode.dropFrame",
];

impl Plan {
    pub(super) fn add_numbers(&mut self, index: usize, columns: &[Column], heads: &Heads) {
        let column = &columns[index];
        if let Some(field) = fields::place_of(&column.channel) {
            if field.unit == column.unit {
                if field.holds {
                    if self.attach(field.path, Source::Held(index)).is_some() {
                        self.held.push(Held {
                            column: index,
                            last: f64::NAN,
                        });
                    }
                } else {
                    self.attach(field.path, Source::number(index));
                }
            }
        } else if let Some(path) = extra_place(&column.channel)
            && column.unit.is_empty()
        {
            let Some(source) = self.extra_numbers(index, path, columns, heads) else {
                return;
            };
            if let Some(node) = self.attach(path, source) {
                self.nodes[node].implies = implied(path, heads);
            }
        }
    }

    pub(super) fn add_texts(&mut self, index: usize, column: &Labels, heads: &Heads) {
        if column.channel == "timecode" && column.form == "text" {
            self.timecode_column = Some(index);
            for (part, path) in TIMECODE_PARTS.iter().enumerate() {
                self.attach(path, Source::Timecode(part));
            }
        } else if let Some(path) = extra_place(&column.channel) {
            if self.kept_aside(path, heads) {
                return;
            }
            let source = match &*column.form {
                "text" => Source::Text(index, self.constant(path)),
                "json" => Source::Json(index),
                _ => return,
            };
            if let Some(node) = self.attach(path, source) {
                self.nodes[node].implies = implied(path, heads);
            }
        }
    }

    /// The value that the take's fact has at a place.
    fn constant<T: serde::de::DeserializeOwned>(&self, path: &str) -> Option<T> {
        let constant = self.constants.iter().find(|c| c.path == path)?;
        serde_json::from_slice(&constant.json).ok()
    }

    /// Whether the take has the fact of this place and it cannot be written here.
    fn kept_aside(&self, path: &str, heads: &Heads) -> bool {
        fact_of(path).is_some_and(|(owner, fact)| heads.has(owner, &fact))
            && !self.constants.iter().any(|c| c.path == path)
    }

    /// The source that an extra is at its place; `None` if it may not be written there.
    fn extra_numbers(
        &self,
        column: usize,
        path: &str,
        columns: &[Column],
        heads: &Heads,
    ) -> Option<Source> {
        let find = |path: &str, part: &str| {
            columns
                .iter()
                .position(|c| c.channel == format!("extra/{path}.{part}") && c.unit.is_empty())
        };
        match fields::fact_at(path) {
            Some((field, RatioPart::Num | RatioPart::Denom)) => {
                let num = find(field.path, "num")?;
                let denom = find(field.path, "denom")?;
                let fact = heads.rational(field);
                Some(Source::Number {
                    column,
                    fact: fact.map_or_else(Vec::new, |fact| {
                        vec![(num, fact.num.into()), (denom, fact.denom.into())]
                    }),
                    other: Some(if column == num { denom } else { num }),
                })
            }
            _ if self.kept_aside(path, heads) => None,
            _ => Some(Source::Number {
                column,
                fact: self
                    .constant(path)
                    .map(|fact| (column, fact))
                    .into_iter()
                    .collect(),
                other: None,
            }),
        }
    }

    /// Puts a source at a place; `None` if the standard has no such place for a single value.
    pub(super) fn attach(&mut self, path: &str, source: Source) -> Option<usize> {
        let steps = path::parse(path)?;
        if steps.len() > MAX_STEPS {
            return None;
        }
        let mut rule = &SAMPLE;
        for step in &steps {
            rule = match step {
                Step::Key(key) => rule.member(key)?,
                Step::Index(index) => rule.element(*index)?,
            };
        }
        if !rule.is_leaf() {
            return None;
        }
        let mut node = 0;
        for step in steps {
            node = self.child(node, step)?;
        }
        self.nodes[node].sources.push(source);
        Some(node)
    }

    fn child(&mut self, parent: usize, step: Step<'_>) -> Option<usize> {
        let rule = self.nodes[parent].rule;
        let fresh = self.nodes.len();
        match step {
            Step::Key(key) => {
                let known = &self.nodes[parent].members;
                if let Some(&node) = known.iter().find(|&&m| self.nodes[m].name == key) {
                    return Some(node);
                }
                self.nodes
                    .push(Node::new(key.to_string(), rule.member(&key)?));
                self.nodes[parent].members.push(fresh);
            }
            Step::Index(index) => {
                let known = &self.nodes[parent].elements;
                if let Some(&(_, node)) = known.iter().find(|(i, _)| *i == index) {
                    return Some(node);
                }
                self.nodes
                    .push(Node::new(String::new(), rule.element(index)?));
                self.nodes[parent].elements.push((index, fresh));
            }
        }
        Some(fresh)
    }

    /// Brings children into order and finds those that may not miss.
    pub(super) fn settle(&mut self) {
        for index in 0..self.nodes.len() {
            let rule = self.nodes[index].rule;
            let mut members = std::mem::take(&mut self.nodes[index].members);
            // By name where the standard gives no order: that of columns differs after reading.
            let key = |m: usize| (rule.order(&self.nodes[m].name), &self.nodes[m].name);
            members.sort_by(|&a, &b| key(a).cmp(&key(b)));
            let mut required = Some(Vec::new());
            if let Rule::Object {
                required: names, ..
            } = rule
            {
                self.nodes[index].whole = !names.is_empty();
                required = names
                    .iter()
                    .map(|name| {
                        members
                            .iter()
                            .copied()
                            .find(|&m| self.nodes[m].name == *name)
                    })
                    .collect();
            }
            let node = &mut self.nodes[index];
            node.required = required;
            node.members = members;
            node.elements.sort_unstable();
        }
        self.states = vec![(State::Absent, Choice::Object); self.nodes.len()];
    }
}

/// The place of an extra that may go back to it. Keys that hold a channel, or that tell one
/// lens from another, belong to the columns of the registry alone.
fn extra_place(name: &str) -> Option<&str> {
    let path = name.strip_prefix("extra/")?;
    let taken = fields::channel_at(path).is_some()
        || TIMECODE_PARTS.contains(&path)
        || fields::fact_at(path)
            .is_some_and(|(field, _)| field.form == fields::FactForm::LensIdentity);
    (!taken).then_some(path)
}

/// The fact that reading makes of a value at `path`, if it does.
fn fact_of(path: &str) -> Option<(Owner, String)> {
    match fields::fact_at(path) {
        Some((field, _)) => Some((field.owner, field.fact.to_owned())),
        None if path.starts_with("static.") => Some((Owner::Take, format!("extra/{path}"))),
        None => None,
    }
}

/// The fact that reading would conclude from a value at `path`, if the take does not have it.
fn implied(path: &str, heads: &Heads) -> Option<String> {
    let (owner, fact) = fact_of(path)?;
    (!heads.has(owner, &fact)).then_some(fact)
}
