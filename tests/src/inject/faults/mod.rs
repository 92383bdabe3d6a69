//! Faults of takes: what is changed, in which frames, and which check is to say so.

mod agreement;
mod completeness;
mod identity;
mod motion;
mod optics;
mod time;
mod units;

use ringmark_model::Channel;

use super::clean::{Case, Motion};
use super::random::Random;

/// What is to be found.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Expect {
    /// First and last frame; `None` if the place is not a matter of frames.
    pub frames: Option<(u64, u64)>,
    /// Channels that must have come through the format as they were injected.
    pub carried: Vec<Channel>,
    /// Facts of the head that must have come through, by name.
    pub facts: Vec<&'static str>,
    /// Channels that must not be there on the other side.
    pub gone: Vec<Channel>,
}

impl Expect {
    fn of(first: usize, last: usize, carried: &[Channel]) -> Self {
        Self {
            frames: Some((first as u64, last as u64)),
            carried: carried.to_vec(),
            ..Self::default()
        }
    }

    fn whole(carried: &[Channel]) -> Self {
        Self {
            carried: carried.to_vec(),
            ..Self::default()
        }
    }

    fn head(facts: &[&'static str]) -> Self {
        Self {
            facts: facts.to_vec(),
            ..Self::default()
        }
    }
}

/// A fault.
pub struct Fault {
    /// The check that is to find it.
    pub check: &'static str,
    /// What is wrong, in a few words.
    pub what: &'static str,
    /// Motions in which it shows.
    pub motions: &'static [Motion],
    /// Puts it into a take.
    pub inject: fn(&mut Case, &mut Random) -> Expect,
}

use Motion::{Creep, Follow, Iris, Racks, Static};

const RESTING_IRIS: &[Motion] = &[Static, Racks, Follow, Creep];
const ALL: &[Motion] = &Motion::ALL;
const PRIMES: &[Motion] = &[Static, Racks, Follow, Creep, Iris];
const MOVING: &[Motion] = &[Follow, Iris];

/// Frames in the middle of a take.
fn stretch(case: &Case, shortest: usize, longest: usize, random: &mut Random) -> (usize, usize) {
    let long = random.whole(shortest, longest);
    let first = random.whole(20, case.frames - long - 20);
    (first, first + long - 1)
}

/// Changes a channel in some frames.
fn change(
    case: &mut Case,
    channel: Channel,
    (first, last): (usize, usize),
    by: impl Fn(f64) -> f64,
) {
    if let Some(values) = case.numbers.get_mut(&channel) {
        values[first..=last]
            .iter_mut()
            .for_each(|value| *value = by(*value));
    }
}

fn only(channel: Channel, case: &mut Case, random: &mut Random, by: impl Fn(f64) -> f64) -> Expect {
    let (first, last) = stretch(case, 5, 60, random);
    change(case, channel, (first, last), by);
    Expect::of(first, last, &[channel])
}

/// Nothing is given but the take.
fn alone(case: &mut Case) {
    case.calibration = None;
}

fn values(case: &Case, channel: Channel) -> Vec<f64> {
    case.numbers.get(&channel).cloned().unwrap_or_default()
}

fn put(case: &mut Case, channel: Channel, values: Vec<f64>) {
    case.numbers.insert(channel, values);
}

/// The ring and its counts.
fn put_ring(case: &mut Case, positions: Vec<f64>) {
    put(
        case,
        Channel::FocusRingRaw,
        positions
            .iter()
            .map(|position| (position * 65535.0).round())
            .collect(),
    );
    put(case, Channel::FocusRing, positions);
}

/// Frames in which a channel changes fast enough for a fault to show.
fn in_motion(
    case: &Case,
    channel: Channel,
    frames: usize,
    least: f64,
    random: &mut Random,
) -> Option<(usize, usize)> {
    let values = values(case, channel);
    let moves = |first: usize| {
        let window = &values[first..first + frames];
        let (low, high) = window
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                (low.min(*value), high.max(*value))
            });
        high - low > least
    };
    let possible: Vec<usize> = (20..values.len() - frames - 20)
        .filter(|first| moves(*first))
        .collect();
    let first = *possible.get(random.whole(0, possible.len().max(1) - 1))?;
    Some((first, first + frames - 1))
}

/// Ring positions that move by `by` in some frames; nothing else does.
fn slipped(case: &mut Case, (first, last): (usize, usize), by: f64) {
    let mut ring = values(case, Channel::FocusRing);
    ring[first..=last]
        .iter_mut()
        .for_each(|position| *position += by);
    put_ring(case, ring);
}

/// Takes out frames: numbers and labels jump.
fn cut(case: &mut Case, at: usize, gone: usize) {
    case.numbers
        .values_mut()
        .for_each(|values| drop(values.drain(at..at + gone)));
    case.texts
        .values_mut()
        .for_each(|texts| drop(texts.drain(at..at + gone)));
    case.frames -= gone;
}

fn text(case: &mut Case, channel: Channel, text: &str) {
    case.texts
        .insert(channel, vec![text.to_owned(); case.frames]);
}

/// What follows from the focus ring is not recorded: the ring alone is looked at.
fn follow_nothing(case: &mut Case) {
    for channel in [
        Channel::FocusDistance,
        Channel::NearLimit,
        Channel::FarLimit,
        Channel::Hyperfocal,
    ] {
        case.numbers.remove(&channel);
    }
}

/// All faults, family by family.
pub fn all() -> impl Iterator<Item = &'static Fault> {
    const FAMILIES: [&[Fault]; 7] = [
        units::FAULTS,
        optics::FAULTS,
        motion::FAULTS,
        time::FAULTS,
        agreement::FAULTS,
        identity::FAULTS,
        completeness::FAULTS,
    ];
    FAMILIES.into_iter().flatten()
}
