//! What is not there.

use ringmark_checks::LensPattern;
use ringmark_model::Channel;

use super::{ALL, Expect, Fault, alone, change, follow_nothing};

pub(super) const FAULTS: &[Fault] = &[
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
        check: "name-misspelt",
        what: "a line above the table with a letter changed",
        motions: ALL,
        inject: |case, _| {
            let model = case.take.distortion_model.take().unwrap_or_default();
            case.take.extras.push(ringmark_model::Extra {
                name: "distorsion model".to_owned(),
                value: ringmark_model::ExtraValue::Text(ringmark_model::TextForm::Text, model),
            });
            Expect::head(&["extras"])
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
];
