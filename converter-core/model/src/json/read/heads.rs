//! Version, lenses and takes: what documents and headers share.

use super::cursor::Cursor;
use super::error::Parsed;
use super::lens::lens;
use super::provenance::provenance;
use super::take::{ReadTake, take};
use crate::json::VERSION;
use crate::lens::Lens;
use crate::provenance::Provenance;

/// What an object of heads holds.
#[derive(Debug, Default)]
pub(super) struct Heads<'a> {
    pub lenses: Vec<Lens>,
    pub takes: Vec<ReadTake<'a>>,
    pub provenance: Vec<Provenance>,
    has_version: bool,
}

impl<'a> Heads<'a> {
    /// Reads an object with these keys. `lenses_before` came ahead of it.
    pub fn read(c: &mut Cursor<'a>, keys: &[&str], lenses_before: usize) -> Parsed<Self> {
        c.space();
        let start = c.at();
        let mut heads = Heads::default();
        c.object(keys, |c, key| {
            match key {
                "lens_data" => {
                    version(c)?;
                    heads.has_version = true;
                }
                "form" => c.one_of("form", &[("lines", ())])?,
                "lenses" => c.array(|c| {
                    heads.lenses.push(lens(c)?);
                    Ok(())
                })?,
                "takes" => c.array(|c| {
                    heads.takes.push(take(c)?);
                    Ok(())
                })?,
                _ => heads.provenance = provenance(c)?,
            }
            Ok(())
        })?;
        if keys.contains(&"lens_data") && !heads.has_version {
            return Err(c.fault(
                start,
                "no lens_data document: the key `lens_data` is missing",
                format!("a document begins with {{\"lens_data\": \"{VERSION}\""),
            ));
        }
        let lenses = lenses_before + heads.lenses.len();
        for each in &heads.takes {
            if let Some(lens) = each.take.lens
                && lens >= lenses
            {
                let message = format!("a take with lens {lens}, but there are {lenses} lenses");
                return Err(c.fault(each.start, message, "lenses are counted from 0"));
            }
        }
        Ok(heads)
    }
}

fn version(c: &mut Cursor) -> Parsed<()> {
    let start = c.at();
    let found = c.text()?;
    if found == VERSION {
        return Ok(());
    }
    let number = |text: &str| -> Option<(u32, u32)> {
        let (major, minor) = text.split_once('.')?;
        Some((major.parse().ok()?, minor.parse().ok()?))
    };
    let (message, help) = match number(&found) {
        Some(version) if Some(version) > number(VERSION) => (
            format!(
                "lens_data {found} is newer than {VERSION}, the newest that this program reads"
            ),
            "update this program",
        ),
        _ => (
            format!("lens_data `{}` is no version", found.escape_debug()),
            "the version is \"1.0\"",
        ),
    };
    Err(c.fault(start, message, help))
}
