//! Columns of frames for a writer.

use ringmark_model::manifest::{CarriedChannel, Keeping};
use ringmark_model::raw::{RawColumn, RawLabels};
use ringmark_model::{ColumnKey, LossItem, LossKind, NO_LABEL, NumberColumn, TextColumn};
use ringmark_quantity::{DistanceReference, Unit};

use super::ForWriter;
use crate::error::NormaliseError;

const NO_PLACE: &str = "the format has no place for it";

impl<'m> ForWriter<'m> {
    /// How a column fares, and what the manifest says about it.
    fn place(&self, key: &ColumnKey) -> (Keeping, Option<&'m CarriedChannel>) {
        let carries = &self.manifest.carries;
        let ColumnKey::Channel(channel) = key else {
            return (carries.extras, None);
        };
        match self.manifest.channel(channel.name()).filter(|c| c.writes) {
            Some(carried) => (carried.keeping, Some(carried)),
            None => (carries.other_channels, None),
        }
    }

    pub(super) fn numbers(
        &mut self,
        column: &NumberColumn,
    ) -> Result<Option<RawColumn>, NormaliseError> {
        let key = &column.head.key;
        let recorded = column.values.iter().filter(|v| !v.is_nan()).count() as u64;
        let (keeping, carried) = self.place(key);
        if recorded > 0 {
            self.note(item(key), keeping, NO_PLACE, recorded);
        }
        if keeping == Keeping::Lost {
            return Ok(None);
        }
        if recorded > 0
            && column.head.unit == Unit::Count.symbol()
            && column.head.source_unit.as_deref() == Some(Unit::Degree.symbol())
        {
            let reason = "the format cannot say that the encoder counts degrees";
            self.losses
                .add(item(key), LossKind::Merged, reason, recorded);
        }
        let mut raw = as_stands(column);
        let Some(carried) = carried else {
            return Ok(Some(raw));
        };
        // A writer that names no unit takes the canonical one.
        if !carried.unit.is_empty() {
            let conversion = self.asked(&key.name(), &column.head.unit, &carried.unit)?;
            conversion.apply_all(&mut raw.values);
            carried.unit.clone_into(&mut raw.unit);
        }
        if keeping == Keeping::Native {
            self.refuse_values(key, carried, &mut raw.values);
            if recorded > 0 && !carried.reference {
                self.refuse_reference(key, column.head.reference, recorded);
            }
        }
        Ok(Some(raw))
    }

    /// Accounts for values the format cannot hold. Where it keeps nothing aside they become
    /// 'not recorded'.
    fn refuse_values(&mut self, key: &ColumnKey, carried: &CarriedChannel, values: &mut [f64]) {
        let aside = self.manifest.carries.other_channels == Keeping::Aside;
        let mut infinite = 0;
        let mut outside = 0;
        for value in values {
            let refused = if value.is_nan() {
                false
            } else if value.is_infinite() {
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
            if refused && !aside {
                *value = f64::NAN;
            }
        }
        let keeping = if aside { Keeping::Aside } else { Keeping::Lost };
        for (reason, frames) in [
            ("the format has no way to write infinity", infinite),
            ("the format does not allow the value", outside),
        ] {
            if frames > 0 {
                self.note(item(key), keeping, reason, frames);
            }
        }
    }

    /// Accounts for a reference the format cannot state.
    fn refuse_reference(
        &mut self,
        key: &ColumnKey,
        reference: Option<DistanceReference>,
        recorded: u64,
    ) {
        let from = match reference {
            None | Some(DistanceReference::Unstated) => return,
            Some(stated) => stated.name().replace('-', " "),
        };
        let kind = match self.manifest.carries.other_channels {
            Keeping::Aside => LossKind::Aside,
            Keeping::Native | Keeping::Lost => LossKind::Merged,
        };
        self.losses.add(
            item(key),
            kind,
            format!("the format cannot say that it is measured from the {from}"),
            recorded,
        );
    }

    pub(super) fn texts(&mut self, column: &TextColumn) -> Option<RawLabels> {
        let key = &column.head.key;
        let recorded = column.index.iter().filter(|i| **i != NO_LABEL).count() as u64;
        let (keeping, _) = self.place(key);
        if recorded > 0 {
            self.note(item(key), keeping, NO_PLACE, recorded);
        }
        (keeping != Keeping::Lost).then(|| RawLabels {
            channel: key.name(),
            form: column.head.form.map_or("text", |f| f.name()).to_owned(),
            text: column.text.clone(),
            ends: column.ends.clone(),
            index: column.index.clone(),
        })
    }
}

fn item(key: &ColumnKey) -> LossItem {
    match key {
        ColumnKey::Channel(channel) => LossItem::Channel(channel.name().to_owned()),
        ColumnKey::Extra(name) => LossItem::Extra(name.to_string()),
    }
}

/// A column in the canonical unit.
pub(super) fn as_stands(column: &NumberColumn) -> RawColumn {
    let reference = column.head.reference.map_or("", |r| r.name());
    RawColumn {
        channel: column.head.key.name(),
        unit: column.head.unit.clone(),
        reference: reference.to_owned(),
        values: column.values.clone(),
    }
}
