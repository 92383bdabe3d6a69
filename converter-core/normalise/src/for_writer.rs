//! Pieces of a document to the items of a writer, in the units its manifest asks for, with
//! an account of what the format cannot carry.

use ringmark_model::manifest::{CarriedChannel, Keeping};
use ringmark_model::raw::{
    EXTRA, RawColumn, RawDatum, RawFact, RawFrames, RawItem, RawLabels, RawLens, RawMark, RawRing,
    RawTable, RawTake,
};
use ringmark_model::{
    Batch, ColumnKey, Lens, LossItem, LossKind, LossReport, Manifest, NumberColumn, Piece, Ring, Take,
    TextColumn,
};
use ringmark_quantity::{Angle, DistanceReference, Unit};

use crate::error::NormaliseError;
use crate::to_facts;
use crate::units;

/// Gives a writer what its format can carry.
pub struct ForWriter<'m> {
    manifest: &'m Manifest,
    losses: LossReport,
    marks: bool,
}

impl<'m> ForWriter<'m> {
    /// For the writer with this manifest.
    pub fn new(manifest: &'m Manifest) -> Self {
        ForWriter {
            manifest,
            losses: LossReport::new(&manifest.name),
            marks: false,
        }
    }

    /// What could not be carried so far.
    pub fn losses(&self) -> &LossReport {
        &self.losses
    }

    /// What could not be carried.
    pub fn into_losses(self) -> LossReport {
        self.losses
    }

    /// The item for a piece; `None` for what no writer takes (remarks, provenance) or the
    /// format has no place for.
    pub fn item(&mut self, piece: &Piece) -> Result<Option<RawItem>, NormaliseError> {
        Ok(match piece {
            Piece::Lens(lens) => Some(RawItem::Lens(self.lens(lens)?)),
            Piece::Take(take) => self.take(take)?.map(RawItem::Take),
            Piece::Frames(batch) => {
                if self.manifest.carries.takes {
                    Some(RawItem::Frames(self.frames(batch)?))
                } else {
                    self.losses
                        .add(LossItem::Take(batch.take.to_string()), LossKind::Lost, "the format holds no takes", batch.count as u64);
                    None
                }
            }
            Piece::Remark(_) | Piece::End(_) => None,
        })
    }

    fn lens(&mut self, lens: &Lens) -> Result<RawLens, NormaliseError> {
        let facts = self.facts(to_facts::of_lens(lens))?;
        let mut rings = Vec::new();
        for ring in &lens.rings {
            if self.manifest.carries.marks {
                self.marks |= !ring.marks.is_empty();
                rings.push(for_ring(ring)?);
            } else {
                self.losses.add(
                    LossItem::Marks(ring.axis.name().to_owned()),
                    LossKind::Lost,
                    "the format holds no calibration",
                    0,
                );
            }
        }
        let mut tables = Vec::new();
        for table in &lens.tables {
            if self.manifest.carries.tables {
                tables.push(RawTable {
                    name: table.name.clone(),
                    facts: Vec::new(),
                    columns: table.columns.iter().map(as_stands).collect(),
                });
            } else {
                self.losses.add(
                    LossItem::Table(table.name.clone()),
                    LossKind::Lost,
                    "the format holds no lens tables",
                    0,
                );
            }
        }
        Ok(RawLens {
            facts,
            rings,
            tables,
        })
    }

    fn take(&mut self, take: &Take) -> Result<Option<RawTake>, NormaliseError> {
        if !self.manifest.carries.takes {
            return Ok(None);
        }
        if self.marks && !self.manifest.carries.marks_with_takes {
            self.marks = false;
            self.losses.add(
                LossItem::Marks("all rings".to_owned()),
                LossKind::Lost,
                "the format holds a calibration or a take, not both; convert the lens apart",
                0,
            );
        }
        Ok(Some(RawTake {
            lens: take.lens.and_then(|l| u32::try_from(l).ok()),
            facts: self.facts(to_facts::of_take(take))?,
        }))
    }

    fn facts(&mut self, facts: Vec<RawFact>) -> Result<Vec<RawFact>, NormaliseError> {
        let mut kept = Vec::with_capacity(facts.len());
        for mut fact in facts {
            let (keeping, reason) = if fact.name.starts_with(EXTRA) {
                (self.manifest.carries.extras, "the format has no place for extras")
            } else if let Some(carried) = self.manifest.fact(&fact.name) {
                if !carried.unit.is_empty()
                    && let RawDatum::Number(number) = &mut fact.value
                {
                    let from = units::unit(&fact.unit, Unit::One, &fact.name)?;
                    let to = units::unit(&carried.unit, Unit::One, &fact.name)?;
                    *number = units::conversion(from, to, &fact.name)?.apply(*number);
                    fact.unit.clone_from(&carried.unit);
                }
                (carried.keeping, "the format has no place for it")
            } else {
                (self.manifest.carries.other_facts, "the format has no place for it")
            };
            match keeping {
                Keeping::Native => kept.push(fact),
                Keeping::Aside => {
                    self.losses.add(fact_item(&fact.name), LossKind::Aside, reason, 0);
                    kept.push(fact);
                }
                Keeping::Lost => {
                    self.losses.add(fact_item(&fact.name), LossKind::Lost, reason, 0);
                }
            }
        }
        Ok(kept)
    }

    fn frames(&mut self, batch: &Batch) -> Result<RawFrames, NormaliseError> {
        let mut columns = Vec::with_capacity(batch.numbers.len());
        for column in &batch.numbers {
            columns.extend(self.numbers(column)?);
        }
        let mut labels = Vec::with_capacity(batch.texts.len());
        for column in &batch.texts {
            labels.extend(self.texts(column));
        }
        Ok(RawFrames {
            take: batch.take as u32,
            first: batch.first,
            count: batch.count as u32,
            columns,
            labels,
            inputs: Vec::new(),
            offsets: Vec::new(),
        })
    }

    /// How a column fares that the format has no place of its own for.
    fn unlisted(&self, key: &ColumnKey) -> Keeping {
        match key {
            ColumnKey::Channel(_) => self.manifest.carries.other_channels,
            ColumnKey::Extra(_) => self.manifest.carries.extras,
        }
    }

    fn numbers(&mut self, column: &NumberColumn) -> Result<Option<RawColumn>, NormaliseError> {
        let name = column.head.key.name();
        let recorded = column.values.iter().filter(|v| !v.is_nan()).count() as u64;
        let carried = match &column.head.key {
            ColumnKey::Channel(channel) => self
                .manifest
                .channel(channel.name())
                .filter(|c| c.writes && c.keeping == Keeping::Native),
            ColumnKey::Extra(_) => None,
        };
        let Some(carried) = carried else {
            let keeping = self.unlisted(&column.head.key);
            if recorded > 0 {
                self.note(&column.head.key, keeping, "the format has no place for it", recorded);
            }
            return Ok((keeping != Keeping::Lost).then(|| as_stands(column)));
        };
        let mut raw = as_stands(column);
        let (from, to) = (
            units::unit(&column.head.unit, Unit::One, &name)?,
            units::unit(&carried.unit, Unit::One, &name)?,
        );
        // A writer that names no unit takes the canonical one.
        let conversion = if carried.unit.is_empty() {
            units::conversion(from, from, &name)?
        } else {
            carried.unit.clone_into(&mut raw.unit);
            units::conversion(from, to, &name)?
        };
        if !conversion.is_identity() {
            conversion.apply_all(&mut raw.values);
        }
        let keeping = self.manifest.carries.other_channels;
        self.refuse_values(&column.head.key, carried, keeping, &mut raw);
        if recorded > 0
            && !carried.reference
            && !matches!(
                column.head.reference,
                None | Some(DistanceReference::Unstated)
            )
        {
            let stated = column.head.reference.map_or("", |r| r.name());
            self.losses.add(
                column_item(&column.head.key),
                LossKind::Merged,
                format!("the format cannot say that it is measured from the {}", stated.replace('-', " ")),
                recorded,
            );
        }
        Ok(Some(raw))
    }

    /// Accounts for values the format cannot hold. Where it keeps nothing aside they become
    /// 'not recorded'.
    fn refuse_values(
        &mut self,
        key: &ColumnKey,
        carried: &CarriedChannel,
        keeping: Keeping,
        raw: &mut RawColumn,
    ) {
        let mut infinite = 0;
        let mut outside = 0;
        for value in &mut raw.values {
            let refused = if value.is_infinite() {
                infinite += u64::from(!carried.infinity);
                !carried.infinity
            } else {
                let bad = carried.above.is_some_and(|least| *value <= least)
                    || carried.at_least.is_some_and(|least| *value < least)
                    || carried.at_most.is_some_and(|most| *value > most)
                    || (carried.whole && value.fract() != 0.0);
                outside += u64::from(bad);
                bad
            };
            if refused && keeping == Keeping::Lost {
                *value = f64::NAN;
            }
        }
        if infinite > 0 {
            self.note(key, keeping, "the format has no way to write infinity", infinite);
        }
        if outside > 0 {
            self.note(key, keeping, "the format does not allow the value", outside);
        }
    }

    fn texts(&mut self, column: &TextColumn) -> Option<RawLabels> {
        let native = match &column.head.key {
            ColumnKey::Channel(channel) => self
                .manifest
                .channel(channel.name())
                .is_some_and(|c| c.writes && c.keeping == Keeping::Native),
            ColumnKey::Extra(_) => false,
        };
        if !native {
            let recorded = column
                .index
                .iter()
                .filter(|i| **i != ringmark_model::NO_LABEL)
                .count() as u64;
            let keeping = self.unlisted(&column.head.key);
            if recorded > 0 {
                self.note(
                    &column.head.key,
                    keeping,
                    "the format has no place for it",
                    recorded,
                );
            }
            if keeping == Keeping::Lost {
                return None;
            }
        }
        Some(RawLabels {
            channel: column.head.key.name(),
            form: column.head.form.map_or("text", |f| f.name()).to_owned(),
            text: column.text.clone(),
            ends: column.ends.clone(),
            index: column.index.clone(),
        })
    }

    fn note(&mut self, key: &ColumnKey, keeping: Keeping, reason: &str, frames: u64) {
        let kind = match keeping {
            Keeping::Native => return,
            Keeping::Aside => LossKind::Aside,
            Keeping::Lost => LossKind::Lost,
        };
        self.losses.add(column_item(key), kind, reason, frames);
    }
}

fn column_item(key: &ColumnKey) -> LossItem {
    match key {
        ColumnKey::Channel(channel) => LossItem::Channel(channel.name().to_owned()),
        ColumnKey::Extra(name) => LossItem::Extra(name.to_string()),
    }
}

fn fact_item(name: &str) -> LossItem {
    match name.strip_prefix(EXTRA) {
        Some(extra) => LossItem::Extra(extra.to_owned()),
        None => LossItem::Fact(name.to_owned()),
    }
}

/// A column in the canonical unit.
fn as_stands(column: &NumberColumn) -> RawColumn {
    RawColumn {
        channel: column.head.key.name(),
        unit: column.head.unit.clone(),
        reference: column
            .head
            .reference
            .map_or("", |r| r.name())
            .to_owned(),
        values: column.values.clone(),
    }
}

/// A ring in the units of its scale, so that what was engraved goes back as it came.
fn for_ring(ring: &Ring) -> Result<RawRing, NormaliseError> {
    let what = format!("the {} scale", ring.axis.name());
    let conversion = units::conversion(ring.quantity.unit(), ring.source_unit, &what)?;
    let raw_positions = ring.encoder.is_some() && ring.marks.iter().all(|m| m.raw.is_some());
    // A range that is the ring's rotation was recorded in degrees.
    let degrees = ring.rotation.map(Angle::degrees);
    let raw_unit = match ring.encoder {
        Some(range) if range.low == 0.0 && Some(range.high) == degrees => Unit::Degree,
        _ => Unit::Count,
    };
    Ok(RawRing {
        axis: ring.axis.name().to_owned(),
        position_unit: if raw_positions {
            raw_unit.symbol()
        } else {
            Unit::Ratio.symbol()
        }
        .to_owned(),
        value_unit: ring.source_unit.symbol().to_owned(),
        facts: to_facts::of_ring(ring),
        marks: ring
            .marks
            .iter()
            .map(|mark| RawMark {
                position: match mark.raw {
                    Some(raw) if raw_positions => raw,
                    _ => mark.position,
                },
                value: conversion.apply(mark.value),
                engraved: mark.engraved.clone().unwrap_or_default(),
                at: None,
            })
            .collect(),
    })
}
