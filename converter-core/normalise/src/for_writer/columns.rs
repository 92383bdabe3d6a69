//! Columns of frames for a writer.

use ringmark_model::manifest::{CarriedChannel, Keeping, Precision, References};
use ringmark_model::raw::{RawColumn, RawLabels};
use ringmark_model::{
    Batch, Channel, ColumnKey, LossItem, LossKind, NO_LABEL, NumberColumn, Origin, TextColumn,
};
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

    /// The channel in whose place a column of this batch is written, because that one is absent.
    fn stands_in(&self, key: &ColumnKey, batch: &Batch) -> Option<&'m CarriedChannel> {
        let channel = key.channel()?;
        self.manifest.carries.channels.iter().find(|carried| {
            let here = |name: &str| {
                Channel::from_name(name).is_some_and(|c| batch.number_column(c).is_some())
            };
            carried.writes
                && carried.keeping == Keeping::Native
                && !here(&carried.name)
                && carried.stands_for.iter().find(|name| here(name))
                    == Some(&channel.name().to_owned())
        })
    }

    pub(super) fn numbers(
        &mut self,
        column: &NumberColumn,
        batch: &Batch,
    ) -> Result<Option<RawColumn>, NormaliseError> {
        let key = &column.head.key;
        let recorded = column.values.iter().filter(|v| !v.is_nan()).count() as u64;
        let stand_in = self.stands_in(key, batch);
        let (keeping, carried) = match stand_in {
            Some(carried) => (carried.keeping, Some(carried)),
            None => self.place(key),
        };
        if recorded > 0 {
            self.note(item(key), keeping, NO_PLACE, recorded);
        }
        if keeping == Keeping::Lost {
            return Ok(None);
        }
        if recorded > 0 && matches!(column.head.origin, Origin::Derived | Origin::Interpolated) {
            // Plugins get values and not where they come from.
            let reason = format!(
                "written like a recorded one, not as {}",
                column.head.origin.name()
            );
            self.losses
                .add(item(key), LossKind::Converted, reason, recorded);
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
        if let Some(carried) = stand_in {
            raw.channel.clone_from(&carried.name);
            if recorded > 0 {
                let reason = format!("written as {}", carried.name.replace('-', " "));
                self.losses
                    .add(item(key), LossKind::Merged, reason, recorded);
            }
        }
        let Some(carried) = carried else {
            return Ok(Some(raw));
        };
        if keeping == Keeping::Native
            && let Some(from) = column.head.reference
            && !carried.reference.can_state(from.name())
        {
            self.refer(key, carried, from, batch, &mut raw);
        }
        // A writer that names no unit takes the canonical one.
        if !carried.unit.is_empty() {
            let conversion = self.asked(&key.name(), &column.head.unit, &carried.unit)?;
            conversion.apply_all(&mut raw.values);
            carried.unit.clone_into(&mut raw.unit);
        }
        if keeping == Keeping::Native {
            self.refuse_values(key, carried, &mut raw.values);
            if let Some(precision) = carried.precision {
                self.round(item(key), precision, &raw.values, &raw.unit, true);
            }
        }
        Ok(Some(raw))
    }

    /// Accounts for numbers that the format keeps less exactly. The writer does the rounding.
    pub(super) fn round(
        &mut self,
        item: LossItem,
        precision: Precision,
        values: &[f64],
        unit: &str,
        frames: bool,
    ) {
        let mut rounded = 0;
        let mut largest = 0.0f64;
        for &value in values.iter().filter(|v| v.is_finite() && **v != 0.0) {
            let error = match precision {
                Precision::Float32 => (f64::from(value as f32) - value).abs() / value.abs(),
                Precision::Step(step) => {
                    let error = ((value / step).round() * step - value).abs() / value.abs();
                    // Multiples of a decimal step are seldom exact in binary.
                    if error > 1e-12 { error } else { 0.0 }
                }
                Precision::Relative(part) => part,
            };
            rounded += u64::from(error > 0.0);
            largest = largest.max(error);
        }
        if rounded > 0 {
            let reason = match precision {
                Precision::Float32 => "kept as a 32-bit float".to_owned(),
                // Ring positions from 0 to 1 need no unit, and their steps have many digits.
                Precision::Step(step) if unit == Unit::Ratio.symbol() => {
                    format!("kept in steps of {step:.1e}")
                }
                Precision::Step(step) => format!("kept in steps of {step} {unit}")
                    .trim_end()
                    .to_owned(),
                Precision::Relative(_) => "kept with few digits".to_owned(),
            };
            let frames = if frames { rounded } else { 0 };
            self.losses.add_rounded(item, reason, frames, largest);
        }
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
                    || (carried.whole && value.fract() != 0.0)
                    || (carried.precision == Some(Precision::Float32) && !fits_single(*value));
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

    /// Gives a distance a reference that the format can state, by the entrance pupil offset of
    /// each frame; where that is not recorded the distance stays as it is.
    fn refer(
        &mut self,
        key: &ColumnKey,
        carried: &CarriedChannel,
        from: DistanceReference,
        batch: &Batch,
        raw: &mut RawColumn,
    ) {
        let recorded = raw.values.iter().filter(|v| !v.is_nan()).count() as u64;
        if from == DistanceReference::Unstated {
            if let References::Only(names) = &carried.reference
                && let Some(name) = names.first()
                && recorded > 0
            {
                let reason = format!(
                    "the format says that it is measured from the {}",
                    name.replace('-', " ")
                );
                self.losses
                    .add(item(key), LossKind::Merged, reason, recorded);
            }
            return;
        }
        // Metres from the image plane to the entrance pupil are taken off, or put on.
        let way = match from {
            DistanceReference::ImagePlane => Some((DistanceReference::EntrancePupil, -1e-3)),
            DistanceReference::EntrancePupil => Some((DistanceReference::ImagePlane, 1e-3)),
            _ => None,
        }
        .filter(|(to, _)| {
            matches!(&carried.reference, References::Only(names) if names.iter().any(|n| n == to.name()))
        });
        let offsets = batch.numbers(Channel::EntrancePupilOffset);
        let offset = |frame: usize| offsets.map_or(f64::NAN, |offsets| offsets[frame]);
        // A column has one reference from the first frame to the last: the first batch decides.
        let converts = *self
            .converted
            .entry((batch.take, key.name()))
            .or_insert_with(|| {
                let known =
                    |(frame, value): (usize, &f64)| !value.is_finite() || offset(frame).is_finite();
                way.is_some() && offsets.is_some() && raw.values.iter().enumerate().all(known)
            });
        let Some((to, sign)) = way.filter(|_| converts) else {
            let kind = match self.manifest.carries.other_channels {
                Keeping::Aside => LossKind::Aside,
                Keeping::Native | Keeping::Lost => LossKind::Merged,
            };
            let reason = format!(
                "the format cannot say that it is measured from the {}",
                words(from)
            );
            if recorded > 0 {
                self.losses.add(item(key), kind, reason, recorded);
            }
            return;
        };
        let mut unknown = 0;
        for (frame, value) in raw.values.iter_mut().enumerate() {
            // Infinity and what was not recorded are the same from everywhere.
            if value.is_finite() {
                // NaN without an offset: the distance from there is not known.
                *value += sign * offset(frame);
                unknown += u64::from(value.is_nan());
            }
        }
        to.name().clone_into(&mut raw.reference);
        let reason = format!(
            "measured from the {}, by the entrance pupil offset",
            words(to)
        );
        if recorded > unknown {
            self.losses
                .add(item(key), LossKind::Converted, reason, recorded - unknown);
        }
        if unknown > 0 {
            let reason = format!(
                "to be measured from the {}, but without an entrance pupil offset",
                words(to)
            );
            self.losses.add(item(key), LossKind::Lost, reason, unknown);
        }
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

/// Whether a 32-bit float can be near the value: its range is smaller.
fn fits_single(value: f64) -> bool {
    let single = value as f32;
    single.is_finite() && (single != 0.0 || value == 0.0)
}

fn words(reference: DistanceReference) -> String {
    reference.name().replace('-', " ")
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
