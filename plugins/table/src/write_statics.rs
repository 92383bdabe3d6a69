//! Facts as `# key: value` lines.

use ringmark_sdk::quantity::DistanceReference;
use ringmark_sdk::{Datum, Fact, Failure, failure};

use crate::keys::{self, AXES, EXTRA, Key, LENS_EXTRA, Owner, Shape};
use crate::print::{number, refuse_nul};
use crate::say::quoted;
use crate::statics::Line;

/// The lines above a header while they are collected.
#[derive(Debug)]
pub struct Lines {
    calibration: bool,
    text: String,
}

impl Lines {
    /// The first line, which says what the file holds.
    pub fn new(calibration: bool) -> Self {
        let document = if calibration {
            "ring calibration"
        } else {
            "take"
        };
        Lines {
            calibration,
            text: format!("# document: {document}\n"),
        }
    }

    /// All lines.
    pub fn into_text(self) -> String {
        self.text
    }

    /// A line whose value is known to need no care.
    pub fn plain(&mut self, key: &str, value: &str) {
        self.text.push_str(&format!("# {key}: {value}\n"));
    }

    /// What the distances of the file are measured from.
    pub fn measured_from(&mut self, reference: DistanceReference) {
        if reference != DistanceReference::Unstated {
            self.plain("measured from", &words(reference));
        }
    }

    /// The facts of a lens, in a file whose distances are measured from `measured_from`.
    pub fn lens(
        &mut self,
        facts: &[Fact],
        measured_from: DistanceReference,
    ) -> Result<(), Failure> {
        let facts: Vec<&Fact> = facts.iter().filter(|fact| is_recorded(fact)).collect();
        let of = |name: &str| facts.iter().find(|fact| fact.name == name);
        for key in keys::KEYS.iter().filter(|key| key.owner == Owner::Lens) {
            let fact = of(key.fact);
            match key.fact {
                "focal-length-min" | "focal-length-max" => {
                    let both = of("focal-length-min").zip(of("focal-length-max"));
                    match both.and_then(|(min, max)| focal_length(min, max)) {
                        Some(text) if key.fact == "focal-length-min" => {
                            self.plain("focal length", &text)
                        }
                        Some(_) => {}
                        None => self.fact(key, fact.copied())?,
                    }
                }
                "close-focus-reference" => {
                    let named = fact.and_then(|fact| match &fact.value {
                        Datum::Text(name) => DistanceReference::from_name(name),
                        Datum::Number(_) => None,
                    });
                    let own = named.unwrap_or_default();
                    // Close focus goes with the other distances unless a line says otherwise.
                    let implied = match of("close-focus") {
                        Some(_) => measured_from,
                        None => DistanceReference::Unstated,
                    };
                    if own != implied {
                        self.plain(key.title, &words(own));
                    }
                }
                _ => self.fact(key, fact.copied())?,
            }
        }
        self.extras(&facts, Owner::Lens)
    }

    /// The facts of a take.
    pub fn take(&mut self, facts: &[Fact]) -> Result<(), Failure> {
        let facts: Vec<&Fact> = facts.iter().filter(|fact| is_recorded(fact)).collect();
        let of = |name: &str| facts.iter().find(|fact| fact.name == name).copied();
        for key in keys::KEYS.iter().filter(|key| key.owner == Owner::Take) {
            self.fact(key, of(key.fact))?;
        }
        for axis in AXES {
            self.encoder(
                axis,
                of(&format!("{axis}-encoder-low")),
                of(&format!("{axis}-encoder-high")),
            );
        }
        self.extras(&facts, Owner::Take)
    }

    /// Ring positions at both ends, where they are known.
    pub fn encoder(&mut self, axis: &str, low: Option<&Fact>, high: Option<&Fact>) {
        let text = |fact: &Fact| match fact.value {
            Datum::Number(value) if fact.unit == "count" || fact.unit.is_empty() => number(value),
            Datum::Number(value) => format!("{} {}", number(value), fact.unit),
            Datum::Text(_) => String::new(),
        };
        match (low, high) {
            (Some(low), Some(high)) if low.unit == high.unit => {
                if let Datum::Number(value) = low.value {
                    let range = format!("{}..{}", number(value), text(high));
                    self.plain(&format!("{axis} encoder"), &range);
                }
            }
            _ => {
                for (end, fact) in [("low", low), ("high", high)] {
                    if let Some(fact) = fact {
                        self.plain(&format!("{axis} encoder {end}"), &text(fact));
                    }
                }
            }
        }
    }

    fn fact(&mut self, key: &Key, fact: Option<&Fact>) -> Result<(), Failure> {
        let Some(fact) = fact else {
            return Ok(());
        };
        let title = match key.title.strip_prefix("lens ") {
            Some(short) if self.calibration => short,
            _ => key.title,
        };
        let value = match &fact.value {
            Datum::Text(text) => text.clone(),
            Datum::Number(value) if key.shape == Shape::Length => {
                format!("{} {}", number(*value), fact.unit)
            }
            Datum::Number(value) => number(*value),
        };
        self.line(title, None, &value, matches!(fact.value, Datum::Text(_)))
    }

    /// Facts outside the registry, under their own names.
    fn extras(&mut self, facts: &[&Fact], owner: Owner) -> Result<(), Failure> {
        for fact in facts {
            let Some(name) = fact.name.strip_prefix(EXTRA) else {
                continue;
            };
            let key = if owner == Owner::Lens && !self.calibration {
                format!("{LENS_EXTRA}{name}")
            } else if keys::is_taken(name, self.calibration) {
                format!("{EXTRA}{name}")
            } else {
                name.to_owned()
            };
            match &fact.value {
                // The unit of a text says how to read it; plain text needs no word.
                Datum::Text(text) => {
                    let form = Some(fact.unit.as_str()).filter(|f| matches!(*f, "json" | "hex"));
                    self.line(&key, form, text, true)?;
                }
                Datum::Number(value) => {
                    self.line(&key, Some(&fact.unit), &number(*value), false)?
                }
            }
        }
        Ok(())
    }

    /// A line that reads back as the same key, unit and value; in JSON strings where it must be.
    fn line(
        &mut self,
        key: &str,
        unit: Option<&str>,
        value: &str,
        is_text: bool,
    ) -> Result<(), Failure> {
        refuse_nul(key)?;
        refuse_nul(value)?;
        let unit_text = unit.map(|unit| format!(" [{unit}]")).unwrap_or_default();
        let json = |text: &str| serde_json::Value::from(text).to_string();
        let value_json = if is_text {
            json(value)
        } else {
            value.to_owned()
        };
        let candidates = [
            format!(" {key}{unit_text}: {value}"),
            format!(" {key}{unit_text}: {value_json}"),
            format!(" {}{unit_text}: {value_json}", json(key)),
        ];
        let same = |text: &&String| {
            !text.contains(['\n', '\r'])
                && Line::parse(text, 0).is_some_and(|line| {
                    line.key == key && line.unit.as_deref() == unit && line.value == value
                })
        };
        let Some(text) = candidates.iter().find(same) else {
            return Err(failure(
                format!(
                    "the unit {} of {} cannot be written",
                    quoted(unit.unwrap_or_default()),
                    quoted(key)
                ),
                "rename the unit, or choose another target format",
                None,
            ));
        };
        self.text.push_str(&format!("#{text}\n"));
        Ok(())
    }
}

/// Whether a fact has a value.
fn is_recorded(fact: &Fact) -> bool {
    !matches!(fact.value, Datum::Number(value) if value.is_nan())
}

/// `50 mm` or `24-70 mm`, for numbers that such a text can hold.
fn focal_length(min: &Fact, max: &Fact) -> Option<String> {
    let (Datum::Number(shortest), Datum::Number(longest)) = (&min.value, &max.value) else {
        return None;
    };
    let (shortest, longest) = (number(*shortest), number(*longest));
    let digits = |text: &str| {
        text.bytes()
            .all(|byte| byte.is_ascii_digit() || byte == b'.')
    };
    if min.unit != max.unit || !digits(&shortest) || !digits(&longest) {
        return None;
    }
    Some(if shortest == longest {
        format!("{shortest} {}", min.unit)
    } else {
        format!("{shortest}-{longest} {}", min.unit)
    })
}

/// `image plane`.
pub fn words(reference: DistanceReference) -> String {
    reference.name().replace('-', " ")
}
