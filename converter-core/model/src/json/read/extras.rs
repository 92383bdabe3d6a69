//! Extras of lenses and takes.

use super::cursor::Cursor;
use super::error::Parsed;
use crate::batch::TextForm;
use crate::extras::{Extra, ExtraValue};
use crate::json::keys;

pub(super) fn extras(c: &mut Cursor) -> Parsed<Vec<Extra>> {
    let mut extras = Vec::new();
    c.members(|c, name, _| {
        let value = match c.peek() {
            Some(b'"') => ExtraValue::Text(TextForm::Text, c.text()?.into_owned()),
            Some(b'{') => stated(c)?,
            Some(b'-' | b'0'..=b'9') => ExtraValue::Number(c.finite()?, String::new()),
            _ => {
                return Err(
                    c.unexpected("a number, a text, or an object with `number`, `json` or `hex`")
                );
            }
        };
        extras.push(Extra {
            name: name.to_owned(),
            value,
        });
        Ok(())
    })?;
    Ok(extras)
}

/// A value that says what it is.
fn stated(c: &mut Cursor) -> Parsed<ExtraValue> {
    let start = c.at();
    let mut number = None;
    let mut unit = None;
    let mut text = None;
    let mut values = 0;
    c.object(keys::EXTRA, |c, key| {
        match key {
            "number" => number = Some(c.value()?),
            "unit" => unit = Some(c.text()?.into_owned()),
            "json" => text = Some((TextForm::Json, c.text()?.into_owned())),
            _ => text = Some((TextForm::Hex, c.text()?.into_owned())),
        }
        values += u32::from(key != "unit");
        Ok(())
    })?;
    match (number, text, unit) {
        (Some(number), None, unit) => Ok(ExtraValue::Number(number, unit.unwrap_or_default())),
        (None, Some((form, text)), None) if values == 1 => Ok(ExtraValue::Text(form, text)),
        _ => Err(c.fault(
            start,
            "an extra that is not exactly one of `number` (with or without `unit`), `json`, `hex`",
            "",
        )),
    }
}
