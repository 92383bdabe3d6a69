//! Reads ring calibrations: one lens, its rings, their marks.

use std::collections::VecDeque;

use ringmark_sdk::bytes::Window;
use ringmark_sdk::quantity::Unit;
use ringmark_sdk::{Failure, Item, Lens, Mark, Place, Remark, Ring, fact, failure};

use crate::calibration_columns::{Column, Role, own_unit, resolve, scale};
use crate::calibration_encoders::{add_encoder, unused};
use crate::cells::{CellError, Reading};
use crate::facts::{Encoder, Facts};
use crate::fields::{Quantity, fold};
use crate::form::Form;
use crate::keys::AXES;
use crate::mapping::MappedColumn;
use crate::read_take::mixed_line_ends;
use crate::records::{Cell, LONGEST_LINE, record, too_long};
use crate::say::{place, quoted};

/// Most marks of a calibration: no barrel has as many.
const MOST_MARKS: usize = 65_536;

/// A calibration while it is read.
pub struct CalibrationReader {
    window: Window,
    form: Form,
    columns: Vec<Column>,
    facts: Facts,
    rings: Vec<Ring>,
    marks: usize,
    line_ends: [Option<u64>; 2],
    ready: VecDeque<Item>,
    done: bool,
}

impl CalibrationReader {
    /// A calibration whose rows start where the window stands.
    pub fn new(
        window: Window,
        header: &[Cell],
        mapped: &[Option<&MappedColumn>],
        facts: Facts,
        form: Form,
    ) -> Result<Self, Failure> {
        let columns = resolve(header, mapped)?;
        Ok(CalibrationReader {
            window,
            form,
            columns,
            facts,
            rings: Vec::new(),
            marks: 0,
            line_ends: [None, None],
            ready: VecDeque::new(),
            done: false,
        })
    }

    /// The next item.
    pub fn next(&mut self) -> Result<Option<Item>, Failure> {
        if !self.done {
            self.done = true;
            while let Some(row) = self.next_row()? {
                self.add(&row)?;
            }
            self.finish()?;
        }
        Ok(self.ready.pop_front())
    }

    fn next_row(&mut self) -> Result<Option<Vec<Cell>>, Failure> {
        loop {
            let (bytes, base) = (self.window.bytes(), self.window.offset());
            let ended = self.window.ended();
            let blank = match bytes {
                [] if ended => return Ok(None),
                [b'\n', ..] => 1,
                [b'\r', b'\n', ..] => 2,
                [b'\r'] if ended => 1,
                _ => 0,
            };
            if blank > 0 {
                self.window.advance(blank);
                continue;
            }
            if bytes.is_empty() {
                self.window.more();
                continue;
            }
            let found = record(bytes, base, self.form.delimiter, ended)?;
            let size = found.as_ref().map_or(bytes.len(), |(_, used)| *used);
            if size > LONGEST_LINE {
                return Err(too_long(base, bytes));
            }
            match found {
                None => {
                    self.window.more();
                }
                Some((cells, used)) => {
                    let line = bytes.get(..used).unwrap_or_default();
                    if line.ends_with(b"\n") {
                        let crlf = usize::from(line.ends_with(b"\r\n"));
                        if let Some(seen @ None) = self.line_ends.get_mut(crlf) {
                            *seen = Some(base + used as u64 - 1);
                        }
                    }
                    let length = line.trim_ascii_end().len();
                    self.window.advance(used);
                    if cells.len() != self.columns.len() {
                        return Err(failure(
                            format!(
                                "this row has {} cells, the header has {}",
                                cells.len(),
                                self.columns.len()
                            ),
                            "give each row as many cells as the header; put quotes around a cell that holds the delimiter",
                            place(base, length),
                        ));
                    }
                    return Ok(Some(cells));
                }
            }
        }
    }

    fn add(&mut self, row: &[Cell]) -> Result<(), Failure> {
        let at = row.first().and_then(|cell| cell.at.clone());
        let (_, ring) = self
            .one(row, |role| *role == Role::Ring)?
            .ok_or_else(|| missing("ring", at.clone()))?;
        let axis = AXES
            .into_iter()
            .find(|axis| *axis == fold(&ring.text))
            .ok_or_else(|| {
                failure(
                    format!("{} is no ring", quoted(&ring.text)),
                    "write focus, iris or zoom",
                    ring.at.clone(),
                )
            })?;
        let (column, cell) = self
            .one(row, |role| matches!(role, Role::Position(_)))?
            .ok_or_else(|| missing("position", at.clone()))?;
        let Role::Position(position_unit) = column.role else {
            return Ok(());
        };
        let quantity = if Quantity::Position.takes(position_unit) {
            Quantity::Position
        } else {
            Quantity::RawPosition
        };
        let position = self.read(cell, column, quantity, position_unit)?;
        let (column, cell) = self
            .one(row, |role| matches!(role, Role::Mark(_)))?
            .ok_or_else(|| missing("mark", at))?;
        let (value, value_unit) = self.mark(row, axis, column, cell)?;
        let engraved = match self.columns.iter().position(|c| c.role == Role::Engraved) {
            Some(index) => row
                .get(index)
                .map(|cell| cell.text.clone())
                .unwrap_or_default(),
            None => cell.text.clone(),
        };
        let mark = Mark {
            position,
            value,
            engraved,
            at: cell.at.clone(),
        };
        self.marks += 1;
        if self.marks > MOST_MARKS {
            return Err(failure(
                format!("a calibration of more than {MOST_MARKS} marks"),
                "check that it is the right file: per-frame records have no columns `ring` and `mark`",
                mark.at,
            ));
        }
        let (position_unit, value_unit) = (position_unit.symbol(), value_unit.symbol());
        match self.rings.iter_mut().find(|ring| ring.axis == axis) {
            None => self.rings.push(Ring {
                axis: axis.to_owned(),
                position_unit: position_unit.to_owned(),
                value_unit: value_unit.to_owned(),
                facts: Vec::new(),
                marks: vec![mark],
            }),
            Some(ring) if ring.position_unit != position_unit => {
                return Err(two_units(
                    axis,
                    "positions",
                    &ring.position_unit,
                    position_unit,
                    mark.at,
                ));
            }
            Some(ring) if ring.value_unit != value_unit => {
                return Err(two_units(
                    axis,
                    "marks",
                    &ring.value_unit,
                    value_unit,
                    mark.at,
                ));
            }
            Some(ring) => ring.marks.push(mark),
        }
        Ok(())
    }

    /// The one column of a role that has something in this row.
    fn one<'a>(
        &'a self,
        row: &'a [Cell],
        role: impl Fn(&Role) -> bool,
    ) -> Result<Option<(&'a Column, &'a Cell)>, Failure> {
        let mut filled = self.columns.iter().zip(row).filter(|(column, cell)| {
            role(&column.role) && !self.form.is_missing(cell.text.as_bytes())
        });
        let first = filled.next();
        if let (Some((one, _)), Some((two, cell))) = (first, filled.next()) {
            return Err(failure(
                format!(
                    "this row has both {} and {}",
                    quoted(&one.header),
                    quoted(&two.header)
                ),
                "keep one of them a row",
                cell.at.clone(),
            ));
        }
        Ok(first)
    }

    fn mark(
        &self,
        row: &[Cell],
        axis: &str,
        column: &Column,
        cell: &Cell,
    ) -> Result<(f64, Unit), Failure> {
        let from_row = self
            .one(row, |role| *role == Role::Unit)?
            .map(|(_, unit)| {
                Unit::from_symbol(&unit.text).ok_or_else(|| {
                    failure(
                        format!("{} is no unit", quoted(&unit.text)),
                        "write m, cm, ft, ft-in, in, T, f or mm",
                        unit.at.clone(),
                    )
                })
            })
            .transpose()?;
        let from_header = match column.role {
            Role::Mark(unit) => unit,
            _ => None,
        };
        let stated = from_row.or(from_header);
        if let Some(unit) = stated
            && let Some(quantity) = scale(axis, unit)
        {
            return Ok((self.read(cell, column, quantity, unit)?, unit));
        }
        // The column is for another ring: the cell may say its unit itself.
        own_unit(&cell.text, axis, &self.form).ok_or_else(|| {
            let (example, unit) = match axis {
                "iris" => ("T2.8", "T"),
                "zoom" => ("50 mm", "mm"),
                _ => ("1.2 m", "m"),
            };
            failure(
                format!(
                    "{} in column {}: this unit does not belong to the {axis} ring",
                    quoted(&cell.text),
                    quoted(&column.header)
                ),
                format!("write {example}, or add a column `mark [{unit}]` for this ring"),
                cell.at.clone(),
            )
        })
    }

    fn read(
        &self,
        cell: &Cell,
        column: &Column,
        quantity: Quantity,
        unit: Unit,
    ) -> Result<f64, Failure> {
        let reading = Reading {
            quantity,
            unit,
            mark: self.form.mark,
        };
        reading.read(&cell.text).map_err(|error: CellError| {
            failure(
                Reading::message(&cell.text, &column.header, &error),
                error.help.as_str(),
                cell.at.clone(),
            )
        })
    }

    fn finish(&mut self) -> Result<(), Failure> {
        if self.rings.is_empty() {
            return Err(failure(
                "there is no mark below the header",
                "a calibration has one row a mark; the file may be cut short",
                place(self.window.offset(), 0),
            ));
        }
        let mut rings = std::mem::take(&mut self.rings);
        let mut facts = std::mem::take(&mut self.facts);
        let ranges = self.columns.iter().find_map(|column| match column.role {
            Role::Position(unit) => column.range.map(|range| (range, unit)),
            _ => None,
        });
        for (axis, name) in AXES.into_iter().enumerate() {
            let mut encoder = facts
                .encoders
                .get_mut(axis)
                .map(std::mem::take)
                .unwrap_or_default();
            let rotation = facts.rotations.get_mut(axis).and_then(Option::take);
            let Some(ring) = rings.iter_mut().find(|ring| ring.axis == name) else {
                facts.lens.extend(unused(name, encoder, rotation));
                continue;
            };
            if name == "focus" {
                ring.facts
                    .push(fact("reference", facts.measured_from.name(), None));
            }
            if let Some(([low, high], unit)) = ranges
                && ring.position_unit == unit.symbol()
            {
                encoder = Encoder {
                    low: Some(low),
                    high: Some(high),
                    unit: Some(unit),
                    at: None,
                };
            }
            add_encoder(ring, encoder, rotation)?;
        }
        self.ready.push_back(Item::Lens(Lens {
            facts: facts.lens,
            rings,
            tables: Vec::new(),
        }));
        for column in self
            .columns
            .iter()
            .filter(|column| column.role == Role::Unknown)
        {
            self.ready.push_back(Item::Remark(Remark {
                severity: "warning".to_owned(),
                check: "column-not-kept".to_owned(),
                message: format!("column {} of a calibration has no place and is not kept", quoted(&column.header)),
                help: "known columns are ring, position, mark, unit and engraved; say what it is in a mapping file, or channel = \"ignore\"".to_owned(),
                at: column.at.clone(),
            }));
        }
        if let [Some(lf), Some(crlf)] = self.line_ends {
            self.ready.push_back(mixed_line_ends(lf.max(crlf)));
        }
        Ok(())
    }
}

#[cold]
fn missing(what: &str, at: Option<Place>) -> Failure {
    failure(
        format!("this row has no {what}"),
        "a row of a calibration has a ring, a position and a mark; delete it if there is no mark",
        at,
    )
}

#[cold]
fn two_units(axis: &str, what: &str, one: &str, two: &str, at: Option<Place>) -> Failure {
    failure(
        format!(
            "{what} of the {axis} ring are in {} and in {}",
            quoted(one),
            quoted(two)
        ),
        "state all of one ring in the same unit",
        at,
    )
}
