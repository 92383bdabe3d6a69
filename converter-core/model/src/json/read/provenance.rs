//! Where the inputs of a document came from.

use super::cursor::Cursor;
use super::error::Parsed;
use crate::json::keys;
use crate::provenance::{Changed, PluginIdentity, Provenance, Repaired};

pub(super) fn provenance(c: &mut Cursor) -> Parsed<Vec<Provenance>> {
    let mut inputs = Vec::new();
    c.array(|c| {
        inputs.push(one_input(c)?);
        Ok(())
    })?;
    Ok(inputs)
}

fn one_input(c: &mut Cursor) -> Parsed<Provenance> {
    let mut input = Provenance::default();
    c.object(keys::PROVENANCE, |c, key| {
        match key {
            "file" => input.file = c.text()?.into_owned(),
            "files" => input.files = c.whole(u64::MAX)?,
            "size" => input.size = c.whole(u64::MAX)?,
            "sha256" => input.sha256 = Some(c.text()?.into_owned()),
            "plugin" => input.plugin = Some(plugin(c)?),
            "mapping" => input.mapping = Some(named_file(c)?),
            "repairs" => c.array(|c| {
                input.repairs.push(repair(c)?);
                Ok(())
            })?,
            "calibration" => input.calibration = Some(named_file(c)?),
            _ => input.program = c.text()?.into_owned(),
        }
        Ok(())
    })?;
    Ok(input)
}

fn repair(c: &mut Cursor) -> Parsed<Repaired> {
    let mut repair = Repaired::default();
    c.object(keys::REPAIR, |c, key| {
        match key {
            "check" => repair.check = c.text()?.into_owned(),
            "action" => repair.action = c.text()?.into_owned(),
            "evidence" => repair.evidence = c.text()?.into_owned(),
            _ => c.array(|c| {
                repair.changes.push(changed(c)?);
                Ok(())
            })?,
        }
        Ok(())
    })?;
    Ok(repair)
}

fn changed(c: &mut Cursor) -> Parsed<Changed> {
    let mut changed = Changed::default();
    c.object(keys::CHANGE, |c, key| {
        let text = c.text()?.into_owned();
        match key {
            "place" => changed.place = text,
            "was" => changed.was = Some(text),
            _ => changed.now = Some(text),
        }
        Ok(())
    })?;
    Ok(changed)
}

fn plugin(c: &mut Cursor) -> Parsed<PluginIdentity> {
    let mut plugin = PluginIdentity {
        name: String::new(),
        version: String::new(),
        sha256: String::new(),
    };
    c.object(keys::PLUGIN, |c, key| {
        let text = c.text()?.into_owned();
        match key {
            "name" => plugin.name = text,
            "version" => plugin.version = text,
            _ => plugin.sha256 = text,
        }
        Ok(())
    })?;
    Ok(plugin)
}

fn named_file(c: &mut Cursor) -> Parsed<(String, String)> {
    let (mut name, mut sha256) = (String::new(), String::new());
    c.object(keys::NAMED_FILE, |c, key| {
        let text = c.text()?.into_owned();
        match key {
            "name" => name = text,
            _ => sha256 = text,
        }
        Ok(())
    })?;
    Ok((name, sha256))
}
