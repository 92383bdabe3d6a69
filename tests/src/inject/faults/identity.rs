//! Which lens, and which camera.

use ringmark_checks::{CameraPattern, LensPattern};
use ringmark_model::{Channel, ExtraValue};

use super::{ALL, Expect, Fault, alone, stretch, text};

pub(super) const FAULTS: &[Fault] = &[
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
