//! Facts while a take is read: the first value is the fact, later ones are compared with it.
//!
//! The head of the take goes out with the first batch. Keys that come up only after that, or
//! change, are no facts of the take any more and become columns.

use std::collections::HashMap;

use ringmark_sdk::{Datum, Fact, Item, Lens, Place, Take};

use crate::aside::Private;
use crate::fields::{FactField, FactForm, Owner};

/// What became of a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Offer {
    /// It is the fact, or equal to it.
    Kept,
    /// The fact has another value.
    Differs,
    /// The head of the take went out without it.
    Late,
    /// The file says that this is no fact of the take.
    Absent,
}

#[derive(Debug)]
struct Slot {
    name: String,
    owner: Owner,
    form: Option<FactForm>,
    value: Option<Datum>,
    /// `json` where a text is JSON.
    json: bool,
    offset: u64,
    /// Whether it stands at a key of the standard, and not in the private part.
    native: bool,
    absent: bool,
}

/// All facts of a file.
#[derive(Default)]
pub struct Statics {
    slots: Vec<Slot>,
    by_name: HashMap<(bool, String), usize>,
    sealed: bool,
    take: Vec<Fact>,
    lenses: Option<Vec<Vec<Fact>>>,
    lens: Option<u32>,
}

impl Statics {
    /// Whether the head of the take went out.
    pub fn sealed(&self) -> bool {
        self.sealed
    }

    /// The slot of a fact of the registry.
    pub fn known(&mut self, field: &FactField) -> usize {
        let slot = self.slot(field.owner, field.fact);
        self.slots[slot].form = Some(field.form);
        slot
    }

    /// The slot of a fact of the take outside the registry, or of `counting`.
    pub fn other(&mut self, name: &str) -> usize {
        self.slot(Owner::Take, name)
    }

    fn slot(&mut self, owner: Owner, name: &str) -> usize {
        let key = (owner == Owner::Lens, name.to_owned());
        if let Some(&slot) = self.by_name.get(&key) {
            return slot;
        }
        let slot = self.slots.len();
        self.slots.push(Slot {
            name: name.to_owned(),
            owner,
            form: None,
            value: None,
            json: false,
            offset: 0,
            native: false,
            absent: false,
        });
        self.by_name.insert(key, slot);
        slot
    }

    /// A text found at the slot's key.
    pub fn offer_text(&mut self, slot: usize, text: &str, json: bool, offset: u64) -> Offer {
        let entry = &self.slots[slot];
        if let Some(Datum::Text(known)) = &entry.value
            && known == text
            && entry.json == json
        {
            return Offer::Kept;
        }
        self.offer(slot, Datum::Text(text.to_owned()), json, offset)
    }

    /// A number found at the slot's key.
    pub fn offer_number(&mut self, slot: usize, number: f64, offset: u64) -> Offer {
        if let Some(Datum::Number(known)) = &self.slots[slot].value
            && known.to_bits() == number.to_bits()
        {
            return Offer::Kept;
        }
        self.offer(slot, Datum::Number(number), false, offset)
    }

    fn offer(&mut self, slot: usize, value: Datum, json: bool, offset: u64) -> Offer {
        let sealed = self.sealed;
        let entry = &mut self.slots[slot];
        if entry.absent {
            return Offer::Absent;
        }
        if entry.value.is_some() {
            return Offer::Differs;
        }
        if sealed {
            return Offer::Late;
        }
        entry.value = Some(value);
        entry.json = json;
        entry.offset = offset;
        entry.native = true;
        Offer::Kept
    }

    /// The text of a slot, if it has one.
    pub fn text(&self, slot: usize) -> Option<&str> {
        match &self.slots[slot].value {
            Some(Datum::Text(text)) => Some(text),
            _ => None,
        }
    }

    /// Facts that must not be concluded from keys.
    pub fn set_absent(&mut self, names: &[String]) {
        for name in names {
            for owner in [Owner::Take, Owner::Lens] {
                let slot = self.slot(owner, name);
                let entry = &mut self.slots[slot];
                entry.absent = entry.value.is_none();
            }
        }
    }

    /// The facts of the private part, which go before those of the keys.
    pub fn keep(&mut self, private: &mut Private) {
        self.lens = private.lens;
        self.lenses = private.lenses.take().map(|lenses| {
            lenses
                .into_iter()
                .map(|facts| facts.into_iter().map(Fact::from).collect())
                .collect()
        });
        self.take = private.facts.drain(..).map(Fact::from).collect();
        let own = self
            .lens
            .and_then(|lens| self.lenses.as_ref()?.get(lens as usize))
            .cloned()
            .unwrap_or_default();
        for fact in self.take.clone() {
            self.preset(Owner::Take, fact);
        }
        for fact in own {
            self.preset(Owner::Lens, fact);
        }
    }

    fn preset(&mut self, owner: Owner, fact: Fact) {
        let slot = self.slot(owner, &fact.name);
        let entry = &mut self.slots[slot];
        entry.json = fact.unit == "json";
        entry.value = Some(fact.value);
    }

    /// The lenses and the head of the take.
    pub fn seal(&mut self) -> Vec<Item> {
        self.sealed = true;
        let mut take = Vec::new();
        let mut lens = Vec::new();
        for slot in &self.slots {
            if slot.native {
                match slot.owner {
                    Owner::Take => self.facts_of(slot, &mut take),
                    Owner::Lens => self.facts_of(slot, &mut lens),
                }
            }
        }
        take.append(&mut self.take);
        let stated = self.lenses.is_some();
        let mut lenses = self.lenses.take().unwrap_or_default();
        let mut used = self
            .lens
            .filter(|index| stated && (*index as usize) < lenses.len());
        if !lens.is_empty() {
            let index = used.unwrap_or(lenses.len() as u32);
            used = Some(index);
            match lenses.get_mut(index as usize) {
                Some(facts) => {
                    lens.append(facts);
                    *facts = lens;
                }
                None => lenses.push(lens),
            }
        }
        let mut items: Vec<Item> = lenses
            .into_iter()
            .map(|facts| {
                Item::Lens(Lens {
                    facts,
                    rings: Vec::new(),
                    tables: Vec::new(),
                })
            })
            .collect();
        items.push(Item::Take(Take {
            lens: used,
            facts: take,
        }));
        items
    }

    fn facts_of(&self, slot: &Slot, facts: &mut Vec<Fact>) {
        let Some(value) = &slot.value else { return };
        let at = Some(Place {
            input: 0,
            offset: slot.offset,
            length: 0,
            field: String::new(),
        });
        let mut push = |name: &str, value: Datum, unit: &str| {
            facts.push(Fact {
                name: name.to_owned(),
                value,
                unit: unit.to_owned(),
                at: at.clone(),
            });
        };
        match slot.form {
            Some(FactForm::PrimeFocalLength) => {
                push("focal-length-min", value.clone(), "mm");
                push("focal-length-max", value.clone(), "mm");
                let kind = self.by_name.get(&(true, "lens-kind".to_owned()));
                if !kind.is_some_and(|&kind| self.slots[kind].absent) {
                    push("lens-kind", Datum::Text("prime".to_owned()), "");
                }
            }
            Some(FactForm::Number(unit)) => push(&slot.name, value.clone(), unit),
            Some(_) => push(&slot.name, value.clone(), ""),
            None => {
                let unit = match value {
                    Datum::Text(_) if !slot.name.starts_with("extra/") => "",
                    Datum::Text(_) if slot.json => "json",
                    Datum::Text(_) => "text",
                    Datum::Number(_) => "",
                };
                push(&slot.name, value.clone(), unit);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::fields;

    #[test]
    fn the_first_value_counts_until_the_head_goes_out() {
        let mut statics = Statics::default();
        let (maker, _) = fields::fact_at("static.camera.make").unwrap();
        let (model, _) = fields::fact_at("static.camera.model").unwrap();
        let maker = statics.known(maker);
        let model = statics.known(model);
        assert_eq!(statics.offer_text(maker, "A", false, 7), Offer::Kept);
        assert_eq!(statics.offer_text(maker, "A", false, 9), Offer::Kept);
        assert_eq!(statics.offer_text(maker, "B", false, 9), Offer::Differs);
        let items = statics.seal();
        let [Item::Take(take)] = &items[..] else {
            panic!("{items:?}")
        };
        assert_eq!(take.facts.len(), 1);
        assert_eq!(take.facts[0].at.as_ref().unwrap().offset, 7);
        assert_eq!(statics.offer_text(model, "M", false, 11), Offer::Late);
    }

    #[test]
    fn a_prime_gives_both_ends_of_the_range() {
        let mut statics = Statics::default();
        let (field, _) = fields::fact_at("static.lens.nominalFocalLength").unwrap();
        let slot = statics.known(field);
        statics.offer_number(slot, 32.0, 0);
        let items = statics.seal();
        let [Item::Lens(lens), Item::Take(take)] = &items[..] else {
            panic!("{items:?}")
        };
        let names: Vec<&str> = lens.facts.iter().map(|f| &*f.name).collect();
        assert_eq!(names, ["focal-length-min", "focal-length-max", "lens-kind"]);
        assert_eq!(take.lens, Some(0));
    }
}
