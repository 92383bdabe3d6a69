//! What a lens cannot show.

use ringmark_model::Channel;
use ringmark_quantity::Length;

use super::Motion::Zoom;
use super::{ALL, Expect, Fault, PRIMES, RESTING_IRIS, alone, change, only, put, stretch, values};

pub(super) const FAULTS: &[Fault] = &[
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
];
