//! The columns of a ring calibration, and which units the scale of a ring may have.

use ringmark_sdk::quantity::Unit;
use ringmark_sdk::quantity::parse::{StopKind, length_with, stop_with};
use ringmark_sdk::{Failure, Place, failure};

use crate::fields::{Quantity, fold};
use crate::form::Form;
use crate::header::{shown, split_unit};
use crate::keys::AXES;
use crate::mapping::{MappedColumn, mapping_failure};
use crate::records::Cell;
use crate::say::quoted;

/// What a column of a calibration is.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// Which ring.
    Ring,
    /// Ring position.
    Position(Unit),
    /// What the mark says, in the unit of the header if that has one.
    Mark(Option<Unit>),
    /// Unit of the mark.
    Unit,
    /// Text on the barrel, where it differs from the mark.
    Engraved,
    /// Left out by the mapping.
    Ignored,
    /// Not known: marks have no place for it.
    Unknown,
}

/// One column of a calibration.
pub struct Column {
    /// Its header, for messages.
    pub header: String,
    /// Where the header stands.
    pub at: Option<Place>,
    /// What it is.
    pub role: Role,
    /// Ring positions at both ends, from the mapping.
    pub range: Option<[f64; 2]>,
}

/// The columns of a calibration. Fails on columns that are there twice, that miss, or that have no
/// unit or one that does not fit.
pub fn resolve(header: &[Cell], mapped: &[Option<&MappedColumn>]) -> Result<Vec<Column>, Failure> {
    let mut columns: Vec<Column> = Vec::with_capacity(header.len());
    for (index, cell) in header.iter().enumerate() {
        let column = column(cell, mapped.get(index).copied().flatten())?;
        let twice = !matches!(column.role, Role::Ignored | Role::Unknown)
            && columns.iter().any(|other| other.role == column.role);
        if twice {
            return Err(failure(
                format!("column {} is there twice", quoted(&column.header)),
                "keep one of them, or give them different units",
                column.at,
            ));
        }
        columns.push(column);
    }
    let has = |test: &dyn Fn(&Role) -> bool| columns.iter().any(|column| test(&column.role));
    for (there, name) in [
        (has(&|role| *role == Role::Ring), "ring"),
        (
            has(&|role| matches!(role, Role::Position(_))),
            "position [0..1]",
        ),
        (has(&|role| matches!(role, Role::Mark(_))), "mark [m]"),
    ] {
        if !there {
            return Err(failure(
                format!("a ring calibration needs a column `{name}`"),
                "its header is, for example, `ring,position [0..1],mark [m]`",
                header.first().and_then(|cell| cell.at.clone()),
            ));
        }
    }
    let bare = columns
        .iter()
        .find(|column| column.role == Role::Mark(None));
    if let (Some(column), false) = (bare, has(&|role| *role == Role::Unit)) {
        return Err(failure(
            format!("column {} has no unit", quoted(&column.header)),
            "write the unit behind the name, for example `mark [m]`, `mark [ft-in]`, `mark [T]`, or add a column `unit`",
            column.at.clone(),
        ));
    }
    Ok(columns)
}

fn column(cell: &Cell, entry: Option<&MappedColumn>) -> Result<Column, Failure> {
    let header = shown(cell).to_owned();
    let (name, unit) = split_unit(header.trim());
    let unit = entry.and_then(|entry| entry.unit.as_deref()).or(unit);
    let named = |allowed: &str, takes: &dyn Fn(Unit) -> bool| -> Result<Option<Unit>, Failure> {
        let Some(symbol) = unit else {
            return Ok(None);
        };
        match Unit::from_symbol(symbol).filter(|unit| takes(*unit)) {
            Some(unit) => Ok(Some(unit)),
            None => Err(failure(
                format!("column {} cannot be in {}", quoted(&header), quoted(symbol)),
                format!("known units: {allowed}"),
                cell.at.clone(),
            )),
        }
    };
    let channel = entry.and_then(|entry| entry.channel.clone());
    let role = match channel.as_deref().unwrap_or(&fold(name)) {
        "ring" => Role::Ring,
        "position" | "ring-position" => {
            let units = "[0..1], [%], [count] or [deg]";
            let takes = |unit| Quantity::Position.takes(unit) || Quantity::RawPosition.takes(unit);
            Role::Position(named(units, &takes)?.ok_or_else(|| {
                failure(
                    format!("column {} has no unit", quoted(&header)),
                    format!("write `position [0..1]`; known units: {units}"),
                    cell.at.clone(),
                )
            })?)
        }
        "mark" => Role::Mark(named(
            "[m], [cm], [mm], [ft], [ft-in], [in], [D], [T] or [f]",
            &|unit| AXES.iter().any(|axis| scale(axis, unit).is_some()),
        )?),
        "unit" => Role::Unit,
        "engraved" => Role::Engraved,
        "ignore" => Role::Ignored,
        other if channel.is_some() => {
            return Err(mapping_failure(
                format!("a calibration has no column {}", quoted(other)),
                "write ring, position, mark, unit, engraved or ignore",
            ));
        }
        _ => Role::Unknown,
    };
    Ok(Column {
        header,
        at: cell.at.clone(),
        role,
        range: entry.and_then(|entry| entry.range),
    })
}

/// What the scale of a ring reads in that unit; `None` if it cannot. Focal lengths are in mm only: a
/// bare `24` in a column of metres or feet is none.
pub fn scale(axis: &str, unit: Unit) -> Option<Quantity> {
    match (axis, unit) {
        ("focus", _) => Quantity::Distance.takes(unit).then_some(Quantity::Distance),
        ("iris", Unit::TStop) => Some(Quantity::TStop),
        ("iris", Unit::FNumber) => Some(Quantity::FNumber),
        ("zoom", Unit::Millimetre) => Some(Quantity::Length),
        _ => None,
    }
}

/// A mark that says its unit itself: `T2.8`, `f/4`, `50 mm`, `1.2 m`.
pub fn own_unit(text: &str, axis: &str, form: &Form) -> Option<(f64, Unit)> {
    if axis == "iris" {
        let stop = stop_with(text, form.mark).ok()?;
        let unit = match stop.kind? {
            StopKind::T => Unit::TStop,
            StopKind::F => Unit::FNumber,
        };
        return Some((stop.value, unit));
    }
    // Feet and inches as default refuses bare numbers.
    let (value, unit) = length_with(text, Unit::FeetInches, form.mark).ok()?;
    (value.is_finite() && scale(axis, unit).is_some()).then_some((value, unit))
}
