//! Where each column of a batch goes in a sample, worked out once for many frames.
//!
//! The plan is a tree of keys. For each frame it is first asked which parts can be written by
//! the rules of the standard (objects with required members and arrays only as a whole), then
//! those parts are written. What was not written is kept aside by the caller.

mod build;
mod emit;
mod judge;

use ringmark_sdk::batch::label_text;
use ringmark_sdk::{Column, Labels};

use crate::constants::{Constant, Heads};
use crate::encode;
use crate::rules::{Rule, SAMPLE};
use crate::timecode::Label;

#[derive(Debug, Clone, PartialEq)]
enum Source {
    /// A column of numbers.
    Number {
        column: usize,
        /// Where all these columns have these values they are a fact already.
        fact: Vec<(usize, f64)>,
        /// The other column of a `{num, denom}` that is read as a whole.
        other: Option<usize>,
    },
    /// A column of texts. Texts equal to the second are a fact already.
    Text(usize, Option<String>),
    /// A column of JSON texts.
    Json(usize),
    /// A column of numbers that is written where it changes.
    Held(usize),
    /// A part of the time code label; the fourth is whether labels drop.
    Timecode(usize),
    Constant(usize),
}

#[derive(Debug)]
struct Node {
    /// `"key":`
    key: Vec<u8>,
    name: String,
    rule: &'static Rule,
    sources: Vec<Source>,
    members: Vec<usize>,
    elements: Vec<(usize, usize)>,
    /// Nodes of the members that may not miss; `None` if one has nothing to come from.
    required: Option<Vec<usize>>,
    /// Written whole or not at all.
    whole: bool,
    /// A fact that reading would conclude from columns here, though the take does not have it.
    implies: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Absent,
    /// Only there to complete others.
    Weak,
    Whole,
    /// There is a value, and it may not be written here.
    Broken,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Choice {
    Object,
    List,
    Source(usize),
}

/// The numbers and texts of one frame.
#[derive(Clone, Copy)]
pub struct Row<'a> {
    /// Columns of numbers.
    pub columns: &'a [Column],
    /// Columns of texts.
    pub labels: &'a [Labels],
    /// Frame of the batch.
    pub row: usize,
    /// Whether it is the first frame of the take.
    pub first: bool,
}

impl<'a> Row<'a> {
    /// The frame's number in a column; NaN if not recorded.
    pub fn number(&self, column: usize) -> f64 {
        self.columns
            .get(column)
            .and_then(|c| c.values.get(self.row))
            .copied()
            .unwrap_or(f64::NAN)
    }

    /// The frame's text in a column.
    pub fn text(&self, column: usize) -> Option<&'a str> {
        label_text(self.labels.get(column)?, self.row)
    }
}

/// A column whose value holds until the next one, and the value written last.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Column of numbers.
    pub column: usize,
    /// NaN if none was written.
    pub last: f64,
}

/// What was written of a frame.
#[derive(Debug, Default)]
pub struct Written {
    /// Columns of numbers.
    pub numbers: Vec<bool>,
    /// Columns of texts.
    pub texts: Vec<bool>,
    /// Facts, by index in [`Heads`].
    pub facts: Vec<bool>,
    /// Facts that reading must not conclude.
    pub implied: Vec<String>,
    /// What stands at keys of facts: the fact, the row of the table, and whether the fact
    /// stands there or a value of the frame's own.
    at_keys: Vec<(usize, usize, bool)>,
}

/// The plan for batches with the same columns.
pub struct Plan {
    nodes: Vec<Node>,
    states: Vec<(State, Choice)>,
    constants: Vec<Constant>,
    timecode_column: Option<usize>,
    timecode: Option<Label>,
    /// Index and value of the fact how labels count.
    counting: Option<(usize, bool)>,
    /// Columns whose values hold.
    pub held: Vec<Held>,
    /// What was written of the frame last.
    pub written: Written,
}

impl Plan {
    /// A plan for these columns and facts.
    pub fn new(columns: &[Column], labels: &[Labels], heads: &Heads) -> Self {
        let counting = match heads.take_text("counting") {
            Some((fact, "drop-frame")) => Some((fact, true)),
            Some((fact, "non-drop")) => Some((fact, false)),
            _ => None,
        };
        let mut plan = Plan {
            nodes: vec![Node::new(String::new(), &SAMPLE)],
            states: Vec::new(),
            constants: heads.constants(),
            timecode_column: None,
            timecode: None,
            counting,
            held: Vec::new(),
            written: Written {
                numbers: vec![false; columns.len()],
                texts: vec![false; labels.len()],
                facts: vec![false; heads.len()],
                implied: Vec::new(),
                at_keys: Vec::new(),
            },
        };
        for index in 0..columns.len() {
            plan.add_numbers(index, columns, heads);
        }
        for (index, column) in labels.iter().enumerate() {
            plan.add_texts(index, column, heads);
        }
        // Behind the columns: a frame's own value goes before the take's.
        for index in 0..plan.constants.len() {
            let path = plan.constants[index].path.clone();
            plan.attach(&path, Source::Constant(index));
        }
        plan.settle();
        plan
    }

    /// Writes the members of a sample, each after a comma, and notes what was written.
    pub fn write(&mut self, row: Row<'_>, out: &mut Vec<u8>) {
        self.written.numbers.fill(false);
        self.written.texts.fill(false);
        self.written.implied.clear();
        self.written.at_keys.clear();
        self.timecode = self
            .timecode_column
            .and_then(|column| row.text(column))
            .and_then(Label::parse);
        self.judge(0, row);
        for at in 0..self.nodes[0].members.len() {
            let member = self.nodes[0].members[at];
            if self.states[member].0 == State::Whole {
                out.push(b',');
                out.extend_from_slice(&self.nodes[member].key);
                self.emit(member, row, out);
            }
        }
        self.settle_facts();
        for held in &self.held {
            if held.last.to_bits() == row.number(held.column).to_bits() && !held.last.is_nan() {
                self.written.numbers[held.column] = true;
            }
        }
    }

    /// A fact need not be kept aside if reading finds it at the first of its keys.
    fn settle_facts(&mut self) {
        self.written.at_keys.sort_unstable();
        let mut last = None;
        for &(fact, _, stands) in &self.written.at_keys {
            if last.replace(fact) != Some(fact) {
                self.written.facts[fact] = stands;
            }
        }
    }
}

impl Source {
    fn number(column: usize) -> Self {
        Source::Number {
            column,
            fact: Vec::new(),
            other: None,
        }
    }
}

impl Node {
    fn new(name: String, rule: &'static Rule) -> Self {
        let mut key = Vec::new();
        encode::push_text(&mut key, &name);
        key.push(b':');
        Node {
            key,
            name,
            rule,
            sources: Vec::new(),
            members: Vec::new(),
            elements: Vec::new(),
            required: None,
            whole: false,
            implies: None,
        }
    }
}
