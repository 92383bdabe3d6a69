//! Heads of columns, and columns whose values stand inline.

use std::sync::Arc;

use ringmark_quantity::DistanceReference;

use super::cursor::Cursor;
use super::error::Parsed;
use crate::batch::{ColumnHead, ColumnKey, NumberColumn, Origin, TextColumn, TextForm};
use crate::channel::Channel;
use crate::json::{MAX_COLUMNS, keys, rules};
use crate::raw::EXTRA;

/// A column as declared; its values wait until its form is known.
#[derive(Debug)]
pub(super) struct Declared<'a> {
    pub head: Arc<ColumnHead>,
    pub is_text: bool,
    /// At the inline values, if there are any.
    pub values: Option<Cursor<'a>>,
    /// Where its name begins.
    pub start: usize,
}

/// Reads `{"name": {head, values}, …}`.
pub(super) fn columns<'a>(c: &mut Cursor<'a>) -> Parsed<Vec<Declared<'a>>> {
    let mut columns = Vec::new();
    c.members(|c, name, start| {
        if columns.len() == MAX_COLUMNS {
            let message = format!("more than {MAX_COLUMNS} columns");
            return Err(c.fault(start, message, "leave out columns that are not needed"));
        }
        columns.push(column(c, name, start)?);
        Ok(())
    })?;
    Ok(columns)
}

fn column<'a>(c: &mut Cursor<'a>, name: &str, start: usize) -> Parsed<Declared<'a>> {
    let key = match (name.strip_prefix(EXTRA), Channel::from_name(name)) {
        (Some(name), _) => ColumnKey::Extra(name.into()),
        (None, Some(channel)) => ColumnKey::Channel(channel),
        (None, None) => return Err(unknown_channel(c, start, name)),
    };
    let plain = key.channel().is_some_and(Channel::is_text);
    let mut head = ColumnHead {
        key,
        unit: String::new(),
        reference: None,
        origin: Origin::Recorded,
        source_unit: None,
        form: plain.then_some(TextForm::Text),
    };
    let mut values = None;
    c.object(keys::COLUMN, |c, key| {
        match key {
            "unit" => head.unit = c.text()?.into_owned(),
            "reference" => head.reference = Some(reference(c)?),
            "origin" => head.origin = c.one_of("origin", &ORIGINS.map(|o| (o.name(), o)))?,
            "source_unit" => head.source_unit = Some(c.text()?.into_owned()),
            "form" => head.form = Some(c.one_of("form", &FORMS.map(|f| (f.name(), f)))?),
            _ => {
                values = Some(c.clone());
                c.skip()?;
            }
        }
        Ok(())
    })?;
    let is_text = match head.key {
        ColumnKey::Channel(channel) => channel.is_text(),
        ColumnKey::Extra(_) => head.form.is_some(),
    };
    if let Some(fault) = rules::head_fault(&head, is_text) {
        return Err(c.fault(start, fault, ""));
    }
    Ok(Declared {
        head: Arc::new(head),
        is_text,
        values,
        start,
    })
}

const ORIGINS: [Origin; 4] = [
    Origin::Recorded,
    Origin::Converted,
    Origin::Interpolated,
    Origin::Derived,
];

const FORMS: [TextForm; 3] = [TextForm::Text, TextForm::Json, TextForm::Hex];

/// What a distance is measured from.
pub(super) fn reference(c: &mut Cursor) -> Parsed<DistanceReference> {
    c.one_of("reference", &DistanceReference::ALL.map(|r| (r.name(), r)))
}

/// A fault about a name that is neither a channel nor an extra.
#[cold]
pub(super) fn unknown_channel(c: &Cursor, start: usize, name: &str) -> Box<super::error::Fault> {
    let known: Vec<&str> = Channel::ALL.iter().map(|channel| channel.name()).collect();
    let mut fault = c.unknown(start, "channel", name, &known);
    if fault.help.is_empty() {
        fault.help = format!("data without a channel is called `{EXTRA}NAME`");
    }
    fault
}

/// A column with its values.
#[derive(Debug)]
pub(super) enum Column {
    Numbers(NumberColumn),
    Texts(TextColumn),
}

impl Column {
    pub fn len(&self) -> usize {
        match self {
            Column::Numbers(column) => column.values.len(),
            Column::Texts(column) => column.index.len(),
        }
    }
}

impl Declared<'_> {
    /// Reads the inline values, and where each one stands.
    pub fn read(self, c: &Cursor) -> Parsed<(Column, Vec<u64>)> {
        let Some(mut at) = self.values else {
            let message = format!("`{}` has no values", self.head.key.name());
            return Err(c.fault(self.start, message, "add \"values\": [...]"));
        };
        let mut offsets = Vec::new();
        if self.is_text {
            let mut column = TextColumn::from_texts(self.head, []);
            at.array(|c| {
                c.space();
                offsets.push(c.offset());
                match c.peek() {
                    Some(b'n') => c.null().map(|()| column.push(None)),
                    _ => c.text().map(|text| column.push(Some(&text))),
                }
            })?;
            Ok((Column::Texts(column), offsets))
        } else {
            let mut values = Vec::new();
            at.array(|c| {
                c.space();
                offsets.push(c.offset());
                values.push(c.value()?);
                Ok(())
            })?;
            let head = self.head;
            Ok((Column::Numbers(NumberColumn { head, values }), offsets))
        }
    }
}
