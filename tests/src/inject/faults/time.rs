//! Frame numbers, time code and rates.

use ringmark_model::Channel;
use ringmark_quantity::{CountingMode, FrameRate, Timecode};

use super::Motion::{Creep, Static};
use super::{ALL, Expect, Fault, cut, only, put, stretch, values};

pub(super) const FAULTS: &[Fault] = &[
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
];
