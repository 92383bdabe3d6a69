//! Facts of a take as constant values at keys of the standard.

use ringmark_sdk::{Datum, Fact};

use crate::encode;
use crate::fields::{self, FACTS, FactField, FactForm, Owner};
use crate::path::{self, Step};
use crate::rational::Rational;
use crate::rules::{Rule, SAMPLE};

/// When a constant is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// In every sample.
    Always,
    /// Where it completes other values.
    WithOthers,
    /// In the first sample; later only where it completes other values.
    Once,
}

/// A constant value at a key.
#[derive(Debug, PartialEq)]
pub struct Constant {
    /// Place in the sample.
    pub path: String,
    /// Its JSON text.
    pub json: Vec<u8>,
    /// When it is written.
    pub when: When,
    /// Row of the table of facts. Where two rows hold one fact, reading takes the first.
    pub row: usize,
    /// Indices of the facts that need not be kept aside when it is written.
    pub facts: Vec<usize>,
    /// A fact that reading would conclude from it, though the take does not have it.
    pub implies: Option<&'static str>,
}

/// Facts of the take and its lens. A fact's index counts those of the take first.
#[derive(Debug, Default)]
pub struct Heads {
    /// Facts of the take.
    pub take: Vec<Fact>,
    /// Facts of its lens.
    pub lens: Vec<Fact>,
}

impl Heads {
    /// How many facts there are.
    pub fn len(&self) -> usize {
        self.take.len() + self.lens.len()
    }

    fn find(&self, owner: Owner, name: &str) -> Option<(usize, &Fact)> {
        let (facts, base) = match owner {
            Owner::Take => (&self.take, 0),
            Owner::Lens => (&self.lens, self.take.len()),
        };
        let at = facts.iter().position(|f| f.name == name)?;
        Some((base + at, &facts[at]))
    }

    /// Index and text of a fact of the take.
    pub fn take_text(&self, name: &str) -> Option<(usize, &str)> {
        let (index, fact) = self.find(Owner::Take, name)?;
        text(fact).map(|text| (index, text))
    }

    /// Whether the fact that reading would make of a key is there.
    pub fn has(&self, owner: Owner, name: &str) -> bool {
        self.find(owner, name).is_some()
    }

    /// All constants that the standard has a place for.
    pub fn constants(&self) -> Vec<Constant> {
        let mut constants = Vec::new();
        for (row, field) in FACTS.iter().enumerate() {
            self.field(row, field, &mut constants);
        }
        for (index, fact) in self.take.iter().enumerate() {
            constants.extend(extra(index, fact));
        }
        constants
    }

    fn field(&self, row: usize, field: &FactField, constants: &mut Vec<Constant>) {
        let Some((index, fact)) = self.find(field.owner, field.fact) else {
            return;
        };
        let when = match field.path {
            "tracker.slate" | "timing.sampleRate" => When::Always,
            "timing.timecode.frameRate" | "lens.distortion.0.model" => When::WithOthers,
            _ => When::Once,
        };
        let mut push = |path: String, json: Option<Vec<u8>>, facts: Vec<usize>, implies| {
            constants.extend(json.map(|json| Constant {
                path,
                json,
                when,
                row,
                facts,
                implies,
            }));
        };
        match field.form {
            FactForm::Text | FactForm::LensIdentity => {
                let json = text(fact).and_then(|t| text_json(field.path, t));
                push(field.path.to_owned(), json, vec![index], None);
            }
            FactForm::Number(unit) => {
                let json = number(fact, unit).and_then(|n| number_json(field.path, n));
                push(field.path.to_owned(), json, vec![index], None);
            }
            FactForm::PrimeFocalLength => {
                if let Some((millimetres, facts, kind)) = self.prime(index, fact) {
                    let json = number_json(field.path, millimetres);
                    push(field.path.to_owned(), json, facts, kind);
                }
            }
            // Samples come at the capture rate: the frame rate may be another.
            FactForm::Rate if field.path == "timing.sampleRate" && self.captures_otherwise() => {}
            FactForm::Rate | FactForm::Quotient => {
                let Some(Rational { num, denom }) = self.rational(field) else {
                    return;
                };
                for (part, value) in [("num", num), ("denom", denom)] {
                    push(
                        format!("{}.{part}", field.path),
                        Some(value.to_string().into_bytes()),
                        vec![index],
                        None,
                    );
                }
            }
        }
    }

    /// The fact of this field as `{num, denom}`, if there is one of exactly that value.
    pub fn rational(&self, field: &FactField) -> Option<Rational> {
        let (_, fact) = self.find(field.owner, field.fact)?;
        match field.form {
            FactForm::Rate => text(fact).and_then(Rational::from_rate_text),
            FactForm::Quotient => number(fact, "").and_then(Rational::exactly),
            _ => None,
        }
    }

    fn captures_otherwise(&self) -> bool {
        let rate = |name| self.take_text(name).map(|(_, text)| text);
        rate("capture-rate").is_some_and(|capture| rate("frame-rate") != Some(capture))
    }

    /// Nominal focal length of a prime, the facts it holds, and the kind if nobody stated it.
    fn prime(&self, min: usize, fact: &Fact) -> Option<(f64, Vec<usize>, Option<&'static str>)> {
        let (max, longest) = self.find(Owner::Lens, "focal-length-max")?;
        let millimetres = number(fact, "mm")?;
        if number(longest, "mm")?.to_bits() != millimetres.to_bits() {
            return None;
        }
        match self.find(Owner::Lens, "lens-kind") {
            None => Some((millimetres, vec![min, max], Some("lens-kind"))),
            Some((kind, fact)) => {
                (text(fact)? == "prime").then(|| (millimetres, vec![min, max, kind], None))
            }
        }
    }
}

/// An extra under `static`, which is constant by its nature.
fn extra(index: usize, fact: &Fact) -> Option<Constant> {
    let path = fact.name.strip_prefix("extra/")?;
    if !path.starts_with("static.")
        || fields::channel_at(path).is_some()
        || fields::fact_at(path).is_some()
    {
        return None;
    }
    let json = match (&fact.value, &*fact.unit) {
        (Datum::Number(number), "") => number_json(path, *number)?,
        (Datum::Text(text), "" | "text") => text_json(path, text)?,
        _ => return None,
    };
    Some(Constant {
        path: path.to_owned(),
        json,
        when: When::Once,
        row: FACTS.len(),
        facts: vec![index],
        implies: None,
    })
}

fn text(fact: &Fact) -> Option<&str> {
    match &fact.value {
        Datum::Text(text) if fact.unit.is_empty() => Some(text),
        _ => None,
    }
}

fn number(fact: &Fact, unit: &str) -> Option<f64> {
    match fact.value {
        Datum::Number(number) if fact.unit == unit => Some(number),
        _ => None,
    }
}

/// The rule at a place of the standard, if it is one where a single value may stand.
pub fn rule_at(path: &str) -> Option<&'static Rule> {
    let mut rule = &SAMPLE;
    for step in path::parse(path)? {
        rule = match step {
            Step::Key(key) => rule.member(&key)?,
            Step::Index(index) => rule.element(index)?,
        };
    }
    rule.is_leaf().then_some(rule)
}

fn text_json(path: &str, text: &str) -> Option<Vec<u8>> {
    rule_at(path)?.allows_text(text).then(|| {
        let mut json = Vec::new();
        encode::push_text(&mut json, text);
        json
    })
}

fn number_json(path: &str, number: f64) -> Option<Vec<u8>> {
    let rule = rule_at(path)?;
    rule.allows_number(number).then(|| {
        let mut json = Vec::new();
        rule.push_number(&mut json, number);
        json
    })
}

impl Rule {
    /// Appends a number that the rule allows.
    pub fn push_number(&self, out: &mut Vec<u8>, number: f64) {
        match self {
            Rule::Number { .. } => encode::push_float(out, number),
            _ => encode::push_number(out, number),
        }
    }
}
