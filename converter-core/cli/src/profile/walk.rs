//! A walk over TOML that knows where everything stands and what else might have been meant.

use std::ops::Range;

use anyhow::anyhow;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// What is wrong with a profile, and where.
#[derive(Debug)]
pub struct Fault {
    span: Option<Range<usize>>,
    message: String,
}

impl Fault {
    /// A fault at a place.
    pub fn at(span: &Range<usize>, message: impl Into<String>) -> Self {
        Fault {
            span: Some(span.clone()),
            message: message.into(),
        }
    }

    /// The fault as people read it: file, line, column, what.
    pub fn in_file(self, name: &str, text: &str) -> anyhow::Error {
        let Some(span) = self.span else {
            return anyhow!("{name}: {}", self.message);
        };
        let before = text.get(..span.start).unwrap_or(text);
        let line = before.matches('\n').count() + 1;
        let start = before.rfind('\n').map_or(0, |at| at + 1);
        let column = before[start..].chars().count() + 1;
        anyhow!("{name}:{line}:{column}: {}", self.message)
    }
}

impl From<toml::de::Error> for Fault {
    fn from(error: toml::de::Error) -> Self {
        Fault {
            span: error.span(),
            message: format!("no valid TOML: {}", error.message()),
        }
    }
}

/// A table with its name for messages; every key must be asked for before [`Walk::end`].
pub struct Walk<'t> {
    name: String,
    table: &'t DeTable<'t>,
    span: Range<usize>,
    known: Vec<&'static str>,
}

/// A value with its name for messages.
pub struct Item<'t> {
    /// Name of its key.
    pub key: &'t str,
    value: &'t Spanned<DeValue<'t>>,
}

impl<'t> Walk<'t> {
    /// The whole document.
    pub fn document(table: &'t Spanned<DeTable<'t>>) -> Self {
        Walk {
            name: "the profile".to_owned(),
            table: table.get_ref(),
            span: table.span(),
            known: Vec::new(),
        }
    }

    /// Where the table stands.
    pub fn span(&self) -> &Range<usize> {
        &self.span
    }

    /// The value of a key.
    pub fn get(&mut self, key: &'static str) -> Option<Item<'t>> {
        self.known.push(key);
        let (key, value) = self.table.iter().find(|(k, _)| k.get_ref() == key)?;
        Some(Item {
            key: key.get_ref(),
            value,
        })
    }

    /// All keys that were not asked for, which are names of the user's.
    pub fn names(&self) -> impl Iterator<Item = Item<'t>> {
        let table = self.table;
        table
            .iter()
            .filter(|(key, _)| !self.known.contains(&key.get_ref().as_ref()))
            .map(|(key, value)| Item {
                key: key.get_ref(),
                value,
            })
    }

    /// Fails if the table has a key that was not asked for.
    pub fn end(self) -> Result<(), Fault> {
        let unknown = self
            .table
            .iter()
            .find(|(key, _)| !self.known.contains(&key.get_ref().as_ref()));
        let Some((key, _)) = unknown else {
            return Ok(());
        };
        let near = self
            .known
            .iter()
            .map(|known| (strsim::jaro_winkler(key.get_ref(), known), known))
            .filter(|(likeness, _)| *likeness > 0.8)
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let hint = match near {
            Some((_, known)) => format!("the nearest is '{known}'"),
            None => format!("it can hold {}", self.known.join(", ")),
        };
        let message = format!("{} has no key '{}'; {hint}", self.name, key.get_ref());
        Err(Fault::at(&key.span(), message))
    }
}

impl<'t> Item<'t> {
    /// Where the value stands.
    pub fn span(&self) -> Range<usize> {
        self.value.span()
    }

    /// A fault of this value.
    pub fn fault(&self, message: impl Into<String>) -> Fault {
        Fault::at(&self.span(), message)
    }

    fn is_not(&self, wanted: &str) -> Fault {
        self.fault(format!("'{}' is {wanted}", self.key))
    }

    /// A table.
    pub fn table(&self) -> Result<Walk<'t>, Fault> {
        match self.value.get_ref() {
            DeValue::Table(table) => Ok(Walk {
                name: format!("'{}'", self.key),
                table,
                span: self.span(),
                known: Vec::new(),
            }),
            _ => Err(self.is_not("a table")),
        }
    }

    /// A list of tables.
    pub fn tables(&self) -> Result<Vec<Walk<'t>>, Fault> {
        let DeValue::Array(items) = self.value.get_ref() else {
            return Err(self.is_not(&format!("a list of tables, each headed [[{}]]", self.key)));
        };
        let walks = items.iter().map(|value| {
            let key = self.key;
            Item { key, value }.table()
        });
        walks.collect()
    }

    /// A text that is not empty.
    pub fn text(&self) -> Result<String, Fault> {
        match self.value.get_ref() {
            DeValue::String(text) if !text.trim().is_empty() => Ok(text.clone().into_owned()),
            DeValue::String(_) => Err(self.fault(format!("'{}' is empty", self.key))),
            _ => Err(self.is_not("a text in quotes")),
        }
    }

    /// A number.
    pub fn number(&self) -> Result<f64, Fault> {
        let text = match self.value.get_ref() {
            DeValue::Integer(number) if number.radix() == 10 => number.as_str(),
            DeValue::Float(number) => number.as_str(),
            _ => return Err(self.is_not("a number")),
        };
        text.parse().map_err(|_| self.is_not("a number"))
    }

    /// A day.
    pub fn date(&self) -> Result<jiff::civil::Date, Fault> {
        let wrong = || self.is_not("a day written 2026-12-31, without quotes");
        let DeValue::Datetime(day) = self.value.get_ref() else {
            return Err(wrong());
        };
        let (Some(date), None) = (day.date, day.time) else {
            return Err(wrong());
        };
        let (month, day) = (date.month as i8, date.day as i8);
        jiff::civil::Date::new(date.year as i16, month, day).map_err(|_| wrong())
    }
}
