//! What one channel says against another.

use ringmark_model::{Channel, EncoderRange};
use ringmark_quantity::DistanceReference;

use super::Motion::{Creep, Follow, Iris, Racks, Zoom};
use super::{ALL, Expect, Fault, MOVING, change, in_motion, only, put, put_ring, stretch, values};
use crate::inject::clean::FINDER;

pub(super) const FAULTS: &[Fault] = &[
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
];
