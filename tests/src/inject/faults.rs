//! Faults of takes: what is changed, in which frames, and which check is to say so.

use ringmark_checks::{CameraPattern, LensPattern};
use ringmark_model::{Channel, EncoderRange, ExtraValue};
use ringmark_quantity::{CountingMode, DistanceReference, FrameRate, Length, Timecode};

use super::clean::{Case, FINDER, Motion, smooth};
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

use Motion::{Creep, Follow, Iris, Racks, Static, Zoom};

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

/// All faults, family by family.
pub const FAULTS: &[Fault] = &[
    Fault {
        check: "distance-unit-flips",
        what: "feet for metres in a stretch",
        motions: ALL,
        inject: |case, random| {
            only(Channel::FocusDistance, case, random, |metres| {
                metres / 0.3048
            })
        },
    },
    Fault {
        check: "distance-unit-flips",
        what: "the same without a calibration",
        motions: ALL,
        inject: |case, random| {
            alone(case);
            only(Channel::FocusDistance, case, random, |metres| {
                metres / 0.3048
            })
        },
    },
    Fault {
        check: "distance-unit-flips",
        what: "feet for metres in the whole take",
        motions: ALL,
        inject: |case, _| {
            let last = case.frames - 1;
            change(case, Channel::FocusDistance, (0, last), |metres| {
                metres / 0.3048
            });
            Expect::of(0, last, &[Channel::FocusDistance])
        },
    },
    Fault {
        check: "distance-not-positive",
        what: "zero for missing",
        motions: ALL,
        inject: |case, random| only(Channel::FocusDistance, case, random, |_| 0.0),
    },
    Fault {
        check: "value-impossible",
        what: "T-stops a hundred times as large",
        motions: ALL,
        inject: |case, random| only(Channel::TStop, case, random, |t| t * 100.0),
    },
    Fault {
        check: "focal-length-in-other-unit",
        what: "metres for millimetres",
        motions: ALL,
        inject: |case, random| only(Channel::NominalFocalLength, case, random, |mm| mm / 1000.0),
    },
    Fault {
        check: "distance-below-close-focus",
        what: "nearer than the lens focuses",
        motions: ALL,
        inject: |case, random| {
            let metres = random.between(0.15, 0.35);
            only(Channel::FocusDistance, case, random, |_| metres)
        },
    },
    Fault {
        check: "stop-outside-lens-range",
        what: "wider than the widest stop",
        motions: PRIMES,
        inject: |case, random| {
            let t = random.between(1.3, 2.5);
            let (first, last) = stretch(case, 5, 60, random);
            change(case, Channel::TStop, (first, last), |_| t);
            case.numbers.remove(&Channel::FNumber);
            Expect::of(first, last, &[Channel::TStop])
        },
    },
    Fault {
        check: "focal-length-outside-lens-range",
        what: "beyond the long end of a zoom",
        motions: &[Zoom],
        inject: |case, random| {
            alone(case);
            let mm = random.between(75.0, 110.0);
            case.numbers.remove(&Channel::PinholeFocalLength);
            only(Channel::NominalFocalLength, case, random, |_| mm)
        },
    },
    Fault {
        check: "focal-length-changes-on-prime",
        what: "another focal length in a stretch",
        motions: PRIMES,
        inject: |case, random| {
            let factor = if random.either() {
                random.between(1.03, 1.2)
            } else {
                random.between(0.85, 0.97)
            };
            only(Channel::NominalFocalLength, case, random, |mm| mm * factor)
        },
    },
    Fault {
        check: "t-stop-below-f-number",
        what: "columns of T and f exchanged in a stretch",
        motions: ALL,
        inject: |case, random| {
            alone(case);
            let (first, last) = stretch(case, 5, 60, random);
            let (t, f) = (values(case, Channel::TStop), values(case, Channel::FNumber));
            let (mut new_t, mut new_f) = (t.clone(), f.clone());
            new_t[first..=last].copy_from_slice(&f[first..=last]);
            new_f[first..=last].copy_from_slice(&t[first..=last]);
            put(case, Channel::TStop, new_t);
            put(case, Channel::FNumber, new_f);
            Expect::of(first, last, &[Channel::TStop, Channel::FNumber])
        },
    },
    Fault {
        check: "transmittance-implausible",
        what: "a filter counted into the T-stop of the whole take",
        motions: RESTING_IRIS,
        inject: |case, random| {
            alone(case);
            let factor = random.between(1.6, 3.0);
            let last = case.frames - 1;
            change(case, Channel::TStop, (0, last), |t| t * factor);
            Expect::of(0, last, &[Channel::TStop, Channel::FNumber])
        },
    },
    Fault {
        check: "depth-of-field-impossible",
        what: "near and far limit exchanged",
        motions: ALL,
        inject: |case, random| {
            let (first, last) = stretch(case, 5, 60, random);
            let (near, far) = (
                values(case, Channel::NearLimit),
                values(case, Channel::FarLimit),
            );
            let (mut new_near, mut new_far) = (near.clone(), far.clone());
            new_near[first..=last].copy_from_slice(&far[first..=last]);
            new_far[first..=last].copy_from_slice(&near[first..=last]);
            put(case, Channel::NearLimit, new_near);
            put(case, Channel::FarLimit, new_far);
            Expect::of(first, last, &[Channel::NearLimit, Channel::FarLimit])
        },
    },
    Fault {
        check: "hyperfocal-mismatch",
        what: "feet for metres",
        motions: ALL,
        inject: |case, random| {
            // Judged by focus and near limit, where both count from one point.
            let expect = only(Channel::Hyperfocal, case, random, |metres| metres / 0.3048);
            Expect {
                facts: vec!["reference"],
                ..expect
            }
        },
    },
    Fault {
        check: "field-of-view-mismatch",
        what: "the vertical one for the horizontal one",
        motions: ALL,
        inject: |case, random| {
            only(Channel::FieldOfView, case, random, |degrees| {
                2.0 * ((degrees.to_radians() / 2.0).tan() * 18.7 / 24.9)
                    .atan()
                    .to_degrees()
            })
        },
    },
    Fault {
        check: "field-of-view-mismatch",
        what: "radians for degrees",
        motions: ALL,
        inject: |case, random| only(Channel::FieldOfView, case, random, f64::to_radians),
    },
    Fault {
        check: "entrance-pupil-implausible",
        what: "turned to the other side",
        motions: ALL,
        inject: |case, random| only(Channel::EntrancePupilOffset, case, random, |mm| -mm),
    },
    Fault {
        check: "entrance-pupil-implausible",
        what: "metres for millimetres",
        motions: ALL,
        inject: |case, random| only(Channel::EntrancePupilOffset, case, random, |mm| mm / 1000.0),
    },
    Fault {
        check: "image-circle-too-small",
        what: "an image circle of a smaller format",
        motions: ALL,
        inject: |case, random| {
            let circle = Length::from_mm(random.between(12.0, 29.0));
            case.lens.image_circle = Some(circle);
            if let Some(lens) = &mut case.calibration {
                lens.image_circle = Some(circle);
            }
            Expect::head(&["sensor"])
        },
    },
    Fault {
        check: "pixels-not-square",
        what: "pixels of another mode",
        motions: ALL,
        inject: |case, random| {
            case.take.resolution =
                Some(*random.one_of(&[(4096, 2160), (3840, 2160), (5760, 2160), (2880, 1620)]));
            Expect::head(&["sensor", "resolution"])
        },
    },
    Fault {
        check: "distortion-folds-in-frame",
        what: "coefficients of another normalisation",
        motions: ALL,
        inject: |case, random| {
            let k1 = -random.between(8.0, 40.0);
            let expect = only(Channel::DistortionK1, case, random, |_| k1);
            Expect {
                facts: vec!["sensor", "distortion-model"],
                carried: vec![Channel::DistortionK1, Channel::PinholeFocalLength],
                ..expect
            }
        },
    },
    Fault {
        check: "value-outside-encoder-range",
        what: "positions beyond the last count",
        motions: ALL,
        inject: |case, random| {
            let (first, last) = stretch(case, 5, 40, random);
            let by = random.between(0.02, 0.3);
            let mut ring = values(case, Channel::FocusRing);
            ring[first..=last]
                .iter_mut()
                .for_each(|position| *position = 1.0 + by + *position / 100.0);
            put_ring(case, ring);
            Expect::of(first, last, &[Channel::FocusRing])
        },
    },
    Fault {
        check: "ring-jump",
        what: "counts lost and found again",
        motions: &[Static, Creep],
        inject: |case, random| {
            alone(case);
            let (first, last) = stretch(case, 3, 40, random);
            let by = random.between(0.06, 0.15) * if random.either() { 1.0 } else { -1.0 };
            slipped(case, (first, last), by);
            Expect::of(first, last, &[Channel::FocusRing])
        },
    },
    Fault {
        check: "encoder-wrapped",
        what: "the range is passed, and passed back",
        motions: &[Static],
        inject: |case, random| {
            alone(case);
            let (first, last) = stretch(case, 30, 60, random);
            let rest = values(case, Channel::FocusRing)[0];
            let middle = (first + last) as f64 / 2.0;
            let width = (last - first) as f64 / 2.0 + 8.0;
            let mut ring = values(case, Channel::FocusRing);
            // Out and over the end, and back: past 1 for the frames of the stretch.
            let over = |k: f64| {
                rest + (1.0 - rest) * 1.04 * smooth((width + 20.0 - (k - middle).abs()) / 20.0)
            };
            for (k, position) in ring.iter_mut().enumerate() {
                *position += over(k as f64) - rest;
            }
            let passed: Vec<usize> = (0..ring.len()).filter(|k| ring[*k] > 1.0).collect();
            ring.iter_mut()
                .filter(|position| **position > 1.0)
                .for_each(|position| *position -= 1.0);
            put_ring(case, ring);
            case.numbers.remove(&Channel::FocusDistance);
            follow_nothing(case);
            Expect::of(passed[0], passed[passed.len() - 1], &[Channel::FocusRing])
        },
    },
    Fault {
        check: "ring-faster-than-a-motor",
        what: "a pull within two frames",
        motions: &[Static],
        inject: |case, random| {
            let at = random.whole(40, case.frames - 60);
            let ring = values(case, Channel::FocusRing);
            // Degrees a second at 24 fps and 330 degrees of travel: 1860 to 1980.
            let step = random.between(0.235, 0.25) * if ring[0] < 0.5 { 1.0 } else { -1.0 };
            let moved: Vec<f64> = ring
                .iter()
                .enumerate()
                .map(|(k, p)| (p + step * (k as f64 - at as f64).clamp(0.0, 2.0)).clamp(0.0, 1.0))
                .collect();
            put_ring(case, moved);
            follow_nothing(case);
            // The first fast step is known as one by the second.
            Expect::of(at + 2, at + 2, &[Channel::FocusRing])
        },
    },
    Fault {
        check: "homing-sweep-in-take",
        what: "to both stops and back",
        motions: &[Static],
        inject: |case, random| {
            let at = random.whole(20, 60) as f64;
            let ring = values(case, Channel::FocusRing);
            let rest = ring[0];
            let wave = |k: f64| {
                -rest * smooth((k - at) / 14.0) + smooth((k - at - 18.0) / 30.0)
                    - (1.0 - rest) * smooth((k - at - 52.0) / 24.0)
            };
            let moved: Vec<f64> = ring
                .iter()
                .enumerate()
                .map(|(k, p)| (p + wave(k as f64)).clamp(0.0, 1.0))
                .collect();
            // Where it moves by more than a tremor.
            let moving: Vec<usize> = (1..moved.len())
                .filter(|k| (wave(*k as f64) - wave(*k as f64 - 1.0)).abs() > 0.002)
                .collect();
            put_ring(case, moved);
            follow_nothing(case);
            Expect::of(
                moving[0],
                moving[moving.len() - 1] + 1,
                &[Channel::FocusRing],
            )
        },
    },
    Fault {
        check: "readings-held",
        what: "a reading every second to fourth frame",
        motions: &[Racks, Follow],
        inject: |case, random| {
            let every = random.whole(2, 4);
            let ring = values(case, Channel::FocusRing);
            let held: Vec<f64> = (0..ring.len()).map(|k| ring[k - k % every]).collect();
            put_ring(case, held);
            for channel in [
                Channel::FocusDistance,
                Channel::NearLimit,
                Channel::FarLimit,
            ] {
                let read = values(case, channel);
                put(
                    case,
                    channel,
                    (0..read.len()).map(|k| read[k - k % every]).collect(),
                );
            }
            Expect::whole(&[Channel::FocusRing])
        },
    },
    Fault {
        check: "stop-jumps",
        what: "a filter counted into the stop for a while",
        motions: RESTING_IRIS,
        inject: |case, random| {
            alone(case);
            let (first, last) = stretch(case, 5, 60, random);
            let stops = random.between(0.6, 3.0);
            for channel in [Channel::TStop, Channel::FNumber] {
                change(case, channel, (first, last), |number| {
                    number * 2f64.powf(stops / 2.0)
                });
            }
            Expect::of(first, last, &[Channel::TStop, Channel::FNumber])
        },
    },
    Fault {
        check: "ring-frozen",
        what: "the encoder stops while distances go on",
        motions: MOVING,
        inject: |case, random| {
            let long = random.whole(12, 60);
            let Some((first, last)) = in_motion(case, Channel::FocusRing, long, 0.04, random)
            else {
                return Expect::default();
            };
            let mut ring = values(case, Channel::FocusRing);
            let still = ring[first];
            ring[first..=last].fill(still);
            put_ring(case, ring);
            Expect::of(first, last, &[Channel::FocusRing, Channel::FocusDistance])
        },
    },
    Fault {
        check: "value-frozen",
        what: "distances stop while the encoder goes on",
        motions: MOVING,
        inject: |case, random| {
            let long = random.whole(20, 60);
            let Some((first, last)) = in_motion(case, Channel::FocusRing, long, 0.1, random) else {
                return Expect::default();
            };
            let still = values(case, Channel::FocusDistance)[first];
            change(case, Channel::FocusDistance, (first, last), |_| still);
            Expect::of(first, last, &[Channel::FocusRing, Channel::FocusDistance])
        },
    },
    Fault {
        check: "value-frozen",
        what: "the stop stands while the iris ring turns",
        motions: &[Iris],
        inject: |case, _| {
            let last = case.frames - 1;
            change(case, Channel::TStop, (0, last), |_| 5.6);
            change(case, Channel::FNumber, (0, last), |_| 5.2);
            Expect::of(0, last, &[Channel::IrisRing, Channel::TStop])
        },
    },
    Fault {
        check: "frame-number-gap",
        what: "frames lost",
        motions: ALL,
        inject: |case, random| {
            let (at, gone) = (random.whole(30, case.frames - 60), random.whole(1, 20));
            cut(case, at, gone);
            Expect::of(at, at, &[Channel::Frame])
        },
    },
    Fault {
        check: "timecode-gap",
        what: "frames lost",
        motions: ALL,
        inject: |case, random| {
            let (at, gone) = (random.whole(30, case.frames - 60), random.whole(1, 20));
            cut(case, at, gone);
            Expect::of(at, at, &[Channel::Timecode])
        },
    },
    Fault {
        check: "frame-number-repeated",
        what: "one number on two frames",
        motions: ALL,
        inject: |case, random| {
            let at = random.whole(30, case.frames - 30);
            let mut numbers = values(case, Channel::Frame);
            numbers[at] = numbers[at - 1];
            put(case, Channel::Frame, numbers);
            Expect::of(at, at, &[Channel::Frame])
        },
    },
    Fault {
        check: "timecode-repeated",
        what: "one label on two frames",
        motions: ALL,
        inject: |case, random| {
            let at = random.whole(30, case.frames - 30);
            if let Some(labels) = case.texts.get_mut(&Channel::Timecode) {
                labels[at] = labels[at - 1].clone();
            }
            Expect::of(at, at, &[Channel::Timecode])
        },
    },
    Fault {
        check: "frame-number-goes-back",
        what: "numbers of an earlier part",
        motions: ALL,
        inject: |case, random| only(Channel::Frame, case, random, |number| number - 200.0),
    },
    Fault {
        check: "timecode-goes-back",
        what: "labels of an earlier part",
        motions: ALL,
        inject: |case, random| {
            let (first, last) = stretch(case, 5, 18, random);
            let Some(labels) = case.texts.get_mut(&Channel::Timecode) else {
                return Expect::default();
            };
            for k in first..=last {
                labels[k] = labels[k - first].clone();
            }
            Expect::of(first, last, &[Channel::Timecode])
        },
    },
    Fault {
        check: "timecode-impossible",
        what: "a label of second 75",
        motions: ALL,
        inject: |case, random| {
            let at = random.whole(30, case.frames - 30);
            let Some(labels) = case.texts.get_mut(&Channel::Timecode) else {
                return Expect::default();
            };
            let Ok(label) = Timecode::parse(&labels[at]) else {
                return Expect::default();
            };
            let sign = if label.mode == CountingMode::DropFrame {
                ';'
            } else {
                ':'
            };
            labels[at] = format!(
                "{:02}:{:02}:75{sign}{:02}",
                label.hours, label.minutes, label.frames
            );
            Expect::of(at, at, &[Channel::Timecode])
        },
    },
    Fault {
        check: "timecode-rate-mismatch",
        what: "labels of 24 on a take of 30",
        motions: ALL,
        inject: |case, _| {
            case.take.frame_rate = FrameRate::parse("24").ok();
            case.clock(86_400, CountingMode::NonDrop);
            case.take.frame_rate = FrameRate::parse("30").ok();
            case.take.capture_rate = case.take.frame_rate;
            case.take.counting = Some(CountingMode::NonDrop);
            let exposure = vec![0.5 / 30.0; case.frames];
            put(case, Channel::ExposureTime, exposure);
            Expect {
                facts: vec!["frame-rate"],
                ..Expect::of(0, case.frames - 1, &[Channel::Timecode])
            }
        },
    },
    Fault {
        check: "start-timecode-mismatch",
        what: "the head of another take",
        motions: ALL,
        inject: |case, _| {
            let sign = if case.take.counting == Some(CountingMode::DropFrame) {
                ';'
            } else {
                ':'
            };
            case.take.start_timecode = Some(format!("22:13:05{sign}11"));
            Expect {
                facts: vec!["start-timecode"],
                ..Expect::whole(&[Channel::Timecode])
            }
        },
    },
    Fault {
        check: "timecode-passes-midnight",
        what: "a take over midnight",
        motions: ALL,
        inject: |case, random| {
            let Some(rate) = case.take.frame_rate else {
                return Expect::default();
            };
            let mode = case.take.counting.unwrap_or(CountingMode::NonDrop);
            let before = random.whole(20, 200);
            let day = ringmark_quantity::timecode::frames_per_day(rate, mode).unwrap_or(2_073_600);
            case.clock(day - before as u64, mode);
            Expect::of(before, before, &[Channel::Timecode])
        },
    },
    Fault {
        check: "off-speed-take",
        what: "captured at twice the rate",
        motions: &[Static, Creep],
        inject: |case, _| {
            let Some(rate) = case.take.frame_rate else {
                return Expect::default();
            };
            case.take.capture_rate = None;
            let captured = vec![2.0 * rate.as_f64(); case.frames];
            let exposure = vec![0.25 / rate.as_f64(); case.frames];
            put(case, Channel::CaptureRate, captured);
            put(case, Channel::ExposureTime, exposure);
            Expect::whole(&[Channel::CaptureRate])
        },
    },
    Fault {
        check: "frame-rate-not-expected",
        what: "another rate than the show's",
        motions: ALL,
        inject: |case, _| {
            case.expected.frame_rate = FrameRate::parse("48").ok();
            Expect::head(&["frame-rate"])
        },
    },
    Fault {
        check: "ring-distance-mismatch",
        what: "a ring that slipped for a while",
        motions: ALL,
        inject: |case, random| {
            let (first, last) = stretch(case, 5, 60, random);
            // Within what a hand does in a frame, so that it is no jump.
            let factor = random.between(1.08, 1.6);
            change(case, Channel::FocusDistance, (first, last), |metres| {
                metres * factor
            });
            Expect::of(first, last, &[Channel::FocusRing, Channel::FocusDistance])
        },
    },
    Fault {
        check: "ring-direction-reversed",
        what: "counted from the other end",
        motions: &[Racks, Follow, Creep],
        inject: |case, _| {
            let ring = values(case, Channel::FocusRing)
                .iter()
                .map(|position| 1.0 - position)
                .collect();
            put_ring(case, ring);
            Expect::whole(&[Channel::FocusRing, Channel::FocusDistance])
        },
    },
    Fault {
        check: "rings-swapped",
        what: "focus and iris ring exchanged",
        motions: &[Racks, Follow, Creep],
        inject: |case, _| {
            let (focus, iris) = (
                values(case, Channel::FocusRing),
                values(case, Channel::IrisRing),
            );
            put_ring(case, iris);
            put(case, Channel::IrisRing, focus);
            Expect::whole(&[
                Channel::FocusRing,
                Channel::IrisRing,
                Channel::FocusDistance,
            ])
        },
    },
    Fault {
        check: "values-too-coarse",
        what: "ring positions of seven or eight bits",
        motions: &[Racks, Follow, Creep],
        inject: |case, random| {
            let steps = random.between(120.0, 260.0).round();
            let ring = values(case, Channel::FocusRing)
                .iter()
                .map(|position| (position * steps).round() / steps)
                .collect();
            put_ring(case, ring);
            Expect::whole(&[Channel::FocusRing])
        },
    },
    Fault {
        check: "channels-out-of-step",
        what: "distances some frames late or early",
        motions: &[Racks, Follow],
        inject: |case, random| {
            let lag = random.whole(2, 9);
            let distance = values(case, Channel::FocusDistance);
            let late = random.either();
            let last = distance.len() - 1;
            let moved = (0..=last)
                .map(|k| {
                    distance[if late {
                        k.saturating_sub(lag)
                    } else {
                        (k + lag).min(last)
                    }]
                })
                .collect();
            put(case, Channel::FocusDistance, moved);
            Expect::whole(&[Channel::FocusRing, Channel::FocusDistance])
        },
    },
    Fault {
        check: "ring-stop-mismatch",
        what: "stops of another setting",
        motions: ALL,
        inject: |case, random| {
            let (first, last) = stretch(case, 5, 60, random);
            let stops = random.between(0.4, 2.0);
            for channel in [Channel::TStop, Channel::FNumber] {
                change(case, channel, (first, last), |number| {
                    number * 2f64.powf(stops / 2.0)
                });
            }
            Expect::of(first, last, &[Channel::IrisRing, Channel::TStop])
        },
    },
    Fault {
        check: "ring-focal-length-mismatch",
        what: "focal lengths with an extender",
        motions: &[Zoom],
        inject: |case, random| {
            let (first, last) = stretch(case, 5, 60, random);
            let factor = random.between(1.06, 1.2);
            for channel in [Channel::NominalFocalLength, Channel::PinholeFocalLength] {
                change(case, channel, (first, last), |mm| mm * factor);
            }
            case.numbers.remove(&Channel::FieldOfView);
            Expect::of(
                first,
                last,
                &[Channel::ZoomRing, Channel::NominalFocalLength],
            )
        },
    },
    Fault {
        check: "focal-lengths-disagree",
        what: "a crop counted into the pinhole one",
        motions: &[Zoom],
        inject: |case, random| {
            let (first, last) = stretch(case, 5, 60, random);
            let factor = random.between(1.32, 1.38);
            change(case, Channel::PinholeFocalLength, (first, last), |mm| {
                mm * factor
            });
            case.numbers.remove(&Channel::FieldOfView);
            Expect::of(
                first,
                last,
                &[Channel::NominalFocalLength, Channel::PinholeFocalLength],
            )
        },
    },
    Fault {
        check: "exposure-time-mismatch",
        what: "exposure of twice the rate",
        motions: ALL,
        inject: |case, random| {
            let expect = only(Channel::ExposureTime, case, random, |seconds| seconds / 2.0);
            Expect {
                carried: vec![Channel::ExposureTime, Channel::ShutterAngle],
                facts: vec!["frame-rate"],
                ..expect
            }
        },
    },
    Fault {
        check: "encoder-range-differs",
        what: "counted from another end stop",
        motions: ALL,
        inject: |case, random| {
            let low = random.between(300.0, 4000.0).round();
            let focus = case
                .calibration
                .iter_mut()
                .flat_map(|lens| &mut lens.rings)
                .next();
            if let Some(ring) = focus {
                ring.encoder = Some(EncoderRange { low, high: 65535.0 });
            }
            Expect::head(&["focus-encoder"])
        },
    },
    Fault {
        check: "distance-references-differ",
        what: "from the entrance pupil",
        motions: ALL,
        inject: |case, _| {
            case.reference = DistanceReference::EntrancePupil;
            Expect {
                facts: vec!["reference"],
                ..Expect::whole(&[Channel::FocusDistance])
            }
        },
    },
    Fault {
        check: "rangefinder-lags",
        what: "late by some frames",
        motions: &[Follow],
        inject: |case, random| {
            case.with_rangefinder(FINDER, random.whole(3, 9));
            Expect::whole(&[Channel::FocusRing, Channel::RangefinderDistance])
        },
    },
    Fault {
        check: "rangefinder-offset-likely",
        what: "front of the rangefinder stated wrong",
        motions: &[Follow],
        inject: |case, random| {
            case.with_rangefinder(FINDER + random.between(0.1, 0.3), 0);
            Expect::whole(&[Channel::FocusRing, Channel::RangefinderDistance])
        },
    },
    Fault {
        check: "rangefinder-disagrees",
        what: "focus stays behind the subject",
        motions: &[Follow],
        inject: |case, random| {
            case.with_rangefinder(FINDER, 0);
            let (first, last) = stretch(case, 30, 60, random);
            let focus = values(case, Channel::FocusDistance);
            let mut seen = values(case, Channel::RangefinderDistance);
            for k in first..=last {
                let edge = (k - first + 1).min(last - k + 1) as f64;
                // Dioptres, reached within four frames: a subject walks, it does not jump.
                let apart = 0.3 * (edge / 4.0).min(1.0);
                seen[k] = 1.0 / (1.0 / focus[k] + apart) - FINDER;
            }
            put(case, Channel::RangefinderDistance, seen);
            Expect {
                frames: None,
                ..Expect::of(
                    first,
                    last,
                    &[Channel::FocusRing, Channel::RangefinderDistance],
                )
            }
        },
    },
    Fault {
        check: "lens-not-expected",
        what: "a lens that nobody prepared",
        motions: ALL,
        inject: |case, _| {
            case.expected.lenses = vec![LensPattern {
                model: Some("Norn 32".to_owned()),
                ..LensPattern::default()
            }];
            Expect {
                facts: vec!["lens-model"],
                ..Expect::default()
            }
        },
    },
    Fault {
        check: "camera-not-expected",
        what: "a camera that nobody prepared",
        motions: ALL,
        inject: |case, _| {
            case.expected.cameras = vec![CameraPattern {
                model: Some("Orrin S2".to_owned()),
                ..CameraPattern::default()
            }];
            Expect::head(&["camera-model"])
        },
    },
    Fault {
        check: "lens-changes-in-take",
        what: "another serial number in a stretch",
        motions: ALL,
        inject: |case, random| {
            let (first, last) = stretch(case, 20, 60, random);
            if let Some(names) = case.texts.get_mut(&Channel::Lens) {
                names[first..=last]
                    .iter_mut()
                    .for_each(|name| *name = name.replace("1207", "1208"));
            }
            Expect::of(first, last, &[Channel::Lens])
        },
    },
    Fault {
        check: "lens-differs-from-take",
        what: "the calibration of another lens",
        motions: ALL,
        inject: |case, _| {
            if let Some(lens) = &mut case.calibration {
                lens.serial = Some("H-1311".to_owned());
            }
            Expect {
                carried: vec![Channel::Lens],
                ..Expect::default()
            }
        },
    },
    Fault {
        check: "serial-number-placeholder",
        what: "zeros for the number of the camera",
        motions: ALL,
        inject: |case, random| {
            let all = ["0000", "123456", "N/A", "unknown", "xxxxxx", "TBD"];
            case.take.camera.serial = Some((*random.one_of(&all)).to_owned());
            Expect::head(&["camera-serial"])
        },
    },
    Fault {
        check: "name-unreadable",
        what: "letters encoded twice",
        motions: ALL,
        inject: |case, _| {
            text(case, Channel::Lens, "Halden Ã\u{98}st 50 #H-1207");
            alone(case);
            Expect {
                carried: vec![Channel::Lens],
                ..Expect::default()
            }
        },
    },
    Fault {
        check: "frame-rate-missing",
        what: "no frame rate",
        motions: ALL,
        inject: |case, _| {
            case.take.frame_rate = None;
            case.take.capture_rate = None;
            Expect {
                facts: vec!["no frame-rate"],
                ..Expect::whole(&[Channel::Timecode])
            }
        },
    },
    Fault {
        check: "lens-unnamed",
        what: "no name of the lens",
        motions: ALL,
        inject: |case, _| {
            case.expected.lenses = vec![LensPattern {
                model: Some("Halden 50".to_owned()),
                ..LensPattern::default()
            }];
            case.texts.remove(&Channel::Lens);
            (case.lens.maker, case.lens.model, case.lens.serial) = (None, None, None);
            Expect::default()
        },
    },
    Fault {
        check: "calibration-missing",
        what: "ring positions alone",
        motions: ALL,
        inject: |case, _| {
            alone(case);
            follow_nothing(case);
            case.numbers.remove(&Channel::FocusDistance);
            Expect {
                gone: vec![Channel::FocusDistance],
                ..Expect::whole(&[Channel::FocusRing])
            }
        },
    },
    Fault {
        check: "channel-mostly-missing",
        what: "distances in a third of the frames",
        motions: ALL,
        inject: |case, random| {
            let first = random.whole(20, case.frames / 3);
            let last = case.frames - 1;
            change(case, Channel::FocusDistance, (first, last), |_| f64::NAN);
            Expect::of(first, last, &[Channel::FocusDistance])
        },
    },
    Fault {
        check: "channel-all-zero",
        what: "entrance pupil zero throughout",
        motions: ALL,
        inject: |case, _| {
            let last = case.frames - 1;
            change(case, Channel::EntrancePupilOffset, (0, last), |_| 0.0);
            Expect::of(0, last, &[Channel::EntrancePupilOffset])
        },
    },
    Fault {
        check: "distortion-model-missing",
        what: "coefficients without their meaning",
        motions: ALL,
        inject: |case, _| {
            case.take.distortion_model = None;
            Expect::whole(&[Channel::DistortionK1])
        },
    },
    Fault {
        check: "calibration-outdated",
        what: "older than the show allows",
        motions: ALL,
        inject: |case, _| {
            case.expected.calibrated_since = Some("2026-03-01".to_owned());
            let day = ExtraValue::Text(ringmark_model::TextForm::Text, "2025-11-20".to_owned());
            let extra = ringmark_model::Extra {
                name: "calibrated".to_owned(),
                value: day,
            };
            case.calibration
                .iter_mut()
                .for_each(|lens| lens.extras.push(extra.clone()));
            Expect::default()
        },
    },
];

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
