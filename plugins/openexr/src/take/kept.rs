//! What private attributes say about a take.

use std::collections::BTreeMap;

use ringmark_sdk::{Fact, Item, Lens, fact};

use crate::fields::Role;
use crate::keys::Key;
use crate::private::{self, Described, Descriptions, EXTRA, OtherLenses};
use crate::registry::{Owner, known};

/// What private attributes say about a take.
#[derive(Default)]
pub struct Kept {
    descriptions: Descriptions,
    /// The text that was read into `descriptions` last.
    described: Vec<u8>,
    /// Channels that private attributes of the file at hand hold.
    shadows: Vec<String>,
    take_facts: Vec<Fact>,
    lens_facts: Option<Vec<Fact>>,
    others: OtherLenses,
    /// Types of attributes whose values do not show them.
    types: BTreeMap<String, String>,
}

impl Kept {
    /// A new file begins.
    pub fn begin(&mut self) {
        self.shadows.clear();
    }

    /// Takes the descriptions of a part. Damaged ones are remarked on where all attributes are applied.
    pub fn describe(&mut self, value: &[u8]) {
        if self.described == value {
            return;
        }
        if let Ok(new) = private::parse::<Descriptions>(value) {
            self.descriptions.extend(new);
        }
        self.described = value.to_vec();
    }

    /// The description of an attribute; an empty one if nothing is said.
    pub fn description(&self, attribute: &str) -> Described {
        self.descriptions
            .get(attribute)
            .cloned()
            .unwrap_or_default()
    }

    /// The channel that the private attribute called `name` holds.
    pub fn channel(&self, name: &str) -> String {
        match self.descriptions.get(name) {
            // Only extras have names of their own.
            Some(said) if said.channel.starts_with(EXTRA) => said.channel.clone(),
            _ => private::channel(name),
        }
    }

    /// Notes that the private attribute called `name` is there.
    pub fn shadow(&mut self, name: &str) {
        self.shadows.push(private::channel(name));
    }

    /// Whether the file at hand has such attributes.
    pub fn has_shadows(&self) -> bool {
        !self.shadows.is_empty()
    }

    /// Whether a private attribute takes the place of another one.
    pub fn is_shadowed(&self, key: &Key) -> bool {
        let has = |channel: &str| self.shadows.iter().any(|shadow| shadow == channel);
        if self.shadows.is_empty() {
            return false;
        }
        match key.role {
            Some(Role::Timecode) => has("timecode"),
            Some(Role::LensText(name)) => has(name),
            Some(Role::Number { channel, .. }) => has(channel),
            Some(Role::Extra(_) | Role::Picture(_)) => {
                let own = |shadow: &String| {
                    let rest = shadow.strip_prefix(EXTRA)?.strip_prefix(key.shown())?;
                    match rest.strip_prefix('.') {
                        Some(part) => part.parse::<usize>().ok().map(|_| ()),
                        None => rest.is_empty().then_some(()),
                    }
                };
                self.shadows.iter().any(|shadow| own(shadow).is_some())
            }
            _ => false,
        }
    }

    /// Notes the type of an attribute whose values do not show it.
    pub fn note_type(&mut self, name: &str, kind: &str) {
        self.types.insert(name.to_owned(), kind.to_owned());
    }

    /// Takes facts; the error says what is wrong.
    pub fn read_facts(&mut self, owner: Owner, value: &[u8]) -> Result<(), String> {
        let facts: Vec<private::KeptFact> = private::parse(value)?;
        let facts = facts.into_iter().map(|kept| known(owner, kept.fact()));
        match owner {
            Owner::Take => self.take_facts = facts.collect(),
            Owner::Lens => self.lens_facts = Some(facts.collect()),
        }
        Ok(())
    }

    /// Takes lenses that the take does not use; the error says what is wrong.
    pub fn read_lenses(&mut self, value: &[u8]) -> Result<(), String> {
        self.others = private::parse(value)?;
        Ok(())
    }

    /// Joins kept facts to those of attributes. Gives all lenses, and which of them is the take's.
    pub fn announce(&mut self, lens: Vec<Fact>, take: &mut Vec<Fact>) -> (Vec<Item>, Option<u32>) {
        let types = std::mem::take(&mut self.types);
        if !types.is_empty() {
            let text = String::from_utf8(private::text(&types)).unwrap_or_default();
            take.push(Fact {
                unit: "json".to_owned(),
                ..fact(private::TYPES, text, None)
            });
        }
        join(take, std::mem::take(&mut self.take_facts));
        let stated = self.lens_facts.take();
        let has_lens = stated.is_some() || !lens.is_empty();
        let mut own = lens;
        join(&mut own, stated.unwrap_or_default());
        let others = std::mem::take(&mut self.others);
        let before = others.before.len() as u32;
        let item = |facts: Vec<Fact>| {
            Item::Lens(Lens {
                facts,
                rings: Vec::new(),
                tables: Vec::new(),
            })
        };
        let other = |facts: Vec<private::KeptFact>| {
            let facts = facts
                .into_iter()
                .map(|kept| known(Owner::Lens, kept.fact()));
            item(facts.collect())
        };
        let mut items: Vec<Item> = others.before.into_iter().map(other).collect();
        if has_lens {
            items.push(item(own));
        }
        items.extend(others.after.into_iter().map(other));
        (items, has_lens.then_some(before))
    }
}

/// Kept facts go before others of the same name.
fn join(facts: &mut Vec<Fact>, kept: Vec<Fact>) {
    facts.retain(|fact| kept.iter().all(|other| other.name != fact.name));
    facts.extend(kept);
}
