//! One canvas to a lens and a take.

use ringmark_sdk::{Datum, Fact, Item, Lens, Place, Take};

use crate::fields::{NUMBERS, Number, OF_CANVAS, Owner, Text};
use crate::json::{Members, Node};
use crate::list::{Recorded, present, remark_on_repeated};
use crate::remarks::{Remarks, Severity};

/// Longest label in bytes.
const LONGEST: usize = 1024;

/// The lens that the canvas was recorded through, then the take, which is of lens `index`.
pub fn items(recorded: &Recorded, index: u32, remarks: &mut Remarks) -> [Item; 2] {
    let mut lens = Lens {
        facts: Vec::new(),
        rings: Vec::new(),
        tables: Vec::new(),
    };
    let mut take = Take {
        lens: Some(index),
        facts: Vec::new(),
    };
    take.facts.extend_from_slice(&recorded.of_context);
    if let Some(canvas) = recorded.canvas.members() {
        remark_on_repeated(&canvas, remarks);
        take.facts.extend(texts(OF_CANVAS, &canvas, remarks));
        for field in NUMBERS {
            let facts = match field.owner {
                Owner::Lens => &mut lens.facts,
                Owner::Take => &mut take.facts,
            };
            facts.extend(number(field, &recorded.canvas, &canvas, remarks));
        }
    }
    [Item::Lens(lens), Item::Take(take)]
}

/// Those texts of `fields` that are there.
pub fn texts(fields: &[Text], within: &Members, remarks: &mut Remarks) -> Vec<Fact> {
    let each = fields.iter();
    each.filter_map(|field| text(field, within, remarks))
        .collect()
}

fn number(field: &Number, node: &Node, canvas: &Members, remarks: &mut Remarks) -> Option<Fact> {
    let fact = |value, at: Place| {
        Some(Fact {
            name: field.fact.to_owned(),
            value: Datum::Number(value),
            unit: field.unit.to_owned(),
            at: Some(at),
        })
    };
    let Some(found) = follow(canvas, field.path, remarks) else {
        return field.default.and_then(|value| fact(value, node.place()));
    };
    match found.number() {
        Some(value) => fact(value, found.place()),
        None => {
            remarks.wrong_type(&found, "a number");
            None
        }
    }
}

fn text(field: &Text, within: &Members, remarks: &mut Remarks) -> Option<Fact> {
    let found = follow(within, field.path, remarks)?;
    let Some(text) = found.text() else {
        remarks.wrong_type(&found, "a text");
        return None;
    };
    if text.len() > LONGEST {
        remarks.add(
            Severity::Warning,
            "text-too-long",
            format!(
                "{} is {} bytes long; it was not read",
                found.path(),
                text.len()
            ),
            "at most 1,024 bytes are taken for a name",
            Some(found.place()),
        );
        return None;
    }
    // Labels are often written empty: that names nothing.
    (!text.is_empty()).then(|| Fact {
        name: field.fact.to_owned(),
        value: Datum::Text(text),
        unit: match field.fact.starts_with("extra/") {
            true => "text".to_owned(),
            false => String::new(),
        },
        at: Some(found.place()),
    })
}

/// The value at `path`; `None` where it is not there.
fn follow(from: &Members, path: &[&str], remarks: &mut Remarks) -> Option<Node> {
    let (first, rest) = path.split_first()?;
    let node = present(from, first)?;
    if rest.is_empty() {
        return Some(node.clone());
    }
    match node.members() {
        Some(members) => follow(&members, rest, remarks),
        None => {
            remarks.wrong_type(node, "an object");
            None
        }
    }
}
