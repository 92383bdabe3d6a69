//! Lines `# key: value` above the header.

use ringmark_sdk::quantity::DistanceReference;
use ringmark_sdk::quantity::parse::DecimalMark;
use ringmark_sdk::{Datum, Failure, Place, fact, failure};

use crate::facts::Facts;
use crate::fields::fold;
use crate::header::split_unit;
use crate::mapping::{Document, Mapping, Static};
use crate::say::{place, quoted};

/// One line, its value still text.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The key as it stands, unit removed.
    pub key: String,
    /// The unit behind the key, if any.
    pub unit: Option<String>,
    /// The value as it stands.
    pub value: String,
    /// Where the value stands; `None` for lines of a mapping.
    pub at: Option<Place>,
}

impl Line {
    /// A line of the file without its `#`, which stands at `offset`. `None` for comments: lines
    /// without a colon, a key or a value.
    pub fn parse(text: &str, offset: u64) -> Option<Line> {
        let (key, unit, rest) = if text.trim_start().starts_with('"') {
            literal_key(text)?
        } else {
            let (key, rest) = text.split_once(':')?;
            let (name, unit) = split_unit(key.trim());
            (name.to_owned(), unit.map(str::to_owned), rest)
        };
        let value = rest.trim();
        let start = offset + 1 + (text.len() - rest.trim_start().len()) as u64;
        // Texts that a line cannot hold as they are stand as JSON strings.
        let literal = value
            .starts_with('"')
            .then(|| serde_json::from_str::<String>(value).ok())
            .flatten();
        if literal.is_none() && value.is_empty() {
            return None;
        }
        Some(Line {
            key,
            unit,
            value: literal.unwrap_or_else(|| value.to_owned()),
            at: place(start, value.len()),
        })
    }

    /// A failure about this line.
    pub fn refuse(&self, expected: &str, help: impl Into<String>) -> Failure {
        failure(
            format!(
                "{} in line {}: expected {expected}",
                quoted(&self.value),
                quoted(&format!("# {}:", self.key))
            ),
            help,
            self.at.clone(),
        )
    }
}

/// A key in quotes, with the unit and the text behind the colon.
fn literal_key(text: &str) -> Option<(String, Option<String>, &str)> {
    let mut keys = serde_json::Deserializer::from_str(text).into_iter::<String>();
    let key = keys.next()?.ok()?;
    let (unit, rest) = text.get(keys.byte_offset()..)?.split_once(':')?;
    let unit = match unit.trim() {
        "" => None,
        unit => Some(split_unit(unit).1?.to_owned()),
    };
    Some((key, unit, rest))
}

/// Everything the lines of a file and its mapping say.
#[derive(Debug, Default)]
pub struct Statics {
    lines: Vec<Line>,
}

impl Statics {
    /// The lines of a file, and over them the statics of a mapping.
    pub fn new(file: Vec<Line>, mapping: &Mapping) -> Statics {
        let mut lines = file;
        let statics = mapping.statics.iter().map(|(key, value)| {
            let value = match value {
                Static::Text(text) => text.clone(),
                Static::Number(number) => number.to_string(),
            };
            (key.as_str(), value)
        });
        let measured_from = mapping
            .measured_from
            .clone()
            .map(|from| ("measured from", from));
        for (key, value) in statics.chain(measured_from) {
            let (name, unit) = split_unit(key);
            lines.retain(|line| fold(&line.key) != fold(name));
            lines.push(Line {
                key: name.to_owned(),
                unit: unit.map(str::to_owned),
                value,
                at: None,
            });
        }
        Statics { lines }
    }

    fn line(&self, key: &str) -> Option<&Line> {
        self.lines.iter().find(|line| fold(&line.key) == key)
    }

    /// What the file says it is.
    pub fn document(&self) -> Result<Option<Document>, Failure> {
        let Some(line) = self.line("document") else {
            return Ok(None);
        };
        match fold(&line.value).as_str() {
            "take" | "takes" | "per-frame-record" | "per-frame-records" => Ok(Some(Document::Take)),
            "ring-calibration" | "calibration" => Ok(Some(Document::Calibration)),
            _ => Err(line.refuse(
                "take or ring calibration",
                "write `# document: take` or `# document: ring calibration`",
            )),
        }
    }

    /// The decimal mark the file says it has.
    pub fn decimal(&self) -> Result<Option<DecimalMark>, Failure> {
        let Some(line) = self.line("decimal") else {
            return Ok(None);
        };
        match fold(&line.value).as_str() {
            "comma" | "," => Ok(Some(DecimalMark::Comma)),
            "point" | "." => Ok(Some(DecimalMark::Point)),
            _ => Err(line.refuse("comma or point", "write `# decimal: comma`")),
        }
    }

    /// Whether blank lines are frames in which nothing was recorded.
    pub fn blank_lines_are_frames(&self) -> Result<bool, Failure> {
        let Some(line) = self.line("blank-lines") else {
            return Ok(false);
        };
        match fold(&line.value).as_str() {
            "frames" => Ok(true),
            "ignored" => Ok(false),
            _ => Err(line.refuse("frames or ignored", "write `# blank lines: frames`")),
        }
    }

    /// All facts, for a file of that kind.
    pub fn facts(&self, document: Document, mark: DecimalMark) -> Result<Facts, Failure> {
        let mut facts = Facts::default();
        let calibration = document == Document::Calibration;
        for line in &self.lines {
            facts.add(line, calibration, mark)?;
        }
        // What the distances of the file are measured from holds for close focus too.
        let has = |name: &str| facts.lens.iter().any(|fact| fact.name == name);
        if facts.measured_from != DistanceReference::Unstated
            && has("close-focus")
            && !has("close-focus-reference")
        {
            let at = self
                .line("measured-from")
                .or_else(|| self.line("reference"))
                .and_then(|line| line.at.clone());
            facts.lens.push(fact(
                "close-focus-reference",
                facts.measured_from.name(),
                at,
            ));
        }
        facts.lens.retain(|fact| {
            fact.name != "close-focus-reference"
                || fact.value != Datum::Text(DistanceReference::Unstated.name().to_owned())
        });
        for list in [&facts.lens, &facts.take] {
            for (index, fact) in list.iter().enumerate() {
                if list.iter().take(index).any(|other| other.name == fact.name) {
                    return Err(failure(
                        format!("{} is said twice", quoted(&fact.name)),
                        "keep the line that is right",
                        fact.at.clone(),
                    ));
                }
            }
        }
        Ok(facts)
    }
}
