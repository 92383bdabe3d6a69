//! Pieces of a document to the items of a writer, in the units its manifest asks for, with
//! an account of what the format cannot carry.

mod columns;
mod ring;

use std::collections::HashMap;

use ringmark_model::manifest::Keeping;
use ringmark_model::raw::{
    EXTRA, RawDatum, RawFact, RawFrames, RawItem, RawLens, RawTable, RawTake,
};
use ringmark_model::{Batch, Lens, LossItem, LossKind, LossReport, Manifest, Piece, Take};
use ringmark_quantity::{Conversion, Unit};

use crate::error::NormaliseError;
use crate::to_facts;

/// Gives a writer what its format can carry.
pub struct ForWriter<'m> {
    manifest: &'m Manifest,
    losses: LossReport,
    /// Labels of the takes so far.
    takes: Vec<String>,
    rings: bool,
    /// Whether the distances of a take's channel are converted to another reference.
    converted: HashMap<(usize, String), bool>,
}

impl<'m> ForWriter<'m> {
    /// For the writer with this manifest.
    pub fn new(manifest: &'m Manifest) -> Self {
        ForWriter {
            manifest,
            losses: LossReport::new(&manifest.name),
            takes: Vec::new(),
            rings: false,
            converted: HashMap::new(),
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
            Piece::Frames(batch) => self.frames(batch)?.map(RawItem::Frames),
            Piece::Remark(_) | Piece::End(_) => None,
        })
    }

    fn lens(&mut self, lens: &Lens) -> Result<RawLens, NormaliseError> {
        let facts = self.facts(to_facts::of_lens(lens))?;
        let mut rings = Vec::new();
        for ring in &lens.rings {
            if self.manifest.carries.marks {
                let mut ring = ring::ring(ring)?;
                ring.facts = self.facts(ring.facts)?;
                rings.push(ring);
            } else {
                self.losses.add(
                    LossItem::Marks(ring.axis.name().to_owned()),
                    LossKind::Lost,
                    "the format holds no calibration",
                    0,
                );
            }
        }
        self.rings |= !rings.is_empty();
        self.account_for_both();
        let mut tables = Vec::new();
        for table in &lens.tables {
            if self.manifest.carries.tables {
                tables.push(RawTable {
                    name: table.name.clone(),
                    facts: Vec::new(),
                    columns: table.columns.iter().map(columns::as_stands).collect(),
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
        self.takes.push(take.label());
        if !self.manifest.carries.takes {
            self.lose_take(take.label(), 0);
            return Ok(None);
        }
        self.account_for_both();
        Ok(Some(RawTake {
            lens: take.lens.and_then(|l| u32::try_from(l).ok()),
            facts: self.facts(to_facts::of_take(take))?,
        }))
    }

    fn lose_take(&mut self, label: String, frames: usize) {
        self.losses.add(
            LossItem::Take(label),
            LossKind::Lost,
            "the format holds no takes",
            frames as u64,
        );
    }

    /// Accounts for marks that the format cannot hold because there is a take too.
    fn account_for_both(&mut self) {
        if self.rings && !self.takes.is_empty() && !self.manifest.carries.marks_with_takes {
            self.losses.add(
                LossItem::Marks("all rings".to_owned()),
                LossKind::Lost,
                "the format holds a calibration or a take, not both; convert the lens apart",
                0,
            );
        }
    }

    fn facts(&mut self, facts: Vec<RawFact>) -> Result<Vec<RawFact>, NormaliseError> {
        let carries = &self.manifest.carries;
        let mut kept = Vec::with_capacity(facts.len());
        for mut fact in facts {
            let keeping = if fact.name.starts_with(EXTRA) {
                carries.extras
            } else if let Some(carried) = self.manifest.fact(&fact.name) {
                if let RawDatum::Number(number) = &mut fact.value
                    && !carried.unit.is_empty()
                    && !to_facts::is_raw(&fact.name)
                {
                    let conversion = self.asked(&fact.name, &fact.unit, &carried.unit)?;
                    *number = conversion.apply(*number);
                    fact.unit.clone_from(&carried.unit);
                }
                if let (RawDatum::Number(number), Some(precision)) =
                    (&fact.value, carried.precision)
                {
                    let item = LossItem::Fact(fact.name.clone());
                    self.round(item, precision, &[*number], &fact.unit, false);
                }
                carried.keeping
            } else {
                carries.other_facts
            };
            let item = match fact.name.strip_prefix(EXTRA) {
                Some(extra) => LossItem::Extra(extra.to_owned()),
                None => LossItem::Fact(fact.name.clone()),
            };
            self.note(item, keeping, "the format has no place for it", 0);
            if keeping != Keeping::Lost {
                kept.push(fact);
            }
        }
        Ok(kept)
    }

    fn frames(&mut self, batch: &Batch) -> Result<Option<RawFrames>, NormaliseError> {
        if !self.manifest.carries.takes {
            let label = self.takes.get(batch.take).cloned().unwrap_or_default();
            self.lose_take(label, batch.count);
            return Ok(None);
        }
        let mut columns = Vec::with_capacity(batch.numbers.len());
        for column in &batch.numbers {
            columns.extend(self.numbers(column, batch)?);
        }
        let mut labels = Vec::with_capacity(batch.texts.len());
        for column in &batch.texts {
            labels.extend(self.texts(column));
        }
        Ok(Some(RawFrames {
            take: batch.take as u32,
            first: batch.first,
            count: batch.count as u32,
            columns,
            labels,
            inputs: Vec::new(),
            offsets: Vec::new(),
        }))
    }

    /// The conversion of `name` from the canonical unit to the one the manifest asks for.
    fn asked(
        &self,
        name: &str,
        canonical: &str,
        asked: &str,
    ) -> Result<Conversion, NormaliseError> {
        let wrong = |why: String| {
            let format = &self.manifest.name;
            NormaliseError::new(
                format!("the manifest of '{format}' asks for {name} in '{asked}': {why}"),
                "report this to the author of the plugin",
            )
        };
        let unit = |symbol: &str| {
            Unit::from_symbol(symbol)
                .ok_or_else(|| wrong(format!("ringmark does not know the unit '{symbol}'")))
        };
        Conversion::between(unit(canonical)?, unit(asked)?)
            .map_err(|error| wrong(error.to_string()))
    }

    fn note(&mut self, item: LossItem, keeping: Keeping, reason: &str, frames: u64) {
        let kind = match keeping {
            Keeping::Native => return,
            Keeping::Aside => LossKind::Aside,
            Keeping::Lost => LossKind::Lost,
        };
        self.losses.add(item, kind, reason, frames);
    }
}
