//! The part of a sidecar that is our own and the values themselves: what has to be kept when a
//! still is written, and how it comes back when one is read.

use ringmark_sdk::{Datum, Fact, Place};

use crate::aside::{Aside, Kept};
use crate::rational::PRECISION;
use crate::remarks::{self, Remarks};
use crate::values::{Number, Text, Values};

/// What the reader takes from a file's name unless it is said to be absent.
pub const FROM_NAME: [(&str, &str); 3] = [
    ("channel", "frame"),
    ("channel", "source-file"),
    ("take", "clip"),
];

/// How close a number and the property beside it must be. Rounding of an APEX value comes out at
/// most 11 times as large, for Av = 32.
const CLOSE: f64 = 16.0 * PRECISION;

/// Whether two numbers are the same but for the rounding of a property.
fn close(a: f64, unit_a: &str, b: f64, unit_b: &str) -> bool {
    let in_mm = |unit: &str| match unit {
        "in" => 25.4,
        "cm" => 10.0,
        _ => 1.0,
    };
    let (a, b) = (a * in_mm(unit_a), b * in_mm(unit_b));
    a == b || (a - b).abs() <= CLOSE * a.abs().max(b.abs())
}

fn same_bits(a: &Datum, b: &Datum) -> bool {
    match (a, b) {
        (Datum::Number(a), Datum::Number(b)) => a.to_bits() == b.to_bits(),
        (Datum::Text(a), Datum::Text(b)) => a == b,
        _ => false,
    }
}

/// What must be kept so that `wanted` comes out where the standard properties say `derived`.
pub fn difference(wanted: &Values, derived: &Values) -> Aside {
    let mut aside = Aside::default();
    for number in &wanted.numbers {
        let found = derived.number(&number.channel);
        let same = found.is_some_and(|found| {
            let bits = found.value.to_bits() == number.value.to_bits();
            bits && found.unit == number.unit && found.reference == number.reference
        });
        if !same {
            let exact = found.is_some_and(|f| close(f.value, &f.unit, number.value, &number.unit));
            aside.channels.push(Kept::number(number, exact));
        }
    }
    for text in &wanted.texts {
        if derived.text(&text.channel) != Some(text) {
            aside.channels.push(Kept::text(text));
        }
    }
    let surplus = derived.numbers.iter().map(|n| &n.channel);
    for name in surplus.chain(derived.texts.iter().map(|t| &t.channel)) {
        if wanted.number(name).is_none() && wanted.text(name).is_none() {
            aside.absent.push(format!("channel {name}"));
        }
    }
    for (owner, name) in FROM_NAME {
        let known = match owner {
            "take" => wanted.take.iter().any(|fact| fact.name == name),
            _ => wanted.number(name).is_some() || wanted.text(name).is_some(),
        };
        if !known {
            aside.absent.push(format!("{owner} {name}"));
        }
    }
    aside.take = facts(&wanted.take, &derived.take, "take", &mut aside.absent);
    let simple = match wanted.lenses.as_slice() {
        [] => wanted.lens.is_none(),
        [facts] => wanted.lens == Some(0) && !facts.is_empty(),
        _ => false,
    };
    if simple {
        let (wanted, derived) = (wanted.lens_facts(), derived.lens_facts());
        aside.lens = facts(wanted, derived, "lens", &mut aside.absent);
    } else {
        let all = wanted
            .lenses
            .iter()
            .map(|facts| facts.iter().map(|fact| Kept::fact(fact, false)).collect());
        aside.lenses = Some((all.collect(), wanted.lens));
    }
    // One order, whatever the order of columns.
    aside.channels.sort_by(|a, b| a.name.cmp(&b.name));
    for facts in [&mut aside.take, &mut aside.lens] {
        facts.sort_by(|a, b| a.name.cmp(&b.name));
    }
    aside.absent.sort();
    aside
}

fn facts(wanted: &[Fact], derived: &[Fact], owner: &str, absent: &mut Vec<String>) -> Vec<Kept> {
    let mut kept = Vec::new();
    for fact in wanted {
        let twice = wanted
            .iter()
            .filter(|other| other.name == fact.name)
            .count()
            > 1;
        let found = derived.iter().find(|found| found.name == fact.name);
        let found = found.filter(|_| !twice);
        if found.is_some_and(|f| same_bits(&f.value, &fact.value) && f.unit == fact.unit) {
            continue;
        }
        let exact = match (found.map(|f| (&f.value, &f.unit)), &fact.value) {
            (Some((Datum::Number(a), unit)), Datum::Number(b)) => close(*a, unit, *b, &fact.unit),
            _ => false,
        };
        kept.push(Kept::fact(fact, exact));
    }
    for fact in derived {
        if !wanted.iter().any(|other| other.name == fact.name) {
            absent.push(format!("{owner} {}", fact.name));
        }
    }
    kept
}

/// Brings what is kept into the values that the standard properties say.
pub fn apply(aside: &Aside, values: &mut Values, at: &Place, remarks: &mut Remarks) {
    let mut edited = |name: &str| {
        let at = Place {
            field: format!("XMP private part, {name}"),
            ..at.clone()
        };
        remarks.report(&remarks::EDITED, at, || {
            format!("the exact value of {name} beside its property does not fit it")
        });
    };
    values
        .numbers
        .retain(|number| !aside.lacks("channel", &number.channel));
    values
        .texts
        .retain(|text| !aside.lacks("channel", &text.channel));
    for kept in &aside.channels {
        let known = values
            .numbers
            .iter_mut()
            .find(|number| number.channel == kept.name);
        match (&kept.value, known) {
            (Datum::Number(exact), Some(number)) if kept.exact => {
                if close(number.value, &number.unit, *exact, &kept.unit) {
                    *number = kept_number(kept, *exact);
                } else {
                    edited(&kept.name);
                }
            }
            _ if kept.exact => edited(&kept.name),
            (value, _) => {
                values.numbers.retain(|number| number.channel != kept.name);
                values.texts.retain(|text| text.channel != kept.name);
                match value {
                    Datum::Number(value) => values.numbers.push(kept_number(kept, *value)),
                    Datum::Text(text) => values.texts.push(Text {
                        channel: kept.name.clone(),
                        form: match kept.form.as_str() {
                            "" => "text".to_owned(),
                            form => form.to_owned(),
                        },
                        text: text.clone(),
                    }),
                }
            }
        }
    }
    values.take.retain(|fact| !aside.lacks("take", &fact.name));
    apply_facts(&aside.take, &mut values.take, at, &mut edited);
    if let Some((lenses, lens)) = &aside.lenses {
        let facts = |kept: &Vec<Kept>| kept.iter().map(|k| k.to_fact(Some(at.clone()))).collect();
        values.lenses = lenses.iter().map(facts).collect();
        values.lens = *lens;
        return;
    }
    let mut facts = values.lens_facts().to_vec();
    facts.retain(|fact| !aside.lacks("lens", &fact.name));
    apply_facts(&aside.lens, &mut facts, at, &mut edited);
    if facts.is_empty() {
        (values.lenses, values.lens) = (Vec::new(), None);
    } else {
        (values.lenses, values.lens) = (vec![facts], Some(0));
    }
}

fn kept_number(kept: &Kept, value: f64) -> Number {
    Number {
        channel: kept.name.clone(),
        unit: kept.unit.clone(),
        reference: kept.reference.clone(),
        value,
    }
}

fn apply_facts(kept: &[Kept], facts: &mut Vec<Fact>, at: &Place, edited: &mut impl FnMut(&str)) {
    // What is kept whole stands in place of what properties say, once or several times.
    facts.retain(|fact| {
        !kept
            .iter()
            .any(|kept| !kept.exact && kept.name == fact.name)
    });
    for kept in kept {
        if !kept.exact {
            facts.push(kept.to_fact(Some(at.clone())));
            continue;
        }
        let known = facts.iter_mut().find(|fact| fact.name == kept.name);
        match (known, &kept.value) {
            (Some(fact), Datum::Number(exact)) if matches!(&fact.value, Datum::Number(n) if close(*n, &fact.unit, *exact, &kept.unit)) =>
            {
                fact.value = kept.value.clone();
                fact.unit.clone_from(&kept.unit);
            }
            _ => edited(&kept.name),
        }
    }
}
