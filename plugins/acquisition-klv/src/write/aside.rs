//! What goes to the private part of a frame.

use std::collections::HashMap;

use ringmark_sdk::batch::label_text;
use ringmark_sdk::{Fact, Failure, Frames, failure};

use super::plan::{Head, Plan};
use super::take_facts::{TakeFacts, sensor_size};
use crate::columns::MOST_OWN;
use crate::private::{self, Record};

/// The records of a private part.
pub struct Part<'b> {
    records: &'b mut Vec<u8>,
    /// Whether all of them could be written.
    pub whole: bool,
}

impl<'b> Part<'b> {
    /// A part without records.
    pub fn new(records: &'b mut Vec<u8>) -> Self {
        Part {
            records,
            whole: true,
        }
    }

    /// Adds a record.
    pub fn push(&mut self, record: &Record) {
        self.whole &= private::push(self.records, record);
    }

    /// Lenses and facts, but those that items state.
    pub fn heads(&mut self, lenses: &[Vec<Fact>], take: &TakeFacts, states: [bool; 2]) {
        for lens in lenses {
            self.push(&Record::Lens);
            self.facts(lens, false);
        }
        let left: Vec<Fact> = take
            .facts
            .iter()
            .filter(|fact| {
                let size = |which: usize| states[which] && sensor_size(fact, which).is_some();
                !size(0) && !size(1)
            })
            .cloned()
            .collect();
        self.facts(&left, true);
        if let Some(lens) = take.lens {
            self.push(&Record::TakeLens(lens));
        }
    }

    /// Facts, by name.
    fn facts(&mut self, facts: &[Fact], of_take: bool) {
        let mut sorted: Vec<&Fact> = facts.iter().collect();
        sorted.sort_by_key(|fact| &fact.name);
        for fact in sorted {
            self.push(&Record::Fact {
                of_take,
                name: &fact.name,
                unit: &fact.unit,
                value: fact.value.clone(),
            });
        }
    }
}

/// Columns that private parts declared so far.
#[derive(Default)]
pub struct Aside {
    known: HashMap<String, Head>,
}

impl Aside {
    /// Adds the values of frame `row` in these columns of numbers and texts. New columns get their
    /// numbers by name, values stand by number: equal frames give equal bytes.
    pub fn values(
        &mut self,
        plan: &mut Plan,
        frames: &Frames,
        row: usize,
        numbers: &[usize],
        texts: &[usize],
        part: &mut Part,
    ) -> Result<(), Failure> {
        let recorded = |column: &usize| !frames.columns[*column].values[row].is_nan();
        let mut numbers: Vec<usize> = numbers.iter().copied().filter(recorded).collect();
        let has_text = |labels: &usize| label_text(&frames.labels[*labels], row).is_some();
        let mut texts: Vec<usize> = texts.iter().copied().filter(has_text).collect();
        if numbers.is_empty() && texts.is_empty() {
            return Ok(());
        }
        let mut fresh: Vec<&mut Head> = Vec::new();
        fresh.extend(pick(&mut plan.numbers, &numbers).filter(|head| head.id.is_none()));
        fresh.extend(pick(&mut plan.texts, &texts).filter(|head| head.id.is_none()));
        fresh.sort_by(|a, b| a.name.cmp(&b.name));
        for head in fresh {
            self.number(head, part)?;
        }
        numbers.sort_by_key(|column| plan.numbers[*column].id);
        texts.sort_by_key(|labels| plan.texts[*labels].id);
        for column in numbers {
            if let Some(id) = plan.numbers[column].id {
                let value = frames.columns[column].values[row];
                part.push(&Record::Number { id, value });
            }
        }
        for labels in texts {
            if let (Some(id), Some(text)) = (
                plan.texts[labels].id,
                label_text(&frames.labels[labels], row),
            ) {
                part.push(&Record::Text { id, text });
            }
        }
        Ok(())
    }

    /// Gives a column its number, and declares it if no part did.
    fn number(&mut self, head: &mut Head, part: &mut Part) -> Result<(), Failure> {
        if let Some(known) = self.known.get(&head.name) {
            head.id = known.id;
            if known == head {
                return Ok(());
            }
            return Err(failure(
                format!(
                    "{} changes its unit, form or reference within the take",
                    head.name
                ),
                "write two takes",
                None,
            ));
        }
        let id = u16::try_from(self.known.len())
            .ok()
            .filter(|_| self.known.len() < MOST_OWN)
            .ok_or_else(|| {
                failure(
                    format!("more than {MOST_OWN} columns have no place in the acquisition sets"),
                    "leave some of them out",
                    None,
                )
            })?;
        head.id = Some(id);
        part.push(&Record::Column {
            id,
            form: head.form,
            name: &head.name,
            unit: &head.unit,
            reference: &head.reference,
        });
        self.known.insert(head.name.clone(), head.clone());
        Ok(())
    }
}

/// The heads at these places.
fn pick<'h>(heads: &'h mut [Head], places: &'h [usize]) -> impl Iterator<Item = &'h mut Head> {
    heads
        .iter_mut()
        .enumerate()
        .filter(|(place, _)| places.contains(place))
        .map(|(_, head)| head)
}
