//! What private parts say about the take as a whole, and the items at its head.

use ringmark_sdk::{Datum, Fact, Item, Lens, Take, fact};

use crate::columns::{Columns, Naming};
use crate::fields::SENSOR_FACTS;
use crate::header_metadata::Timing;
use crate::private::{self, Record};

/// Facts of the take.
#[derive(Default)]
pub struct Head {
    lenses: Vec<Vec<Fact>>,
    facts: Vec<Fact>,
    lens: Option<u32>,
    /// Names that items seem to state and the source did not.
    pub hidden: Vec<String>,
    /// What `focus-distance` is measured from.
    pub focus: Option<String>,
    /// What the container says.
    pub timing: Timing,
}

impl Head {
    /// Takes in the records of the private part of frame `row`; those about the take only while
    /// it is the `first` batch. `false` if they are damaged.
    pub fn take_in(
        &mut self,
        records: &mut &[u8],
        columns: &mut Columns,
        ids: &mut Vec<Option<usize>>,
        row: usize,
        first: bool,
    ) -> bool {
        loop {
            let record = match private::next(records) {
                Ok(Some(record)) => record,
                Ok(None) => return true,
                Err(()) => return false,
            };
            let column_of =
                |ids: &[Option<usize>], id: u16| ids.get(usize::from(id)).copied().flatten();
            match record {
                Record::Column {
                    id,
                    form,
                    name,
                    unit,
                    reference,
                } => {
                    let Some(column) = columns.declare(name, form, unit, reference) else {
                        return false;
                    };
                    let id = usize::from(id);
                    if ids.len() <= id {
                        ids.resize(id + 1, None);
                    }
                    ids[id] = Some(column);
                }
                Record::Number { id, value } => match column_of(ids, id) {
                    Some(column) => columns.set_own(column, row, value),
                    None => return false,
                },
                Record::Text { id, text } => match column_of(ids, id) {
                    Some(column) => columns.set_own_text(column, row, text),
                    None => return false,
                },
                // The head of the take was handed out.
                Record::Lens | Record::Fact { .. } | Record::TakeLens(_) | Record::Hidden(_)
                    if !first => {}
                Record::Lens => self.lenses.push(Vec::new()),
                Record::Fact {
                    of_take,
                    name,
                    unit,
                    value,
                } => {
                    let facts = if of_take {
                        Some(&mut self.facts)
                    } else {
                        self.lenses.last_mut()
                    };
                    let Some(facts) = facts else {
                        return false;
                    };
                    facts.push(Fact {
                        name: name.to_owned(),
                        value,
                        unit: unit.to_owned(),
                        at: None,
                    });
                }
                Record::TakeLens(lens) => self.lens = Some(lens),
                Record::Hidden(name) => self.hidden.push(name.to_owned()),
                Record::Focus(reference) => self.focus = Some(reference.to_owned()),
            }
        }
    }

    /// The sensor's size as facts: those of a private part, else those of the first items.
    pub fn sensor(&self, items: [Option<f64>; 2]) -> [Option<f64>; 2] {
        let mut facts = items;
        for (fact, (_, name, unit)) in facts.iter_mut().zip(SENSOR_FACTS) {
            let private = self.facts.iter().find(|f| f.name == name);
            match private.map(|f| (&f.value, &*f.unit)) {
                Some((Datum::Number(number), symbol)) if symbol == unit => *fact = Some(*number),
                Some(_) => *fact = None,
                None if self.hidden.iter().any(|hidden| hidden == name) => *fact = None,
                None => {}
            }
        }
        facts
    }

    /// The items in front of the first frames.
    pub fn items(&self, naming: &Naming) -> Vec<Item> {
        let mut items: Vec<Item> = self
            .lenses
            .iter()
            .map(|facts| {
                Item::Lens(Lens {
                    facts: facts.clone(),
                    rings: Vec::new(),
                    tables: Vec::new(),
                })
            })
            .collect();
        let mut facts = self.facts.clone();
        let mut add = |new: Fact| {
            if facts.iter().all(|known| known.name != new.name) {
                facts.push(new);
            }
        };
        for ((_, name, unit), value) in SENSOR_FACTS.into_iter().zip(naming.sensor) {
            if let Some(value) = value {
                add(Fact {
                    name: name.to_owned(),
                    value: Datum::Number(value),
                    unit: unit.to_owned(),
                    at: None,
                });
            }
        }
        for (name, text) in [
            ("frame-rate", self.timing.rate.as_deref()),
            ("counting", self.timing.counting),
            ("start-timecode", self.timing.start.as_deref()),
        ] {
            if let Some(text) = text {
                add(fact(name, text, None));
            }
        }
        let lens = self
            .lens
            .filter(|lens| (*lens as usize) < self.lenses.len());
        items.push(Item::Take(Take { lens, facts }));
        items
    }
}
