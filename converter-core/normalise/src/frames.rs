//! Batches of a plugin to batches in canonical units.

use std::collections::HashSet;
use std::sync::Arc;

use ringmark_model::raw::{EXTRA, RawColumn, RawFrames, RawLabels};
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, EncoderRange, FramePlaces, NumberColumn, Origin,
    TextColumn, TextForm,
};
use ringmark_quantity::{Conversion, DistanceReference, RingScale, Unit};

use crate::error::NormaliseError;
use crate::units;

/// Raw and normalised channel of each ring.
pub(crate) const RINGS: [(Axis, Channel, Channel); 3] = [
    (Axis::Focus, Channel::FocusRingRaw, Channel::FocusRing),
    (Axis::Iris, Channel::IrisRingRaw, Channel::IrisRing),
    (Axis::Zoom, Channel::ZoomRingRaw, Channel::ZoomRing),
];

/// What a name of the contract stands for.
pub(crate) fn column_key(name: &str) -> Result<ColumnKey, NormaliseError> {
    if let Some(extra) = name.strip_prefix(EXTRA) {
        return Ok(ColumnKey::Extra(extra.into()));
    }
    Channel::from_name(name)
        .map(ColumnKey::Channel)
        .ok_or_else(|| {
            NormaliseError::new(
                format!("the plugin delivered the channel '{name}', which ringmark does not know"),
                format!("a column outside the registry is called '{EXTRA}{name}'"),
            )
        })
}

/// A column seen before: how to bring it into the canonical unit.
struct Known {
    channel: String,
    unit: String,
    reference: String,
    head: Arc<ColumnHead>,
    conversion: Conversion,
}

/// What is known of a take's columns.
pub(crate) struct TakeColumns {
    numbers: Vec<Known>,
    texts: Vec<(String, String, Arc<ColumnHead>)>,
    /// Scale from raw to 0..1 by ring, where the range is known.
    scales: Vec<(Channel, Channel, RingScale)>,
    derived: Vec<(Channel, Arc<ColumnHead>)>,
}

impl TakeColumns {
    /// Columns of a take whose rings have these raw ranges.
    pub fn new(encoders: &[(Axis, EncoderRange)]) -> Self {
        let scales = RINGS
            .iter()
            .filter_map(|(axis, raw, ratio)| {
                let (_, range) = encoders.iter().find(|(a, _)| a == axis)?;
                // A range of no width is reported by the checks; it maps nothing.
                let scale = RingScale::counts(range.low, range.high).ok()?;
                Some((*raw, *ratio, scale))
            })
            .collect();
        TakeColumns {
            numbers: Vec::new(),
            texts: Vec::new(),
            scales,
            derived: Vec::new(),
        }
    }

    /// A batch in canonical units.
    pub fn batch(&mut self, raw: RawFrames) -> Result<Batch, NormaliseError> {
        let mut seen = HashSet::with_capacity(raw.columns.len() + raw.labels.len());
        let mut batch = Batch {
            take: raw.take as usize,
            first: raw.first,
            count: raw.count as usize,
            numbers: Vec::with_capacity(raw.columns.len() + self.scales.len()),
            texts: Vec::with_capacity(raw.labels.len()),
            places: FramePlaces {
                inputs: raw.inputs,
                offsets: raw.offsets,
            },
        };
        for column in raw.columns {
            let column = self.number(column)?;
            once(&mut seen, &column.head)?;
            batch.numbers.push(column);
        }
        for labels in raw.labels {
            let column = self.text(labels)?;
            once(&mut seen, &column.head)?;
            batch.texts.push(column);
        }
        self.add_ring_ratios(&mut batch);
        Ok(batch)
    }

    fn number(&mut self, column: RawColumn) -> Result<NumberColumn, NormaliseError> {
        let position = self.numbers.iter().position(|k| {
            k.channel == column.channel
                && k.unit == column.unit
                && k.reference == column.reference
        });
        let known = match position {
            Some(position) => &self.numbers[position],
            None => {
                let (head, conversion) = number_head(&column)?;
                self.numbers.push(Known {
                    channel: column.channel,
                    unit: column.unit,
                    reference: column.reference,
                    head: Arc::new(head),
                    conversion,
                });
                &self.numbers[self.numbers.len() - 1]
            }
        };
        let mut values = column.values;
        if !known.conversion.is_identity() {
            known.conversion.apply_all(&mut values);
        }
        Ok(NumberColumn {
            head: Arc::clone(&known.head),
            values,
        })
    }

    fn text(&mut self, labels: RawLabels) -> Result<TextColumn, NormaliseError> {
        let known = self
            .texts
            .iter()
            .find(|(channel, form, _)| *channel == labels.channel && *form == labels.form)
            .map(|(_, _, head)| Arc::clone(head));
        let head = match known {
            Some(head) => head,
            None => {
                let head = Arc::new(text_head(&labels)?);
                self.texts
                    .push((labels.channel, labels.form, Arc::clone(&head)));
                head
            }
        };
        Ok(TextColumn {
            head,
            text: labels.text,
            ends: labels.ends,
            index: labels.index,
        })
    }

    /// Positions 0..1 from raw ones, where the source has no normalised ones.
    fn add_ring_ratios(&mut self, batch: &mut Batch) {
        for (raw, ratio, scale) in &self.scales {
            if batch.numbers(*ratio).is_some() {
                continue;
            }
            let Some(values) = batch.numbers(*raw) else {
                continue;
            };
            let mut values = values.to_vec();
            scale.to_ratio_all(&mut values);
            let position = self.derived.iter().position(|(c, _)| c == ratio);
            let position = position.unwrap_or_else(|| {
                let head = ColumnHead {
                    key: ColumnKey::Channel(*ratio),
                    unit: Unit::Ratio.symbol().to_owned(),
                    reference: None,
                    origin: Origin::Converted,
                    source_unit: Some(Unit::Count.symbol().to_owned()),
                    form: None,
                };
                self.derived.push((*ratio, Arc::new(head)));
                self.derived.len() - 1
            });
            batch.numbers.push(NumberColumn {
                head: Arc::clone(&self.derived[position].1),
                values,
            });
        }
    }
}

fn once(seen: &mut HashSet<ColumnKey>, head: &ColumnHead) -> Result<(), NormaliseError> {
    if seen.insert(head.key.clone()) {
        Ok(())
    } else {
        Err(NormaliseError::new(
            format!("the plugin delivered '{}' twice in one batch", head.key.name()),
            "report this to the author of the plugin",
        ))
    }
}

fn number_head(column: &RawColumn) -> Result<(ColumnHead, Conversion), NormaliseError> {
    let key = column_key(&column.channel)?;
    let Some(channel) = key.channel() else {
        let one = units::conversion(Unit::One, Unit::One, &column.channel)?;
        let head = ColumnHead {
            key,
            unit: column.unit.clone(),
            reference: None,
            origin: Origin::Recorded,
            source_unit: None,
            form: None,
        };
        return Ok((head, one));
    };
    let Some(canonical) = channel.unit() else {
        return Err(NormaliseError::new(
            format!("the plugin delivered numbers for '{}', which holds texts", column.channel),
            "report this to the author of the plugin",
        ));
    };
    let unit = units::unit(&column.unit, canonical, channel.name())?;
    let raw_ring = RINGS.iter().any(|(_, raw, _)| *raw == channel);
    // Raw positions stay as the encoder gives them, counts or degrees.
    let target = if raw_ring && unit == Unit::Degree {
        Unit::Degree
    } else {
        canonical
    };
    let conversion = units::conversion(unit, target, channel.name())?;
    let reference = match (channel.is_distance(), column.reference.as_str()) {
        (false, _) => None,
        (true, "") => Some(DistanceReference::Unstated),
        (true, name) => Some(DistanceReference::from_name(name).ok_or_else(|| {
            NormaliseError::new(
                format!("{} is measured from '{name}', which ringmark does not know", channel.name()),
                "image-plane, entrance-pupil, front-vertex or unstated",
            )
        })?),
    };
    let converted = unit != target;
    let head = ColumnHead {
        key,
        unit: target.symbol().to_owned(),
        reference,
        origin: if converted {
            Origin::Converted
        } else {
            Origin::Recorded
        },
        source_unit: converted.then(|| unit.symbol().to_owned()),
        form: None,
    };
    Ok((head, conversion))
}

fn text_head(labels: &RawLabels) -> Result<ColumnHead, NormaliseError> {
    let key = column_key(&labels.channel)?;
    if key.channel().is_some_and(|c| !c.is_text()) {
        return Err(NormaliseError::new(
            format!("the plugin delivered texts for '{}', which holds numbers", labels.channel),
            "report this to the author of the plugin",
        ));
    }
    let form = TextForm::from_name(&labels.form).ok_or_else(|| {
        NormaliseError::new(
            format!("the plugin delivered texts of the form '{}'", labels.form),
            "text, json or hex",
        )
    })?;
    Ok(ColumnHead {
        key,
        unit: String::new(),
        reference: None,
        origin: Origin::Recorded,
        source_unit: None,
        form: Some(form),
    })
}
