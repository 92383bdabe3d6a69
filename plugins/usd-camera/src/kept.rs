//! Facts as dictionaries of the metadata. A fact without a unit is one entry; one with a unit
//! is a dictionary of its own: `dictionary "sensor-width" = { double value = 28  string unit = "mm" }`.

use ringmark_sdk::{Datum, Fact, Failure, Place, failure};

use crate::text::{push_double, push_text};
use crate::value::Meta;

/// Version of what this program keeps aside.
pub const VERSION: f64 = 1.0;

/// Steps of indentation.
pub const STEP: &str = "    ";

/// The facts of a dictionary.
pub fn facts(dictionary: &Meta, at: &Place) -> Vec<Fact> {
    let entries = dictionary.entries().iter();
    entries
        .filter_map(|(name, value)| {
            let (value, unit) = match value {
                Meta::Dictionary(_) => (value.get("value")?, value.text("unit").unwrap_or("")),
                value => (value, ""),
            };
            let value = match value {
                Meta::Number(number) => Datum::Number(*number),
                Meta::Text(text) => Datum::Text(text.clone()),
                _ => return None,
            };
            Some(Fact {
                name: name.clone(),
                value,
                unit: unit.to_owned(),
                at: Some(at.clone()),
            })
        })
        .collect()
}

/// Appends the entries of facts, at `indent`.
pub fn push_facts(out: &mut Vec<u8>, facts: &[Fact], indent: &str) -> Result<(), Failure> {
    for (index, fact) in facts.iter().enumerate() {
        if facts[..index].iter().any(|before| before.name == fact.name) {
            return Err(failure(
                format!("the fact {} comes twice", fact.name),
                "leave one of both out",
                None,
            ));
        }
        if matches!(fact.value, Datum::Number(number) if number.is_nan()) {
            continue;
        }
        let (of, key) = match fact.value {
            Datum::Number(_) => ("double ", "value"),
            Datum::Text(_) => ("string ", "value"),
        };
        out.extend_from_slice(indent.as_bytes());
        if fact.unit.is_empty() {
            out.extend_from_slice(of.as_bytes());
            push_text(out, &fact.name);
            out.extend_from_slice(b" = ");
            push_datum(out, &fact.value);
        } else {
            out.extend_from_slice(b"dictionary ");
            push_text(out, &fact.name);
            out.extend_from_slice(format!(" = {{\n{indent}{STEP}string unit = ").as_bytes());
            push_text(out, &fact.unit);
            out.extend_from_slice(format!("\n{indent}{STEP}{of}{key} = ").as_bytes());
            push_datum(out, &fact.value);
            out.extend_from_slice(format!("\n{indent}}}").as_bytes());
        }
        out.push(b'\n');
    }
    Ok(())
}

fn push_datum(out: &mut Vec<u8>, value: &Datum) {
    match value {
        Datum::Number(number) => push_double(out, *number),
        Datum::Text(text) => push_text(out, text),
    }
}

/// What this program keeps in a dictionary, if it is of a version it knows.
pub fn own<'m>(custom: Option<&'m Meta>, at: &Place) -> Result<Option<&'m Meta>, Failure> {
    let Some(own) = custom.and_then(|c| c.get(crate::fields::NAMESPACE)) else {
        return Ok(None);
    };
    match own.number("version") {
        Some(VERSION) => Ok(Some(own)),
        version => Err(failure(
            format!(
                "the dictionary `{}` has version {}, this program knows {VERSION}",
                crate::fields::NAMESPACE,
                version.map_or("none".to_owned(), |v| v.to_string()),
            ),
            "update this program, or remove the dictionary to read what the standard's attributes say",
            Some(at.clone()),
        )),
    }
}
