//! What rings, motors and encoders do.

use ringmark_model::Channel;

use super::Motion::{Creep, Follow, Racks, Static};
use super::{
    ALL, Expect, Fault, MOVING, RESTING_IRIS, alone, change, follow_nothing, in_motion, put,
    put_ring, slipped, stretch, values,
};
use crate::inject::clean::smooth;

pub(super) const FAULTS: &[Fault] = &[
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
];
