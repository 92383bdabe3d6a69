//! What stands in a Camera prim before the attributes that change, and at the top of the file.

use ringmark_sdk::{Datum, Fact, Failure};

use crate::facts::SQUEEZE;
use crate::fields::{FIELDS, Role, SHUTTER_OPEN, WORDS};
use crate::kept::{self, STEP};
use crate::native;
use crate::text::{push_double, push_float, push_text};
use crate::units::Scene;

/// What the head of a prim says.
pub struct Head<'a> {
    /// Name of the prim.
    pub name: &'a str,
    /// Facts of the take.
    pub facts: &'a [Fact],
    /// Index of its lens.
    pub lens: Option<u32>,
    /// Squeeze of its lens.
    pub squeeze: Option<f64>,
    /// When the shutter opens, in frames.
    pub open: Option<f64>,
    /// Whether its frames have no numbers.
    pub counted: bool,
    /// The scene unit.
    pub scene: Scene,
}

/// Appends the head of a prim. `has`: whether frames have a column.
pub fn push_head(
    out: &mut Vec<u8>,
    head: &Head<'_>,
    has: impl Fn(&str) -> bool,
) -> Result<(), Failure> {
    out.extend_from_slice(b"\ndef Camera ");
    push_text(out, head.name);
    out.extend_from_slice(
        b" (\n    customData = {\n        dictionary ringmark = {\n            int version = 1\n",
    );
    if head.counted {
        out.extend_from_slice(b"            string frames = \"counted\"\n");
    }
    if let Some(lens) = head.lens {
        out.extend_from_slice(format!("            int lens = {lens}\n").as_bytes());
    }
    out.extend_from_slice(b"            dictionary take = {\n");
    kept::push_facts(out, head.facts, "                ")?;
    out.extend_from_slice(b"            }\n        }\n    }\n)\n{\n");
    for field in FIELDS {
        let name = match field.role {
            Role::Channel => continue,
            Role::Fact(name) => name,
            Role::Extra => field.channel,
        };
        let asked = field.measure.asked(head.scene).unit;
        let squeeze = match name {
            "sensor-width" => head.squeeze.unwrap_or(1.0),
            _ => 1.0,
        };
        let value = number(head.facts, name, asked).map(|value| value * squeeze);
        let Some(value) = value.and_then(|v| native::of(field, head.scene, v)) else {
            continue;
        };
        if !has(field.channel) {
            out.extend_from_slice(format!("{STEP}float {} = ", field.attribute).as_bytes());
            push_float(out, value);
            out.push(b'\n');
        }
    }
    for (name, words) in WORDS {
        let fact = head
            .facts
            .iter()
            .find(|f| f.name.strip_prefix("extra/") == Some(name));
        if let Some(Datum::Text(word)) = fact.map(|f| &f.value)
            && words.contains(&word.as_str())
        {
            let uniform = if *name == "stereoRole" {
                "uniform "
            } else {
                ""
            };
            out.extend_from_slice(format!("{STEP}{uniform}token {name} = \"{word}\"\n").as_bytes());
        }
    }
    if let Some(open) = head.open {
        out.extend_from_slice(format!("{STEP}double {SHUTTER_OPEN} = ").as_bytes());
        push_double(out, open);
        out.push(b'\n');
    }
    if let Some(squeeze) = head.squeeze {
        out.extend_from_slice(format!("{STEP}custom uniform double {SQUEEZE} = ").as_bytes());
        push_double(out, squeeze);
        out.push(b'\n');
    }
    Ok(())
}

/// When the shutter opens, in frames, if the take says so.
pub fn shutter_open(facts: &[Fact]) -> Option<f64> {
    number(facts, "extra/shutter:open", "").filter(|open| open.is_finite())
}

/// The number of a fact that is in `unit`.
pub fn number(facts: &[Fact], name: &str, unit: &str) -> Option<f64> {
    let fact = facts.iter().find(|f| f.name == name && f.unit == unit)?;
    match fact.value {
        Datum::Number(number) => Some(number),
        Datum::Text(_) => None,
    }
}

/// What the top of the file says.
pub struct Top<'a> {
    /// Facts of all lenses.
    pub lenses: &'a [Vec<Fact>],
    /// Name of the first prim.
    pub default_prim: &'a str,
    /// First and last frame.
    pub range: Option<(i64, i64)>,
    /// Frames a second.
    pub rate: Option<f64>,
    /// The scene unit in metres.
    pub meters_per_unit: f64,
}

/// Appends the top of the file.
pub fn push_top(out: &mut Vec<u8>, top: &Top<'_>) -> Result<(), Failure> {
    out.extend_from_slice(b"#usda 1.0\n(\n");
    if !top.lenses.is_empty() {
        out.extend_from_slice(
            b"    customLayerData = {\n        dictionary ringmark = {\n            int version = 1\n            dictionary lenses = {\n",
        );
        for (index, facts) in top.lenses.iter().enumerate() {
            out.extend_from_slice(
                format!("                dictionary lens{index} = {{\n").as_bytes(),
            );
            kept::push_facts(out, facts, "                    ")?;
            out.extend_from_slice(b"                }\n");
        }
        out.extend_from_slice(b"            }\n        }\n    }\n");
    }
    out.extend_from_slice(b"    defaultPrim = ");
    push_text(out, top.default_prim);
    let numbers = [
        ("endTimeCode", top.range.map(|r| r.1 as f64)),
        ("framesPerSecond", top.rate),
        ("metersPerUnit", Some(top.meters_per_unit)),
        ("startTimeCode", top.range.map(|r| r.0 as f64)),
        ("timeCodesPerSecond", top.rate),
    ];
    for (name, number) in numbers {
        if let Some(number) = number {
            out.extend_from_slice(format!("\n    {name} = ").as_bytes());
            push_double(out, number);
        }
    }
    out.extend_from_slice(b"\n    upAxis = \"Y\"\n)\n");
    Ok(())
}
