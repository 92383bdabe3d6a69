//! What a still says, in the words of the contract.

use ringmark_sdk::{Datum, Fact, Place};

/// A number of a channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Number {
    /// Channel, or `extra/NAME`.
    pub channel: String,
    /// Its unit.
    pub unit: String,
    /// What distances are measured from; empty for others.
    pub reference: String,
    /// The number, never NaN.
    pub value: f64,
}

/// A text of a channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Channel, or `extra/NAME`.
    pub channel: String,
    /// `text`, `json` or `hex`.
    pub form: String,
    /// The text.
    pub text: String,
}

/// All of a still.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Values {
    /// Numbers of the frame.
    pub numbers: Vec<Number>,
    /// Texts of the frame.
    pub texts: Vec<Text>,
    /// Facts of each lens.
    pub lenses: Vec<Vec<Fact>>,
    /// Which of the lenses took the still.
    pub lens: Option<u32>,
    /// Facts of the take.
    pub take: Vec<Fact>,
}

impl Values {
    /// The number of a channel.
    pub fn number(&self, channel: &str) -> Option<&Number> {
        self.numbers.iter().find(|number| number.channel == channel)
    }

    /// The text of a channel.
    pub fn text(&self, channel: &str) -> Option<&Text> {
        self.texts.iter().find(|text| text.channel == channel)
    }

    /// Facts of the lens that took the still.
    pub fn lens_facts(&self) -> &[Fact] {
        let lens = self.lens.and_then(|lens| self.lenses.get(lens as usize));
        lens.map_or(&[], Vec::as_slice)
    }

    /// The same for writing; a lens is made if there is none.
    pub fn lens_facts_mut(&mut self) -> &mut Vec<Fact> {
        let index = match self.lens {
            Some(lens) if (lens as usize) < self.lenses.len() => lens as usize,
            _ => {
                self.lenses.push(Vec::new());
                self.lenses.len() - 1
            }
        };
        self.lens = u32::try_from(index).ok();
        &mut self.lenses[index]
    }
}

/// The first fact with this name.
pub fn fact<'a>(facts: &'a [Fact], name: &str) -> Option<&'a Fact> {
    facts.iter().find(|fact| fact.name == name)
}

/// The text of a fact.
pub fn fact_text<'a>(facts: &'a [Fact], name: &str) -> Option<&'a str> {
    match &fact(facts, name)?.value {
        Datum::Text(text) => Some(text),
        Datum::Number(_) => None,
    }
}

/// The number of a fact in this unit.
pub fn fact_number(facts: &[Fact], name: &str, unit: &str) -> Option<f64> {
    match fact(facts, name)? {
        Fact {
            value: Datum::Number(number),
            unit: found,
            ..
        } if found == unit => Some(*number),
        _ => None,
    }
}

/// A fact with a number.
pub fn number_fact(name: &str, value: f64, unit: &str, at: Option<Place>) -> Fact {
    Fact {
        name: name.to_owned(),
        value: Datum::Number(value),
        unit: unit.to_owned(),
        at,
    }
}
