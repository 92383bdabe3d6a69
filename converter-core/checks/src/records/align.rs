//! Which frames of two records belong together.

use std::collections::HashMap;

use ringmark_model::Channel;

use super::differences::natural;
use super::record::Record;
use crate::time::labels::counts;

/// Frames looked at for each offset that is tried.
const SAMPLES: usize = 4096;
/// Part of the disagreement that an offset must take away to be believed.
const EXPLAINED: f64 = 0.25;
/// Parts of its range by which a channel must change to tell one offset from another.
const NOISE: f64 = 2e-3;

/// What frames are matched by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Key {
    Timecode,
    FrameNumber,
    /// Neither is recorded in both: first frame with first frame.
    Order,
}

impl Key {
    pub const fn words(self) -> &'static str {
        match self {
            Key::Timecode => "time code",
            Key::FrameNumber => "frame number",
            Key::Order => "their order",
        }
    }
}

/// One record is late against the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Late {
    /// Frames by which the other record is late; negative if it is early.
    pub frames: i64,
    /// Mean disagreement, as a part of the range of each channel, without and with the offset.
    pub before: f64,
    pub after: f64,
}

/// Frames of one record and their partners in the other.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Alignment {
    pub key: Key,
    pub late: Option<Late>,
    /// For each frame of this record, that of the other.
    pub partner: Vec<Option<usize>>,
    /// Frames of this record within the stretch that both cover, without a partner.
    pub alone: Vec<usize>,
    /// Frames of the other record within that stretch, without a partner.
    pub missing: Vec<usize>,
}

impl Alignment {
    /// Pairs the frames of `own` with those of `other`, which may be up to `most` frames late or early.
    pub fn new(own: &Record, other: &Record, most: i64) -> Alignment {
        let key = [Key::Timecode, Key::FrameNumber]
            .into_iter()
            .find(|key| has(own, *key) && has(other, *key))
            .unwrap_or(Key::Order);
        let (ours, theirs) = (keys(own, key), keys(other, key));
        let mut at = HashMap::with_capacity(theirs.len());
        for (frame, key) in theirs.iter().enumerate() {
            if let Some(key) = key {
                at.entry(*key).or_insert(frame);
            }
        }
        let find = |key: &Option<i64>, late: i64| {
            let key = key.as_ref()?.checked_add(late)?;
            at.get(&key).copied()
        };
        let late = lateness(own, other, most, |frame, late| find(ours.get(frame)?, late));
        let shift = late.map_or(0, |late| late.frames);
        let partner: Vec<Option<usize>> = ours.iter().map(|key| find(key, shift)).collect();
        let mut alignment = Alignment {
            key,
            late,
            partner,
            alone: Vec::new(),
            missing: Vec::new(),
        };
        alignment.holes(&ours, &theirs, shift);
        alignment
    }

    /// Frames that one of the two lacks where both run.
    fn holes(&mut self, ours: &[Option<i64>], theirs: &[Option<i64>], shift: i64) {
        let span = |keys: &[Option<i64>], shift: i64| {
            let known = || keys.iter().flatten().map(|key| key - shift);
            Some((known().min()?, known().max()?))
        };
        let Some(((a0, a1), (b0, b1))) = span(ours, 0).zip(span(theirs, shift)) else {
            return;
        };
        let both = a0.max(b0)..=a1.min(b1);
        let paired: std::collections::HashSet<usize> =
            self.partner.iter().flatten().copied().collect();
        self.alone = (0..ours.len())
            .filter(|frame| self.partner.get(*frame) == Some(&None))
            .filter(|frame| {
                ours.get(*frame)
                    .is_some_and(|key| key.is_some_and(|key| both.contains(&key)))
            })
            .collect();
        self.missing = (0..theirs.len())
            .filter(|frame| !paired.contains(frame))
            .filter(|frame| {
                theirs
                    .get(*frame)
                    .is_some_and(|key| key.is_some_and(|key| both.contains(&(key - shift))))
            })
            .collect();
    }

    /// Pairs of frames.
    pub fn pairs(&self) -> impl Iterator<Item = (usize, usize)> {
        self.partner
            .iter()
            .enumerate()
            .filter_map(|(own, other)| Some((own, (*other)?)))
    }
}

fn has(record: &Record, key: Key) -> bool {
    match key {
        Key::Timecode => record.counts.iter().any(|count| counts(*count)),
        Key::FrameNumber => record.numbers.iter().any(|number| number.is_finite()),
        Key::Order => true,
    }
}

fn keys(record: &Record, key: Key) -> Vec<Option<i64>> {
    match key {
        Key::Timecode => record
            .counts
            .iter()
            .map(|count| counts(*count).then_some(*count))
            .collect(),
        Key::FrameNumber => {
            let number = |number: &f64| number.is_finite().then_some(*number as i64);
            record.numbers.iter().map(number).collect()
        }
        Key::Order => (0..record.frames as i64).map(Some).collect(),
    }
}

/// By how many frames the other record is late: the offset at which the channels that move agree far better than at none,
/// and than at the offsets beside it.
fn lateness(
    own: &Record,
    other: &Record,
    most: i64,
    find: impl Fn(usize, i64) -> Option<usize>,
) -> Option<Late> {
    let moving: Vec<(Channel, f64)> = own
        .columns
        .iter()
        .filter(|column| {
            other
                .column(column.channel)
                .is_some_and(|o| column.is_comparable(o))
        })
        .filter_map(|column| Some((column.channel, range(column.channel, &column.values)?)))
        .collect();
    if moving.is_empty() {
        return None;
    }
    let stride = own.frames.div_ceil(SAMPLES).max(1);
    let cost = |late: i64| -> Option<f64> {
        let (mut sum, mut count) = (0.0, 0u32);
        for (channel, range) in &moving {
            let (a, b) = (own.column(*channel)?, other.column(*channel)?);
            for frame in (0..own.frames).step_by(stride) {
                let Some(partner) = find(frame, late) else {
                    continue;
                };
                let (Some(a), Some(b)) = (a.values.get(frame), b.values.get(partner)) else {
                    continue;
                };
                let off = (natural(*channel, *a) - natural(*channel, *b)).abs() / range;
                if off.is_finite() {
                    sum += off.min(1.0);
                    count += 1;
                }
            }
        }
        (count > 8).then(|| sum / f64::from(count))
    };
    let before = cost(0);
    let (after, frames) = (-most..=most)
        .filter_map(|late| Some((cost(late)?, late)))
        .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.abs().cmp(&b.1.abs())))?;
    let beside = [frames - 1, frames + 1]
        .into_iter()
        .filter_map(cost)
        .fold(f64::INFINITY, f64::min);
    // Without a common frame at no offset there is nothing to compare with: then it must simply fit.
    let before = before.unwrap_or(1.0);
    let clear = before - after > NOISE
        && after <= EXPLAINED * before
        && beside - after > 0.5 * NOISE.min(before);
    (frames != 0 && clear).then_some(Late {
        frames,
        before,
        after,
    })
}

/// How far a channel moves, in the terms of [`natural`]; `None` if it hardly does.
fn range(channel: Channel, values: &[f64]) -> Option<f64> {
    let natural = || {
        values
            .iter()
            .map(|value| natural(channel, *value))
            .filter(|v| v.is_finite())
    };
    let (low, high) = (
        natural().fold(f64::INFINITY, f64::min),
        natural().fold(f64::NEG_INFINITY, f64::max),
    );
    let size = low.abs().max(high.abs());
    (high - low > 0.02 * size.min(1.0) && high > low).then_some(high - low)
}
