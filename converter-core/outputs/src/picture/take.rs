//! Traces of a take: smallest and largest value of equal stretches of frames.

use ringmark_model::{Batch, Channel, ColumnHead, Take};
use ringmark_quantity::{Unit, print};
use serde::{Deserialize, Serialize};

use super::{Axis, Steps, rounded};
use crate::show::{Scale, reference_words};
use crate::summary::{NumberSummary, TakeSummary};

/// Stretches of a take at most: with the smallest and the largest value of each 1,500 values a channel.
const STRETCHES: usize = 750;

/// Heights are kept as whole steps of one part in this many of their range: finer than a screen shows.
const STEPS: f64 = 9999.0;

/// What is drawn of a take, in the order in which it is drawn, and the frame numbers.
const CHANNELS: &[Channel] = &[
    Channel::FocusDistance,
    Channel::NearLimit,
    Channel::FarLimit,
    Channel::RangefinderDistance,
    Channel::TStop,
    Channel::FNumber,
    Channel::NominalFocalLength,
    Channel::EffectiveFocalLength,
    Channel::PinholeFocalLength,
    Channel::FocusRing,
    Channel::IrisRing,
    Channel::ZoomRing,
    Channel::FocusRingRaw,
    Channel::IrisRingRaw,
    Channel::ZoomRingRaw,
    Channel::Frame,
];

/// Gathers the traces of a take batch by batch.
#[derive(Debug)]
pub struct TakeGatherer {
    facts: Vec<(String, String)>,
    summary: TakeSummary,
}

/// What is drawn of a take.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TakePicture {
    /// Names and values from its head.
    pub facts: Vec<(String, String)>,
    /// Frames.
    pub frames: u64,
    /// Frame number of the first frame, if numbers are recorded.
    pub first_number: Option<f64>,
    /// Frames in each stretch but the last.
    pub each: u64,
    /// What is recorded or follows from it.
    pub channels: Vec<ChannelPicture>,
}

/// The trace of a channel. Height of a stretch = `base` + step × `size`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelPicture {
    /// Name of the channel.
    pub name: String,
    /// What it is, with what distances are measured from and how values came about.
    pub title: String,
    /// Unit symbol.
    pub unit: String,
    /// How heights are made of values.
    pub axis: Axis,
    /// Frames with a value.
    pub recorded: u64,
    /// Smallest and largest value, first and last one, in words.
    pub words: String,
    /// Height of step 0.
    pub base: f64,
    /// Height of one step.
    pub size: f64,
    /// The lower step of each stretch; −1 where nothing is recorded.
    pub low: Steps,
    /// How many steps higher the upper one is.
    pub more: Steps,
}

impl TakeGatherer {
    /// Of no frames yet.
    pub fn new(take: &Take) -> Self {
        TakeGatherer {
            facts: facts(take),
            summary: TakeSummary::of_channels(CHANNELS, STRETCHES),
        }
    }

    /// Adds the next frames of the take.
    pub fn add(&mut self, batch: &Batch) {
        self.summary.add(batch);
    }

    /// What was gathered.
    pub fn finish(self) -> TakePicture {
        let TakeSummary {
            frames, numbers, ..
        } = &self.summary;
        let of = |channel| {
            let found = numbers
                .iter()
                .find(|n| n.head.key.channel() == Some(channel));
            found.filter(|n| n.recorded > 0)
        };
        // All traces of a take share their stretches.
        let each = numbers.iter().map(NumberSummary::frames_each).max();
        let each = each.unwrap_or(1);
        let drawn = CHANNELS.iter().filter(|&&channel| match channel {
            // Counts say again what positions say.
            Channel::FocusRingRaw => of(Channel::FocusRing).is_none(),
            Channel::IrisRingRaw => of(Channel::IrisRing).is_none(),
            Channel::ZoomRingRaw => of(Channel::ZoomRing).is_none(),
            Channel::Frame => false,
            _ => true,
        });
        TakePicture {
            facts: self.facts,
            frames: *frames,
            first_number: of(Channel::Frame).and_then(|frame| frame.first),
            each,
            channels: drawn
                .filter_map(|&channel| {
                    Some(ChannelPicture::of(channel, of(channel)?, *frames, each))
                })
                .collect(),
        }
    }
}

impl ChannelPicture {
    fn of(channel: Channel, summary: &NumberSummary, frames: u64, each: u64) -> Self {
        let unit = channel.unit().unwrap_or(Unit::One);
        let scale = Scale::of(unit, channel.is_distance());
        let heights: Vec<Option<(f64, f64)>> = summary
            .stretches(frames, each)
            .into_iter()
            .map(|range| {
                let (a, b) = range?;
                // Where one of the two has no height, as a distance of 0, the other one is drawn.
                let (a, b) = (scale.height(a), scale.height(b));
                let (a, b) = (a.or(b)?, b.or(a)?);
                Some((a.min(b), a.max(b)))
            })
            .collect();
        let (low, high) = heights.iter().flatten().fold(
            (f64::INFINITY, f64::NEG_INFINITY),
            |(low, high), &(a, b)| (low.min(a), high.max(b)),
        );
        let (base, size) = if high > low {
            (rounded(low), rounded((high - low) / STEPS))
        } else if low.is_finite() {
            (rounded(low), 0.0)
        } else {
            (0.0, 0.0)
        };
        let step = |height: f64| {
            let step = if size > 0.0 {
                (height - base) / size
            } else {
                0.0
            };
            step.round().clamp(0.0, f64::from(i16::MAX)) as i16
        };
        let steps = |range: &Option<(f64, f64)>| match range {
            Some((a, b)) => (step(*a), step(*b) - step(*a)),
            None => (-1, 0),
        };
        let (low, more): (Vec<i16>, Vec<i16>) = heights.iter().map(steps).unzip();
        ChannelPicture {
            name: channel.name().to_owned(),
            title: title(channel, &summary.head),
            unit: unit.symbol().to_owned(),
            axis: scale.into(),
            recorded: summary.recorded,
            words: words(summary, unit),
            base,
            size,
            low: Steps::of(&low),
            more: Steps::of(&more),
        }
    }
}

fn title(channel: Channel, head: &ColumnHead) -> String {
    let mut parts = vec![channel.info().title.to_owned()];
    parts.extend(head.reference.map(|r| reference_words(r).to_owned()));
    match head.origin {
        ringmark_model::Origin::Recorded | ringmark_model::Origin::Converted => {}
        origin => parts.push(origin.name().to_owned()),
    }
    parts.join(", ")
}

/// `1.20 m (3'11 1/4") to 4.50 m (14'9"), first 1.20 m (…), last …`.
fn words(summary: &NumberSummary, unit: Unit) -> String {
    let value = |value: f64| match unit {
        Unit::Metre if value.is_finite() => {
            format!("{} ({})", print::metric(value), print::imperial(value))
        }
        Unit::Metre => print::metric(value),
        unit => print::value(value, unit),
    };
    let (Some((low, high)), Some(first), Some(last)) = (summary.range, summary.first, summary.last)
    else {
        return String::new();
    };
    if low == high {
        return format!("{} throughout", value(low));
    }
    let at_infinity = match summary.infinite {
        0 => String::new(),
        1 => ", 1 frame at infinity".to_owned(),
        count => format!(", {count} frames at infinity"),
    };
    format!(
        "{} to {}, first {}, last {}{at_infinity}",
        value(low),
        value(high),
        value(first),
        value(last)
    )
}

fn facts(take: &Take) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    let mut add = |name: &str, value: Option<String>| {
        facts.extend(value.map(|value| (name.to_owned(), value)));
    };
    let camera = &take.camera;
    let serial = camera.serial.as_ref().map(|serial| format!("#{serial}"));
    let parts = [camera.maker.clone(), camera.model.clone(), serial];
    let name: Vec<String> = parts.into_iter().flatten().collect();
    add("camera", (!name.is_empty()).then(|| name.join(" ")));
    add("camera label", camera.label.clone());
    add("reel", take.reel.clone());
    add("frame rate", take.frame_rate.map(|rate| rate.to_string()));
    add(
        "captured at",
        take.capture_rate.map(|rate| rate.to_string()),
    );
    add("first time code", take.start_timecode.clone());
    add(
        "sensor",
        take.sensor_mm
            .map(|(width, height)| format!("{width} mm × {height} mm")),
    );
    facts
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use std::sync::Arc;

    use proptest::prelude::*;
    use ringmark_model::{ColumnKey, NumberColumn, Origin};

    use super::*;

    fn gathered(columns: &[(Channel, Vec<f64>)]) -> TakePicture {
        let mut gatherer = TakeGatherer::new(&Take {
            clip: Some("A001C001".to_owned()),
            ..Take::default()
        });
        let count = columns[0].1.len();
        for first in (0..count).step_by(1000) {
            let end = count.min(first + 1000);
            let numbers = columns.iter().map(|(channel, values)| NumberColumn {
                head: Arc::new(ColumnHead {
                    key: ColumnKey::Channel(*channel),
                    unit: channel.unit().unwrap().symbol().to_owned(),
                    reference: None,
                    origin: Origin::Recorded,
                    source_unit: None,
                    form: None,
                }),
                values: values[first..end].to_vec(),
            });
            gatherer.add(&Batch {
                first: first as u64,
                count: end - first,
                numbers: numbers.collect(),
                ..Batch::default()
            });
        }
        gatherer.finish()
    }

    #[test]
    fn infinity_is_the_lowest_and_gaps_are_gaps() {
        let distance = vec![0.5, f64::NAN, 2.0, f64::INFINITY, 0.0];
        let picture = gathered(&[
            (Channel::FocusDistance, distance),
            (Channel::Frame, vec![1001.0, 1002.0, 1003.0, 1004.0, 1005.0]),
        ]);
        assert_eq!(
            (picture.frames, picture.each, picture.first_number),
            (5, 1, Some(1001.0))
        );
        let [channel] = picture.channels.as_slice() else {
            panic!("{picture:?}");
        };
        assert_eq!(channel.axis, Axis::Reciprocal);
        assert_eq!(channel.low.read(5), [9999, -1, 2500, 0, -1]);
        assert_eq!(channel.base, 0.0);
        assert!((channel.size * 9999.0 - 2.0).abs() < 1e-4);
        assert!(
            channel.words.contains("1 frame at infinity"),
            "{}",
            channel.words
        );
    }

    #[test]
    fn counts_are_drawn_where_positions_are_not_recorded() {
        let picture = gathered(&[
            (Channel::FocusRingRaw, vec![1.0, 2.0]),
            (Channel::FocusRing, vec![0.1, 0.2]),
            (Channel::IrisRingRaw, vec![7.0, 7.0]),
            (Channel::ZoomRing, vec![f64::NAN, f64::NAN]),
        ]);
        let names: Vec<&str> = picture.channels.iter().map(|c| c.name.as_str()).collect();
        assert_eq!(names, ["focus-ring", "iris-ring-raw"]);
        assert_eq!(picture.channels[1].size, 0.0);
        assert!(picture.channels[1].words.ends_with("throughout"));
    }

    proptest! {
        #[test]
        fn a_long_take_is_short_and_keeps_its_peaks(count in 1usize..20_000, at in any::<prop::sample::Index>()) {
            let mut values = vec![4.0; count];
            values[at.index(count)] = 2.0;
            let picture = gathered(&[(Channel::TStop, values)]);
            let channel = &picture.channels[0];
            let stretches = picture.frames.div_ceil(picture.each) as usize;
            let (low, more) = (channel.low.read(stretches), channel.more.read(stretches));
            prop_assert!(low.len() <= STRETCHES && low.len() == stretches && more.len() == stretches);
            let lowest = low.iter().position(|&low| low == 0).unwrap();
            prop_assert_eq!(lowest as u64, at.index(count) as u64 / picture.each);
            let top = channel.base + channel.size * f64::from(low[lowest] + more[lowest]);
            prop_assert!(count == 1 || picture.each == 1 || (top - 2.0).abs() < 1e-3 || more[lowest] == 0);
        }
    }
}
