//! One of two records of a take.

use ringmark_model::{Batch, Channel, ColumnHead, Origin, Place, Take};
use ringmark_quantity::{Conversion, CountingMode, DistanceReference, FrameRate, Timecode, Unit};

use crate::time::labels::{LabelCounter, NOT_RECORDED};
use crate::view::FrameMark;

/// Channels that two records of one take can be compared in.
const COMPARED: [Channel; 17] = [
    Channel::FocusDistance,
    Channel::TStop,
    Channel::FNumber,
    Channel::NominalFocalLength,
    Channel::PinholeFocalLength,
    Channel::EffectiveFocalLength,
    Channel::FocusRing,
    Channel::IrisRing,
    Channel::ZoomRing,
    Channel::EntrancePupilOffset,
    Channel::DistortionK1,
    Channel::DistortionK2,
    Channel::ShutterAngle,
    Channel::ExposureTime,
    Channel::Sensitivity,
    Channel::CaptureRate,
    Channel::RangefinderDistance,
];
/// Decimals that are tried for the step in which numbers were written.
const DECIMALS: i32 = 6;
/// So many different values without decimals, or with one only, are evidence that they were rounded to that.
const EVIDENCE_OF_WHOLE: usize = 8;
const EVIDENCE_OF_TENTHS: usize = 3;

/// How exactly a format keeps the numbers of a channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelPrecision {
    /// The channel.
    pub channel: Channel,
    /// As a part of the value; 0 for none.
    pub part: f64,
    /// As multiples of this, in the canonical unit; 0 for none.
    pub step: f64,
}

/// A take, held in memory as far as it can be compared: about 150 bytes a frame.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Record {
    pub(crate) name: String,
    pub(crate) frames: usize,
    /// Time code as frame counts; empty without a frame rate or labels.
    pub(crate) counts: Vec<i64>,
    /// Frame numbers; empty where none are recorded.
    pub(crate) numbers: Vec<f64>,
    pub(crate) columns: Vec<RecordColumn>,
    places: Vec<(u32, u64)>,
    rate: Option<FrameRate>,
    mode: Option<CountingMode>,
}

/// One channel of it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RecordColumn {
    pub channel: Channel,
    pub reference: DistanceReference,
    pub values: Vec<f64>,
    /// The step in which the numbers were written, in the canonical unit; 0 if none shows.
    pub step: f64,
    /// How exactly the format keeps numbers, as a part of the value.
    pub relative: f64,
    source: Option<Unit>,
}

/// Takes in a take frame by frame.
#[derive(Debug)]
pub struct RecordBuilder {
    record: Record,
    labels: LabelCounter,
    precision: Vec<ChannelPrecision>,
}

impl RecordBuilder {
    /// A record of `take`, called `name` in findings. `precision` says how exactly its format keeps the numbers of
    /// channels; decimals are found from the numbers themselves.
    pub fn new(take: &Take, name: impl Into<String>, precision: Vec<ChannelPrecision>) -> Self {
        RecordBuilder {
            record: Record {
                name: name.into(),
                rate: take.frame_rate,
                mode: take.counting,
                ..Record::default()
            },
            labels: LabelCounter::new(take),
            precision,
        }
    }

    /// Takes in consecutive frames.
    pub fn frames(&mut self, batch: &Batch) {
        let record = &mut self.record;
        let before = record.frames;
        record.frames += batch.count;
        let labels = self.labels.read(batch);
        if !labels.counts.is_empty() {
            record.counts.resize(before, NOT_RECORDED);
            record.counts.extend(&labels.counts);
        }
        record.mode = labels.mode;
        if let Some(numbers) = batch.numbers(Channel::Frame) {
            record.numbers.resize(before, f64::NAN);
            record.numbers.extend(numbers);
        }
        for column in &batch.numbers {
            let Some(channel) = column.head.key.channel() else {
                continue;
            };
            // What was computed from another channel is no second witness.
            if !COMPARED.contains(&channel) || column.head.origin == Origin::Derived {
                continue;
            }
            let at = record
                .columns
                .iter()
                .position(|known| known.channel == channel);
            let at = at.unwrap_or_else(|| {
                let known = self.precision.iter().find(|kept| kept.channel == channel);
                record
                    .columns
                    .push(RecordColumn::new(channel, &column.head, known));
                record.columns.len() - 1
            });
            if let Some(known) = record.columns.get_mut(at) {
                known.values.resize(before, f64::NAN);
                known.values.extend(&column.values);
            }
        }
        if !batch.places.offsets.is_empty() {
            record.places.resize(before, (0, 0));
            record
                .places
                .extend((0..batch.count).filter_map(|frame| batch.place(frame)));
        }
    }

    /// The take is over.
    pub fn finish(self) -> Record {
        let mut record = self.record;
        let frames = record.frames;
        if !record.counts.is_empty() {
            record.counts.resize(frames, NOT_RECORDED);
        }
        if !record.numbers.is_empty() {
            record.numbers.resize(frames, f64::NAN);
        }
        for column in &mut record.columns {
            column.values.resize(frames, f64::NAN);
            column.step = step(&column.values, column.source).max(column.step);
        }
        record
    }
}

impl Record {
    /// What it is called in findings.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The column of a channel.
    pub(crate) fn column(&self, channel: Channel) -> Option<&RecordColumn> {
        self.columns.iter().find(|column| column.channel == channel)
    }

    /// A frame by name and place.
    pub(crate) fn mark(&self, frame: usize) -> FrameMark {
        let label = self.counts.get(frame).zip(self.rate).zip(self.mode);
        FrameMark {
            index: frame as u64,
            number: self
                .numbers
                .get(frame)
                .filter(|n| n.is_finite())
                .map(|n| *n as i64),
            label: label.and_then(|((count, rate), mode)| label_of(*count, rate, mode)),
            place: self
                .places
                .get(frame)
                .map(|(input, offset)| Place::record(*input, *offset)),
        }
    }
}

fn label_of(count: i64, rate: FrameRate, mode: CountingMode) -> Option<String> {
    let day = ringmark_quantity::timecode::frames_per_day(rate, mode).ok()?;
    let of_day = u64::try_from(count).ok()? % day;
    Timecode::from_frame(of_day, rate, mode)
        .ok()
        .map(|label| label.to_string())
}

impl RecordColumn {
    /// Whether the numbers of two records tell one thing: distances from different points of the lens do not. Where one says
    /// nothing, the image plane is meant, as barrels are engraved (common practice, no source).
    pub fn is_comparable(&self, other: &RecordColumn) -> bool {
        let meant = |reference| match reference {
            DistanceReference::Unstated => DistanceReference::ImagePlane,
            stated => stated,
        };
        meant(self.reference) == meant(other.reference)
    }

    fn new(channel: Channel, head: &ColumnHead, kept: Option<&ChannelPrecision>) -> Self {
        RecordColumn {
            channel,
            reference: head.reference.unwrap_or_default(),
            values: Vec::new(),
            step: kept.map_or(0.0, |kept| kept.step),
            relative: kept.map_or(0.0, |kept| kept.part),
            source: head
                .source_unit
                .as_deref()
                .and_then(Unit::from_symbol)
                .or(channel.unit()),
        }
    }
}

/// The step in which numbers were written, in the canonical unit: the fewest decimals of the unit they were written in that
/// hold them all, or sixteenths of an inch. 0 for numbers of more than [`DECIMALS`] decimals.
fn step(values: &[f64], source: Option<Unit>) -> f64 {
    let Some(source) = source else { return 0.0 };
    let canonical =
        match source.dimension() == Unit::Metre.dimension() && source != Unit::Millimetre {
            true => Unit::Metre,
            false => source,
        };
    let finite = || values.iter().copied().filter(|value| value.is_finite());
    if matches!(source, Unit::FeetInches | Unit::Inch) {
        let sixteenth = 0.0254 / 16.0;
        return if multiples(finite(), sixteenth) {
            sixteenth
        } else {
            0.0
        };
    }
    let Ok(conversion) = Conversion::between(source, canonical) else {
        return 0.0;
    };
    let one = conversion.apply(1.0);
    // Dioptres are no multiples of metres.
    let linear = one > 0.0 && (conversion.apply(2.0) / one - 2.0).abs() <= 1e-9;
    if !linear {
        return 0.0;
    }
    let mut different: Vec<f64> = Vec::new();
    for value in finite() {
        if different.len() < EVIDENCE_OF_WHOLE && !different.contains(&value) {
            different.push(value);
        }
    }
    // Stops are written with one decimal by everybody (common practice, no source).
    let is_stop = matches!(source, Unit::TStop | Unit::FNumber);
    let fewest = match different.len() {
        EVIDENCE_OF_WHOLE.. => 0,
        EVIDENCE_OF_TENTHS.. => 1,
        _ if is_stop => 1,
        _ => 2,
    };
    (fewest..=DECIMALS)
        .map(|decimals| one * 10f64.powi(-decimals))
        .find(|step| multiples(finite(), *step))
        .unwrap_or(0.0)
}

fn multiples(values: impl Iterator<Item = f64>, step: f64) -> bool {
    let mut values = values;
    values.all(|value| {
        let steps = value / step;
        (steps - steps.round()).abs() <= 1e-6 + 1e-9 * steps.abs()
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_step_is_that_of_the_decimals_in_the_unit_of_the_source() {
        let metres: Vec<f64> = (0..20).map(|k| 1.0 + f64::from(k) * 0.013).collect();
        assert!((step(&metres, Some(Unit::Metre)) - 0.001).abs() < 1e-15);
        let feet: Vec<f64> = (0..20)
            .map(|k| (3.0 + f64::from(k) * 0.25) * 0.3048)
            .collect();
        assert!((step(&feet, Some(Unit::Foot)) - 0.003048).abs() < 1e-12);
        let engraved: Vec<f64> = (40..60).map(|k| f64::from(k) * 0.0254).collect();
        assert!((step(&engraved, Some(Unit::FeetInches)) - 0.0015875).abs() < 1e-12);
        let odd: Vec<f64> = (1..20).map(|k| 1.0 / f64::from(k)).collect();
        assert_eq!(step(&odd, Some(Unit::Metre)), 0.0);
        assert_eq!(step(&odd, Some(Unit::Dioptre)), 0.0);
    }

    #[test]
    fn one_whole_number_is_no_evidence_of_whole_numbers() {
        assert!((step(&[40.0; 100], Some(Unit::Millimetre)) - 0.01).abs() < 1e-15);
        let zoom: Vec<f64> = (28..=76).map(f64::from).collect();
        assert_eq!(step(&zoom, Some(Unit::Millimetre)), 1.0);
    }
}
