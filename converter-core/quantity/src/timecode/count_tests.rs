#![allow(clippy::unwrap_used, missing_docs)]

use proptest::prelude::*;

use super::*;

fn rate(num: u32, den: u32) -> FrameRate {
    FrameRate::new(num, den).unwrap()
}

fn label(text: &str) -> Timecode {
    Timecode::parse(text).unwrap()
}

/// Every rate and mode that has labels.
fn countings() -> Vec<(FrameRate, CountingMode)> {
    let mut all: Vec<_> = [
        (24_000, 1001),
        (24, 1),
        (25, 1),
        (30_000, 1001),
        (30, 1),
        (48_000, 1001),
        (48, 1),
        (50, 1),
        (60_000, 1001),
        (60, 1),
    ]
    .map(|(num, den)| (rate(num, den), CountingMode::NonDrop))
    .into();
    all.extend([30_000, 60_000].map(|num| (rate(num, 1001), CountingMode::DropFrame)));
    all
}

// Source: opentimelineio 0.18.1 and timecode 1.5.1 (both PyPI), which agree on every row; seconds are frame * den / num.
#[test]
fn worked_values() {
    for (text, num, den, frame, seconds) in [
        ("00:00:59;29", 30_000, 1001, 1799, 60.026633),
        ("00:01:00;02", 30_000, 1001, 1800, 60.060000),
        ("00:09:59;29", 30_000, 1001, 17_981, 599.966033),
        ("00:10:00;00", 30_000, 1001, 17_982, 599.999400),
        ("01:00:00;00", 30_000, 1001, 107_892, 3599.996400),
        ("23:59:59;29", 30_000, 1001, 2_589_407, 86_399.880233),
        ("00:00:59;59", 60_000, 1001, 3599, 60.043317),
        ("00:01:00;04", 60_000, 1001, 3600, 60.060000),
        ("00:10:00;00", 60_000, 1001, 35_964, 599.999400),
        ("01:00:00;00", 60_000, 1001, 215_784, 3599.996400),
        ("23:59:59;59", 60_000, 1001, 5_178_815, 86_399.896917),
        ("01:00:00:00", 24_000, 1001, 86_400, 3603.600000),
        ("01:00:00:00", 24, 1, 86_400, 3600.0),
        ("10:00:00:00", 25, 1, 900_000, 36_000.0),
        ("01:00:00:00", 30_000, 1001, 108_000, 3603.600000),
        ("01:00:00:00", 48_000, 1001, 172_800, 3603.600000),
        ("01:00:00:00", 48, 1, 172_800, 3600.0),
        ("01:00:00:00", 50, 1, 180_000, 3600.0),
        ("01:00:00:00", 60, 1, 216_000, 3600.0),
        ("23:59:59:23", 24, 1, 2_073_599, 86_399.958333),
        ("23:59:59:59", 60, 1, 5_183_999, 86_399.983333),
    ] {
        let (rate, label) = (rate(num, den), label(text));
        assert_eq!(label.to_frame(rate), Ok(frame), "{text} at {rate}");
        assert_eq!(
            Timecode::from_frame(frame, rate, label.mode),
            Ok(label),
            "{frame} at {rate}"
        );
        assert!(
            (rate.seconds(frame) - seconds).abs() < 5e-7,
            "{text} at {rate}"
        );
    }
}

/// Counts the labels of a day one by one, as a clock would, and compares every one of them.
#[test]
fn every_label_of_a_drop_frame_day() {
    for (rate, labels, dropped, total) in [
        (rate(30_000, 1001), 30, 2, 2_589_408),
        (rate(60_000, 1001), 60, 4, 5_178_816),
    ] {
        let mode = CountingMode::DropFrame;
        let mut frame = 0;
        for hours in 0..24 {
            for minutes in 0..60 {
                for seconds in 0..60 {
                    for frames in 0..labels {
                        let label = Timecode {
                            hours,
                            minutes,
                            seconds,
                            frames,
                            mode,
                        };
                        if minutes % 10 != 0 && seconds == 0 && frames < dropped {
                            let refused = label.to_frame(rate);
                            assert!(
                                matches!(refused, Err(TimecodeError::Dropped { .. })),
                                "{label}"
                            );
                            continue;
                        }
                        assert_eq!(label.to_frame(rate), Ok(frame), "{label}");
                        assert_eq!(Timecode::from_frame(frame, rate, mode), Ok(label));
                        frame += 1;
                    }
                }
            }
        }
        assert_eq!(frame, total);
        assert_eq!(frames_per_day(rate, mode), Ok(total));
    }
}

#[test]
fn days_wrap() {
    for (rate, mode) in countings() {
        let day = frames_per_day(rate, mode).unwrap();
        let last = Timecode::from_frame(day - 1, rate, mode).unwrap();
        assert_eq!((last.hours, last.minutes, last.seconds), (23, 59, 59));
        assert_eq!(last.frames, rate.nominal() - 1);
        assert_eq!(last.to_frame(rate), Ok(day - 1));
        assert_eq!(
            Timecode::from_frame(day, rate, mode),
            Timecode::from_frame(0, rate, mode)
        );
        assert!(Timecode::from_frame(u64::MAX, rate, mode).is_ok());
    }
}

#[test]
fn labels_that_do_not_exist_say_why_and_what_comes_next() {
    let (film, drop30, drop60) = (rate(24, 1), rate(30_000, 1001), rate(60_000, 1001));
    for (text, rate, reason, next) in [
        ("24:00:00:00", film, "hours run", "00:00:00:00"),
        ("10:60:00:00", film, "minutes run", "11:00:00:00"),
        ("23:60:00:00", film, "minutes run", "00:00:00:00"),
        ("10:59:60:00", film, "seconds run", "11:00:00:00"),
        ("10:00:60;00", drop30, "seconds run", "10:01:00;02"),
        ("10:00:00:24", film, "from 00 to 23", "10:00:01:00"),
        ("23:59:59:24", film, "from 00 to 23", "00:00:00:00"),
        ("00:00:59;30", drop30, "from 00 to 29", "00:01:00;02"),
        ("00:09:59;30", drop30, "from 00 to 29", "00:10:00;00"),
        (
            "00:01:00;00",
            drop30,
            "skips frames 00 to 01",
            "00:01:00;02",
        ),
        (
            "00:01:00;01",
            drop30,
            "skips frames 00 to 01",
            "00:01:00;02",
        ),
        (
            "11:59:00;03",
            drop60,
            "skips frames 00 to 03",
            "11:59:00;04",
        ),
        ("10:00:00;00", film, "not at 24", "10:00:00:00"),
        (
            "10:00:00;00",
            rate(24_000, 1001),
            "not at 24000/1001",
            "10:00:00:00",
        ),
        (
            "00:00:00:00",
            rate(120, 1),
            "120 fps has no timecode labels",
            "frame numbers",
        ),
        (
            "00:00:00:00",
            rate(25, 2),
            "25/2 fps has no timecode labels",
            "frame numbers",
        ),
    ] {
        let error = label(text).check(rate).unwrap_err();
        let said = error.to_string();
        assert!(said.contains(reason) && said.contains(next), "{said}");
        assert_eq!(label(text).to_frame(rate), Err(error));
    }
    assert_eq!(label("00:10:00;00").check(drop30), Ok(()));
    assert_eq!(label("00:01:00:00").check(drop30), Ok(()));
}

#[test]
fn counting_drop_frame_where_there_is_none() {
    let said = Timecode::from_frame(0, rate(25, 1), CountingMode::DropFrame).unwrap_err();
    assert_eq!(said, TimecodeError::NoDropFrameRate { rate: rate(25, 1) });
    assert!(frames_per_day(rate(24_000, 1001), CountingMode::DropFrame).is_err());
    assert!(frames_per_day(rate(96, 1), CountingMode::NonDrop).is_err());
}

proptest! {
    #[test]
    fn frame_to_label_and_back(index in 0..12usize, frame in any::<u64>()) {
        let (rate, mode) = countings()[index];
        let label = Timecode::from_frame(frame, rate, mode).unwrap();
        prop_assert_eq!(label.check(rate), Ok(()));
        prop_assert_eq!(label.to_frame(rate).unwrap(), frame % frames_per_day(rate, mode).unwrap());
    }

    #[test]
    fn any_fields_are_counted_or_refused(hours in any::<u32>(), minutes in any::<u32>(), seconds in any::<u32>(), frames in any::<u32>(), index in 0..12usize) {
        let (rate, mode) = countings()[index];
        let label = Timecode { hours, minutes, seconds, frames, mode };
        if let Err(error) = label.check(rate) {
            prop_assert!(!error.to_string().is_empty());
        }
    }

    /// The label named as next exists and counts no earlier than the wrong one would.
    #[test]
    fn the_next_label_exists(hours in 0..25u32, minutes in 0..61u32, seconds in 0..61u32, frames in 0..62u32, index in 0..12usize) {
        let (rate, mode) = countings()[index];
        let label = Timecode { hours, minutes, seconds, frames, mode };
        match label.check(rate) {
            Err(
                TimecodeError::Hours { next, .. }
                | TimecodeError::Minutes { next, .. }
                | TimecodeError::Seconds { next, .. }
                | TimecodeError::Frames { next, .. }
                | TimecodeError::Dropped { next, .. },
            ) => prop_assert_eq!(next.check(rate), Ok(())),
            other => prop_assert_eq!(other, Ok(())),
        }
    }
}
