//! Extras become the attributes that they came from, or custom attributes of their own name.

use std::collections::BTreeMap;

use super::changes::Changes;
use super::plan::{Head, Value};
use super::vector::{Vector, encode};
use crate::attribute::{Kind, hex, texts};
use crate::fields::{Role, field};
use crate::private::{self, Described, PREFIX, is_legal};
use crate::registry::other_number;
use crate::take::extra::{MOST_FLOATS, MOST_KEPT};

/// Extras of one frame while it is composed.
pub struct Extras<'a> {
    /// Types of attributes as another file had them.
    types: &'a BTreeMap<String, String>,
    /// Numbers of attributes that have several.
    vectors: BTreeMap<String, Vector>,
}

/// Where a number goes.
enum Place {
    /// The attribute of its name, which has this type. The second is true for names of the standard.
    Scalar(String, bool),
    /// One number of an attribute with several.
    Part(String, usize, String),
    /// A custom attribute.
    Custom,
    /// A private attribute.
    Private,
}

/// Puts a value into a private attribute.
pub fn put_private(changes: &mut Changes<'_>, head: &Head, value: &Value) -> Result<(), String> {
    let (name, odd) = private::attribute(&head.channel);
    let usual = other_number(&head.channel).map_or("", |row| row.unit.symbol());
    let said = Described {
        channel: if odd {
            head.channel.clone()
        } else {
            String::new()
        },
        unit: if head.unit == usual {
            String::new()
        } else {
            head.unit.clone()
        },
        reference: head.reference.clone(),
        form: if head.form == "text" {
            String::new()
        } else {
            head.form.clone()
        },
    };
    match value {
        Value::Number(number) => changes.set(&name, "double", &number.to_le_bytes())?,
        Value::Text(text) => changes.set_text(&name, text)?,
    }
    changes.describe(&name, Some(said));
    Ok(())
}

impl<'a> Extras<'a> {
    /// None so far.
    pub fn new(types: &'a BTreeMap<String, String>) -> Self {
        Extras {
            types,
            vectors: BTreeMap::new(),
        }
    }

    /// Takes a number.
    pub fn number(
        &mut self,
        changes: &mut Changes<'_>,
        head: &Head,
        number: f64,
    ) -> Result<(), String> {
        let name = head.name();
        let (kind, standard) = match self.place(changes, head) {
            Place::Private => return put_private(changes, head, &Value::Number(number)),
            Place::Part(base, index, kind) => {
                let head = Head {
                    channel: head.channel.clone(),
                    target: head.target,
                    unit: head.unit.clone(),
                    reference: String::new(),
                    form: String::new(),
                };
                let vector = self.vectors.entry(base).or_insert_with(|| Vector {
                    kind,
                    parts: Vec::new(),
                });
                vector.parts.push((index, head, number));
                return Ok(());
            }
            Place::Scalar(kind, standard) => (kind, standard),
            Place::Custom => ("double".to_owned(), false),
        };
        if changes.old.value(name, &kind).is_some() && reads_as(changes, name, number) {
            // It may be a NaN or a zero of another kind: bytes stay.
        } else if is_picture(name) {
            return put_private(changes, head, &Value::Number(number));
        } else {
            let Kind::Numbers(element, _) = Kind::of(kind.as_bytes()) else {
                return put_private(changes, head, &Value::Number(number));
            };
            match encode(element, number) {
                Some(value) => changes.set(name, &kind, &value)?,
                None if standard => return put_private(changes, head, &Value::Number(number)),
                None => changes.set(name, "double", &number.to_le_bytes())?,
            }
        }
        let said = Described {
            unit: if standard {
                String::new()
            } else {
                head.unit.clone()
            },
            ..Described::default()
        };
        changes.describe(name, Some(said));
        changes.remove(&private::attribute(&head.channel).0);
        Ok(())
    }

    fn place(&self, changes: &Changes<'_>, head: &Head) -> Place {
        let name = head.name();
        if !is_legal(name) || name.starts_with(PREFIX) {
            return Place::Private;
        }
        let scalar = |kind: &str| matches!(Kind::of(kind.as_bytes()), Kind::Numbers(_, 1));
        if let Some(row) = field(name.as_bytes()) {
            return match row.role {
                Role::Extra(unit) | Role::Picture(unit)
                    if scalar(row.kind) && unit == head.unit =>
                {
                    Place::Scalar(row.kind.to_owned(), true)
                }
                _ => Place::Private,
            };
        }
        if let Some(kind) = self.custom_kind(changes, name)
            && scalar(&kind)
        {
            return Place::Scalar(kind, false);
        }
        let part = || {
            let (base, index) = name.rsplit_once('.')?;
            let index: usize = index
                .parse()
                .ok()
                .filter(|n: &usize| n.to_string() == index)?;
            let kind = match field(base.as_bytes()) {
                Some(row) => match row.role {
                    Role::Extra(unit) | Role::Picture(unit) if unit == head.unit => {
                        row.kind.to_owned()
                    }
                    _ => return None,
                },
                None => self.custom_kind(changes, base)?,
            };
            let fits = match Kind::of(kind.as_bytes()) {
                Kind::Numbers(_, count) => count > 1 && index < count,
                Kind::FloatVector => index < MOST_FLOATS,
                _ => false,
            };
            fits.then(|| Place::Part(base.to_owned(), index, kind))
        };
        part().unwrap_or(Place::Custom)
    }

    /// The type of a custom attribute: as the template has it, else as the take's file had it.
    fn custom_kind(&self, changes: &Changes<'_>, name: &str) -> Option<String> {
        match changes.old.find(name) {
            Some(old) => Some(String::from_utf8_lossy(old.kind()).into_owned()),
            None => self.types.get(name).cloned(),
        }
    }

    /// Writes attributes of several numbers.
    pub fn finish(self, changes: &mut Changes<'_>) -> Result<(), String> {
        for (name, vector) in self.vectors {
            let layout = Kind::of(vector.kind.as_bytes());
            let old = changes.old.value(&name, &vector.kind).map(<[u8]>::to_vec);
            let new = vector.encode(layout, old.as_deref());
            let new = new.filter(|new| !is_picture(&name) || old.as_ref() == Some(new));
            let Some(new) = new else {
                let before = old.map(|old| layout.numbers(&old).collect::<Vec<_>>());
                vector.put_private(changes, &name, &before.unwrap_or_default())?;
                continue;
            };
            changes.set(&name, &vector.kind, &new)?;
            let custom = field(name.as_bytes()).is_none();
            let unit = vector.parts.first().map(|(_, head, _)| head.unit.clone());
            changes.describe(
                &name,
                Some(Described {
                    unit: unit.filter(|_| custom).unwrap_or_default(),
                    ..Described::default()
                }),
            );
            for (_, head, _) in &vector.parts {
                changes.remove(&private::attribute(&head.channel).0);
            }
        }
        Ok(())
    }

    /// Takes a text.
    pub fn text(
        &mut self,
        changes: &mut Changes<'_>,
        head: &Head,
        text: &str,
    ) -> Result<(), String> {
        let done = match head.form.as_str() {
            "json" => self.put_list(changes, head.name(), text)?,
            "hex" => put_bytes(changes, head.name(), text)?,
            _ => false,
        };
        if !done && !put_text(changes, head, text)? {
            return put_private(changes, head, &Value::Text(text.into()));
        }
        changes.remove(&private::attribute(&head.channel).0);
        Ok(())
    }

    /// A list of texts as a `stringvector`; whether it is one.
    fn put_list(&self, changes: &mut Changes<'_>, name: &str, text: &str) -> Result<bool, String> {
        let kind = match field(name.as_bytes()) {
            Some(row) => Some(row.kind.to_owned()),
            None => self.custom_kind(changes, name),
        };
        if kind.as_deref() != Some("stringvector") || name.starts_with(PREFIX) || !is_legal(name) {
            return Ok(false);
        }
        let shown = |value: &[u8]| serde_json::to_string(&texts(value).ok()?).ok();
        if let Some(old) = changes.old.value(name, "stringvector")
            && shown(old).as_deref() == Some(text)
        {
            changes.describe(name, None);
            return Ok(true);
        }
        if is_picture(name) {
            return Ok(false);
        }
        let Ok(list) = serde_json::from_str::<Vec<String>>(text) else {
            return Ok(false);
        };
        let mut value = Vec::new();
        for text in list {
            value.extend((text.len() as u32).to_le_bytes());
            value.extend(text.as_bytes());
        }
        // Spelled otherwise it would not be read back as the same text.
        if value.len() > MOST_KEPT || shown(&value).as_deref() != Some(text) {
            return Ok(false);
        }
        changes.set(name, "stringvector", &value)?;
        changes.describe(name, None);
        Ok(true)
    }
}

/// Whether the attribute is about the pixels of the file, which stay as they are.
fn is_picture(name: &str) -> bool {
    field(name.as_bytes()).is_some_and(|row| matches!(row.role, Role::Picture(_)))
}

fn reads_as(changes: &Changes<'_>, name: &str, number: f64) -> bool {
    let old = changes.old.find(name).and_then(|old| old.number());
    old.is_some_and(|old| old.to_bits() == number.to_bits())
}

/// Bytes as an attribute of their type, `NAME:TYPE`; whether they are.
fn put_bytes(changes: &mut Changes<'_>, name: &str, text: &str) -> Result<bool, String> {
    let Some((base, kind)) = name.rsplit_once(':') else {
        return Ok(false);
    };
    let Some(value) = unhex(text) else {
        return Ok(false);
    };
    // The file's own, whose name or type may hold a colon too.
    let is_own = |(at, _)| {
        let old = changes.old.value(&name[..at], &name[at + 1..]);
        old == Some(value.as_slice())
    };
    if name.match_indices(':').any(is_own) {
        return Ok(true);
    }
    let row = field(base.as_bytes());
    let is_free = match row {
        Some(row) => matches!(row.role, Role::Extra(_) | Role::Picture(_)) && row.kind == kind,
        None => true,
    };
    // Only what is read back as bytes.
    let is_opaque = match Kind::of(kind.as_bytes()) {
        Kind::Opaque(size) => size.is_none_or(|size| size == value.len()),
        Kind::Timecode => value.len() == 8,
        Kind::FloatVector => value.len().is_multiple_of(4) && value.len() / 4 > MOST_FLOATS,
        _ => false,
    };
    let is_named = is_legal(base) && is_legal(kind) && !base.starts_with(PREFIX);
    if !is_free || !is_opaque || !is_named || value.len() > MOST_KEPT {
        return Ok(false);
    }
    if is_picture(base) && changes.old.value(base, kind) != Some(value.as_slice()) {
        return Ok(false);
    }
    changes.set(base, kind, &value)?;
    changes.describe(base, None);
    Ok(true)
}

/// A text as an attribute of its name; whether it can be one.
fn put_text(changes: &mut Changes<'_>, head: &Head, text: &str) -> Result<bool, String> {
    let name = head.name();
    let plain = head.form == "text";
    // The name of a second attribute with another type.
    if let Some((base, kind)) = name.rsplit_once(':')
        && plain
        && kind == "string"
        && changes
            .old
            .value(base, kind)
            .is_some_and(|old| String::from_utf8_lossy(old) == text)
    {
        return Ok(true);
    }
    if !is_legal(name) || name.starts_with(PREFIX) {
        return Ok(false);
    }
    if let Some(row) = field(name.as_bytes()) {
        let is_text = plain && row.kind == "string";
        let old = changes
            .old
            .value(name, "string")
            .map(String::from_utf8_lossy);
        match row.role {
            Role::Extra(_) if is_text => {}
            Role::Picture(_) if is_text && old.as_deref() == Some(text) => {}
            _ => return Ok(false),
        }
    }
    changes.set_text(name, text)?;
    let said = Described {
        form: if plain {
            String::new()
        } else {
            head.form.clone()
        },
        ..Described::default()
    };
    changes.describe(name, Some(said));
    Ok(true)
}

/// The bytes of a text that [`hex`] would give.
fn unhex(text: &str) -> Option<Vec<u8>> {
    let digits = text.as_bytes();
    let pairs = digits.chunks(2).map(|pair| match pair {
        [high, low] => {
            let digit = |byte: &u8| char::from(*byte).to_digit(16);
            Some((digit(high)? << 4 | digit(low)?) as u8)
        }
        _ => None,
    });
    let bytes: Vec<u8> = pairs.collect::<Option<_>>()?;
    (hex(&bytes) == text).then_some(bytes)
}
