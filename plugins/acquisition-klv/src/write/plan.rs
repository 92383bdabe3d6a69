//! Where each column of a batch goes.

use ringmark_sdk::{Column, Failure, Frames, failure};

use crate::columns::FOCUS;
use crate::fields::{
    CAPTURE_RATE, EXTRA, FIELDS, FROM_FRONT_VERTEX, FROM_IMAGE_PLANE, SENSOR_HEIGHT, SENSOR_WIDTH,
    Unit, index_by_name, index_of,
};
use crate::frames::{item_of_extra, set_of_extra};
use crate::klv::Key;
use crate::private::Form;

/// What an item holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Holds {
    /// Numbers of a column.
    Number(usize),
    /// Texts of a column.
    Text(usize),
    /// A fact of the take, if nothing else states the item.
    Fact,
    /// Bytes of a column, if nothing else states the item.
    Bytes(usize),
}

/// An item and what it holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// Its set.
    pub unit: Unit,
    /// Its tag.
    pub tag: u16,
    /// Its index among the items that are known.
    pub field: Option<usize>,
    /// Its value.
    pub holds: Holds,
}

/// Name, form, unit and reference of a column, and its number in private parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Channel or extra.
    pub name: String,
    /// What its values are.
    pub form: Form,
    /// Unit of its values.
    pub unit: String,
    /// What distances are measured from.
    pub reference: String,
    /// Its number, once it has one.
    pub id: Option<u16>,
}

/// Where each column goes.
pub struct Plan {
    /// Items, by set and tag.
    pub sources: Vec<Source>,
    /// Whole sets: key, which of its kind in the frame, column.
    pub sets: Vec<(Key, usize, usize)>,
    /// Columns of numbers that no item holds.
    pub aside_numbers: Vec<usize>,
    /// Columns of texts that no item holds.
    pub aside_texts: Vec<usize>,
    /// The column `focus-distance`, if an item may hold it.
    pub focus: Option<usize>,
    /// The column of distances from the front vertex, if an item may hold it.
    pub front_vertex: Option<usize>,
    /// All columns of numbers.
    pub numbers: Vec<Head>,
    /// All columns of texts.
    pub texts: Vec<Head>,
}

impl Plan {
    /// Where the columns of this batch go.
    pub fn new(frames: &Frames) -> Result<Plan, Failure> {
        let mut plan = Plan {
            sources: Vec::new(),
            sets: Vec::new(),
            aside_numbers: Vec::new(),
            aside_texts: Vec::new(),
            focus: None,
            front_vertex: None,
            numbers: Vec::new(),
            texts: Vec::new(),
        };
        for (index, column) in frames.columns.iter().enumerate() {
            plan.number(index, column);
        }
        for (index, labels) in frames.labels.iter().enumerate() {
            let form = Form::of_texts(&labels.form).ok_or_else(|| {
                failure(
                    format!("texts of {} have an unknown form", labels.channel),
                    "report this to the authors of the program",
                    None,
                )
            })?;
            plan.text(index, &labels.channel, form);
        }
        for tag in [SENSOR_WIDTH, SENSOR_HEIGHT, CAPTURE_RATE] {
            plan.source(index_of(Unit::Camera, tag), Holds::Fact, Unit::Camera, tag);
        }
        plan.sources
            .sort_by_key(|s| (s.unit == Unit::Camera, s.tag, s.holds));
        plan.sets.sort();
        Ok(plan)
    }

    /// Whether the columns of this batch are those of the plan.
    pub fn fits(&self, frames: &Frames) -> bool {
        self.numbers.len() == frames.columns.len()
            && self.texts.len() == frames.labels.len()
            && self.numbers.iter().zip(&frames.columns).all(|(head, c)| {
                head.name == c.channel && head.unit == c.unit && head.reference == c.reference
            })
            && self.texts.iter().zip(&frames.labels).all(|(head, l)| {
                head.name == l.channel && Some(head.form) == Form::of_texts(&l.form)
            })
    }

    fn source(&mut self, field: Option<usize>, holds: Holds, unit: Unit, tag: u16) {
        self.sources.push(Source {
            unit,
            tag,
            field,
            holds,
        });
    }

    fn item(&mut self, field: usize, holds: Holds) {
        let known = &FIELDS[field];
        self.source(Some(field), holds, known.unit, known.tag);
    }

    fn number(&mut self, index: usize, column: &Column) {
        self.numbers.push(Head {
            name: column.channel.clone(),
            form: Form::Number,
            unit: column.unit.clone(),
            reference: column.reference.clone(),
            id: None,
        });
        let field = index_by_name(&column.channel).filter(|field| {
            let known = &FIELDS[*field];
            known.codec.is_number()
                && known.symbol == column.unit
                && (column.reference.is_empty() || known.name == FOCUS)
        });
        let Some(field) = field else {
            return self.aside_numbers.push(index);
        };
        // Which of two items holds the focus distance is known with its first value.
        match field {
            FROM_IMAGE_PLANE => {
                self.focus = Some(index);
                self.item(FROM_FRONT_VERTEX, Holds::Number(index));
            }
            FROM_FRONT_VERTEX => self.front_vertex = Some(index),
            _ => {}
        }
        self.item(field, Holds::Number(index));
    }

    fn text(&mut self, index: usize, name: &str, form: Form) {
        self.texts.push(Head {
            name: name.to_owned(),
            form,
            unit: String::new(),
            reference: String::new(),
            id: None,
        });
        let field = index_by_name(name).filter(|field| {
            let codec = FIELDS[*field].codec;
            !codec.is_number() && codec.form() == form.name()
        });
        if let Some(field) = field {
            self.item(field, Holds::Text(index));
        } else if form == Form::Hex && name.starts_with(EXTRA) {
            if let Some((unit, tag)) = item_of_extra(name) {
                self.source(index_of(unit, tag), Holds::Bytes(index), unit, tag);
            } else if let Some((key, number)) = set_of_extra(name) {
                self.sets.push((key, number, index));
            } else {
                self.aside_texts.push(index);
            }
        } else {
            self.aside_texts.push(index);
        }
    }
}
