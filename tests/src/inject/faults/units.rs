//! Values in another unit, and none at all.

use ringmark_model::Channel;

use super::{ALL, Expect, Fault, alone, change, only};

pub(super) const FAULTS: &[Fault] = &[
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
];
