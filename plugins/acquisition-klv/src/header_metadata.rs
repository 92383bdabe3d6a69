//! What MXF header metadata (SMPTE ST 377-1) says about time: edit rate and start time code.
//!
//! Keys and local tags from memory, confirmed by what an independent decoder makes of our files:
//! instance 3C0A, tracks of a package 4403, edit rate of a track 4B01, its sequence 4803, components
//! of a sequence 1001, start of a time code component 1501, its rounded base 1502, drop-frame 1503.

use std::collections::HashMap;

use ringmark_sdk::quantity::{CountingMode, FrameRate, Timecode};

use crate::klv::number;
use crate::local_set::{Coding, Items};

/// Sets that are kept: a file has a few dozen.
const MOST_SETS: usize = 4096;

/// References of one set that are kept.
const MOST_REFERENCES: usize = 256;

/// An instance of a set.
type Instance = [u8; 16];

const SEQUENCE: u8 = 0x0f;
const TIMECODE: u8 = 0x14;
const MATERIAL_PACKAGE: u8 = 0x36;
const SOURCE_PACKAGE: u8 = 0x37;
const TRACK: u8 = 0x3b;

/// The header metadata read so far.
#[derive(Default)]
pub struct HeaderMetadata {
    /// Tracks of the material package, then of source packages.
    material: Vec<Instance>,
    sources: Vec<Instance>,
    tracks: HashMap<Instance, Track>,
    sequences: HashMap<Instance, Vec<Instance>>,
    timecodes: HashMap<Instance, Start>,
}

#[derive(Clone, Copy)]
struct Track {
    rate: (u32, u32),
    sequence: Instance,
}

#[derive(Clone, Copy)]
struct Start {
    frame: i64,
    base: u16,
    drop: bool,
}

/// What the header metadata says about time.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Timing {
    /// Edit rate of the timeline, as `24000/1001`.
    pub rate: Option<String>,
    /// `drop-frame` or `non-drop`.
    pub counting: Option<&'static str>,
    /// Label of the first frame.
    pub start: Option<String>,
    /// Why there is no label although there is a start.
    pub no_label: Option<String>,
}

impl HeaderMetadata {
    /// Takes in a set; `kind` is the byte of its key that says which.
    pub fn add(&mut self, kind: u8, coding: Coding, value: &[u8]) {
        let sets = self.tracks.len() + self.sequences.len() + self.timecodes.len();
        if sets + self.material.len() + self.sources.len() >= MOST_SETS {
            return;
        }
        let mut items = HashMap::new();
        for item in Items::new(coding, value).map_while(Result::ok) {
            items.insert(item.tag, item.value);
        }
        let instance = |tag: u16| -> Option<Instance> { items.get(&tag).copied()?.try_into().ok() };
        let Some(own) = instance(0x3c0a) else {
            return;
        };
        match kind {
            MATERIAL_PACKAGE => self.material.extend(list(items.get(&0x4403))),
            SOURCE_PACKAGE => self.sources.extend(list(items.get(&0x4403))),
            TRACK => {
                if let (Some(rate), Some(sequence)) = (
                    items.get(&0x4b01).and_then(|r| fraction(r)),
                    instance(0x4803),
                ) {
                    self.tracks.insert(own, Track { rate, sequence });
                }
            }
            SEQUENCE => {
                let components = list(items.get(&0x1001)).collect();
                self.sequences.insert(own, components);
            }
            TIMECODE => {
                let long =
                    |tag: u16| -> Option<[u8; 8]> { items.get(&tag).copied()?.try_into().ok() };
                if let Some(frame) = long(0x1501) {
                    let start = Start {
                        frame: i64::from_be_bytes(frame),
                        base: items.get(&0x1502).map_or(0, |base| number(base) as u16),
                        drop: items.get(&0x1503).is_some_and(|drop| number(drop) != 0),
                    };
                    self.timecodes.insert(own, start);
                }
            }
            _ => {}
        }
    }

    /// What all sets together say. The material package goes before source packages.
    pub fn timing(&self) -> Timing {
        let tracks: Vec<Track> = self
            .material
            .iter()
            .chain(&self.sources)
            .filter_map(|instance| self.tracks.get(instance).copied())
            .collect();
        let coded = tracks
            .iter()
            .find_map(|track| Some((*track, self.start(track.sequence)?)));
        // A sound track may be edited in samples: no frame rate is that high.
        let plausible = |track: &&Track| {
            let rate = f64::from(track.rate.0) / f64::from(track.rate.1);
            (1.0..=1000.0).contains(&rate)
        };
        let track = coded.map(|(track, _)| track);
        let Some(track) = track.as_ref().into_iter().chain(&tracks).find(plausible) else {
            return Timing::default();
        };
        let Ok(rate) = FrameRate::new(track.rate.0, track.rate.1) else {
            return Timing::default();
        };
        let mut timing = Timing {
            rate: Some(rate.to_string()),
            ..Timing::default()
        };
        if let Some((_, start)) = coded {
            timing.counting = Some(if start.drop { "drop-frame" } else { "non-drop" });
            match label(start, rate) {
                Ok(label) => timing.start = Some(label),
                Err(why) => timing.no_label = Some(why),
            }
        }
        timing
    }

    /// The time code component of a sequence, or the component that stands in its place.
    fn start(&self, sequence: Instance) -> Option<Start> {
        if let Some(start) = self.timecodes.get(&sequence) {
            return Some(*start);
        }
        let components = self.sequences.get(&sequence)?;
        components
            .iter()
            .find_map(|component| self.timecodes.get(component).copied())
    }
}

fn label(start: Start, rate: FrameRate) -> Result<String, String> {
    let frame = u64::try_from(start.frame)
        .map_err(|_| format!("the start time code is frame {}", start.frame))?;
    if u32::from(start.base) != rate.nominal() {
        return Err(format!(
            "the start time code counts {} frames a second at an edit rate of {rate}",
            start.base
        ));
    }
    let mode = if start.drop {
        CountingMode::DropFrame
    } else {
        CountingMode::NonDrop
    };
    Timecode::from_frame(frame, rate, mode)
        .map(|label| label.to_string())
        .map_err(|error| error.to_string())
}

fn fraction(bytes: &[u8]) -> Option<(u32, u32)> {
    let (num, den) = bytes.split_at_checked(4)?;
    let parts = (number(num) as u32, u32::try_from(number(den)).ok()?);
    (parts.0 > 0 && parts.1 > 0).then_some(parts)
}

/// A batch of references: how many, how long each, the references.
fn list(bytes: Option<&&[u8]>) -> impl Iterator<Item = Instance> {
    let references = bytes.and_then(|bytes| bytes.get(8..)).unwrap_or_default();
    references
        .chunks_exact(16)
        .take(MOST_REFERENCES)
        .filter_map(|reference| reference.try_into().ok())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::local_set::push;

    fn set(items: &[(u16, Vec<u8>)]) -> Vec<u8> {
        let mut value = Vec::new();
        for (tag, bytes) in items {
            push(&mut value, *tag, bytes);
        }
        value
    }

    fn references(ids: &[u8]) -> Vec<u8> {
        let mut bytes = (ids.len() as u32).to_be_bytes().to_vec();
        bytes.extend_from_slice(&16u32.to_be_bytes());
        ids.iter()
            .for_each(|id| bytes.extend_from_slice(&[*id; 16]));
        bytes
    }

    fn metadata(rate: [u32; 2], frame: i64, base: u16, drop: u8) -> Timing {
        let mut key = crate::keys::LENS;
        key[5] = 0x53;
        let coding = Coding::of(&key).unwrap();
        let mut metadata = HeaderMetadata::default();
        let rate = rate.map(u32::to_be_bytes).concat();
        for (kind, items) in [
            (
                0x36,
                vec![(0x3c0a, vec![1; 16]), (0x4403, references(&[9, 2]))],
            ),
            (
                0x3b,
                vec![
                    (0x3c0a, vec![9; 16]),
                    (0x4b01, [48_000u32, 1].map(u32::to_be_bytes).concat()),
                    (0x4803, vec![8; 16]),
                ],
            ),
            (
                0x3b,
                vec![(0x3c0a, vec![2; 16]), (0x4b01, rate), (0x4803, vec![3; 16])],
            ),
            (
                0x0f,
                vec![(0x3c0a, vec![3; 16]), (0x1001, references(&[4]))],
            ),
            (
                0x14,
                vec![
                    (0x3c0a, vec![4; 16]),
                    (0x1501, frame.to_be_bytes().to_vec()),
                    (0x1502, base.to_be_bytes().to_vec()),
                    (0x1503, vec![drop]),
                ],
            ),
        ] {
            metadata.add(kind, coding, &set(&items));
        }
        metadata.timing()
    }

    #[test]
    fn drop_frame_and_rates_that_count_otherwise() {
        // Labels from PyPI opentimelineio and timecode, which agree.
        let timing = metadata([30_000, 1001], 1800, 30, 1);
        assert_eq!(timing.start.as_deref(), Some("00:01:00;02"));
        assert_eq!(
            (timing.rate.as_deref(), timing.counting),
            (Some("30000/1001"), Some("drop-frame"))
        );
        assert_eq!(
            metadata([24_000, 1001], 86_400, 24, 0).start.as_deref(),
            Some("01:00:00:00")
        );
        assert_eq!(
            metadata([30_000, 1001], 108_000, 30, 0).start.as_deref(),
            Some("01:00:00:00")
        );
        for (rate, frame, base, drop) in [
            ([25, 1], 5, 30, 0),
            ([25, 1], -1, 25, 0),
            ([25, 1], 0, 25, 1),
        ] {
            let timing = metadata(rate, frame, base, drop);
            assert_eq!(timing.start, None);
            assert!(timing.no_label.is_some() && timing.rate.is_some());
        }
    }

    #[test]
    fn nothing_is_said_without_a_track() {
        assert_eq!(HeaderMetadata::default().timing(), Timing::default());
        assert_eq!(metadata([0, 1], 0, 25, 0), Timing::default());
    }
}
