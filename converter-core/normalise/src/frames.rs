//! Batches of a plugin to batches in canonical units.

use std::collections::HashSet;
use std::sync::Arc;

use ringmark_model::raw::{EXTRA, RawColumn, RawFrames, RawLabels};
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, FramePlaces, NumberColumn, Origin, TextColumn,
    TextForm,
};
use ringmark_quantity::{Conversion, DistanceReference, RingScale, Unit};

use crate::error::NormaliseError;
use crate::from_facts::text_form;
use crate::range::Range;
use crate::reference::reference;
use crate::take::Ranges;
use crate::units;

/// Raw and normalised channel of each ring, in the order of [`Axis::ALL`].
const RINGS: [(Channel, Channel); Axis::ALL.len()] = [
    (Channel::FocusRingRaw, Channel::FocusRing),
    (Channel::IrisRingRaw, Channel::IrisRing),
    (Channel::ZoomRingRaw, Channel::ZoomRing),
];

/// What a name of the contract stands for.
fn column_key(name: &str) -> Result<ColumnKey, NormaliseError> {
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
    /// `None` for numbers that stay as they are.
    conversion: Option<Conversion>,
}

/// What is known of a take's columns.
pub(crate) struct TakeColumns {
    numbers: Vec<Known>,
    texts: Vec<(String, String, Arc<ColumnHead>)>,
    rings: Vec<RingColumns>,
}

/// How raw positions of a ring become 0..1, where its range is known.
struct RingColumns {
    raw: Channel,
    scale: RingScale,
    /// Unit of the range, if the plugin said it.
    unit: Option<Unit>,
    ratio: Channel,
    head: Arc<ColumnHead>,
}

impl RingColumns {
    fn new(range: &Range, raw: Channel, ratio: Channel) -> Option<Self> {
        let ends = range.both()?;
        // A range of no width maps nothing.
        let scale = RingScale::counts(ends.low, ends.high).ok()?;
        let source_unit = range.unit.unwrap_or(Unit::Count).symbol();
        let head = ColumnHead {
            key: ColumnKey::Channel(ratio),
            unit: Unit::Ratio.symbol().to_owned(),
            reference: None,
            origin: Origin::Converted,
            source_unit: Some(source_unit.to_owned()),
            form: None,
        };
        Some(RingColumns {
            raw,
            scale,
            unit: range.unit,
            ratio,
            head: Arc::new(head),
        })
    }

    /// Refuses raw positions that are in another unit than their range.
    fn fits(&self, head: &ColumnHead) -> Result<(), NormaliseError> {
        let Some(range) = self.unit.filter(|_| head.key.channel() == Some(self.raw)) else {
            return Ok(());
        };
        let positions = head.source_unit.as_deref().unwrap_or(&head.unit);
        if positions == range.symbol() {
            return Ok(());
        }
        Err(NormaliseError::new(
            format!(
                "{} is in {positions}, but its encoder range is in {}",
                self.raw.name(),
                range.symbol()
            ),
            "give both in the same unit",
        ))
    }
}

impl TakeColumns {
    /// Columns of a take whose rings have these raw ranges.
    pub fn new(ranges: &Ranges) -> Self {
        let rings = ranges.iter().zip(RINGS);
        TakeColumns {
            numbers: Vec::new(),
            texts: Vec::new(),
            rings: rings
                .filter_map(|(range, (raw, ratio))| RingColumns::new(range, raw, ratio))
                .collect(),
        }
    }

    /// A batch in canonical units.
    pub fn batch(&mut self, raw: RawFrames) -> Result<Batch, NormaliseError> {
        let mut seen = HashSet::with_capacity(raw.columns.len() + raw.labels.len());
        let mut batch = Batch {
            take: raw.take as usize,
            first: raw.first,
            count: raw.count as usize,
            numbers: Vec::with_capacity(raw.columns.len() + self.rings.len()),
            texts: Vec::with_capacity(raw.labels.len()),
            places: FramePlaces {
                inputs: raw.inputs,
                offsets: raw.offsets,
            },
        };
        for column in raw.columns {
            let column = self.number(column)?;
            once(&mut seen, &column.head, "batch")?;
            batch.numbers.push(column);
        }
        for labels in raw.labels {
            let column = self.text(labels)?;
            once(&mut seen, &column.head, "batch")?;
            batch.texts.push(column);
        }
        self.add_ring_ratios(&mut batch);
        Ok(batch)
    }

    fn number(&mut self, column: RawColumn) -> Result<NumberColumn, NormaliseError> {
        let position = self.numbers.iter().position(|k| {
            k.channel == column.channel && k.unit == column.unit && k.reference == column.reference
        });
        let known = match position {
            Some(position) => &self.numbers[position],
            None => {
                let (head, conversion) = number_head(&column)?;
                self.rings.iter().try_for_each(|ring| ring.fits(&head))?;
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
        if let Some(conversion) = known.conversion {
            conversion.apply_all(&mut values);
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
    fn add_ring_ratios(&self, batch: &mut Batch) {
        for ring in &self.rings {
            if batch.numbers(ring.ratio).is_some() {
                continue;
            }
            let Some(values) = batch.numbers(ring.raw) else {
                continue;
            };
            let mut values = values.to_vec();
            ring.scale.to_ratio_all(&mut values);
            batch.numbers.push(NumberColumn {
                head: Arc::clone(&ring.head),
                values,
            });
        }
    }
}

/// Refuses a column that stands twice in a batch or table.
pub(crate) fn once(
    seen: &mut HashSet<ColumnKey>,
    head: &ColumnHead,
    within: &str,
) -> Result<(), NormaliseError> {
    if seen.insert(head.key.clone()) {
        return Ok(());
    }
    Err(NormaliseError::new(
        format!(
            "the plugin delivered '{}' twice in one {within}",
            head.key.name()
        ),
        "report this to the author of the plugin",
    ))
}

/// What a column of numbers becomes, and how its values get there.
pub(crate) fn number_head(
    column: &RawColumn,
) -> Result<(ColumnHead, Option<Conversion>), NormaliseError> {
    let key = column_key(&column.channel)?;
    let Some(channel) = key.channel() else {
        let head = ColumnHead {
            key,
            unit: column.unit.clone(),
            reference: None,
            origin: Origin::Recorded,
            source_unit: None,
            form: None,
        };
        return Ok((head, None));
    };
    let Some(canonical) = channel.unit() else {
        return Err(NormaliseError::new(
            format!(
                "the plugin delivered numbers for '{}', which holds texts",
                column.channel
            ),
            "report this to the author of the plugin",
        ));
    };
    let unit = units::unit(&column.unit, canonical, channel.name())?;
    let raw_ring = RINGS.iter().any(|(raw, _)| *raw == channel);
    let conversion = match unit {
        // An encoder that gives degrees counts degrees: the number stays, the head tells.
        Unit::Degree if raw_ring => None,
        _ => Some(units::conversion(unit, canonical, channel.name())?),
    };
    let reference = match (channel.is_distance(), column.reference.as_str()) {
        (false, _) => None,
        (true, "") => Some(DistanceReference::Unstated),
        (true, name) => Some(reference(name, channel.name())?),
    };
    let converted = unit != canonical;
    let head = ColumnHead {
        key,
        unit: canonical.symbol().to_owned(),
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
            format!(
                "the plugin delivered texts for '{}', which holds numbers",
                labels.channel
            ),
            "report this to the author of the plugin",
        ));
    }
    let form = text_form(&labels.form)?;
    if key.channel().is_some() && form != TextForm::Text {
        return Err(NormaliseError::new(
            format!(
                "the plugin delivered '{}' as {}, and it is plain text",
                labels.channel,
                form.name()
            ),
            "report this to the author of the plugin",
        ));
    }
    Ok(ColumnHead {
        key,
        unit: String::new(),
        reference: None,
        origin: Origin::Recorded,
        source_unit: None,
        form: Some(form),
    })
}
