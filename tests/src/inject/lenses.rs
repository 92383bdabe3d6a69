//! Calibrations with known marks, and faults in them. Faults of single marks with their repairs are measured apart, in
//! `cargo run --release -p ringmark-checks --example mark_faults`.

use ringmark_checks::Expected;
use ringmark_model::{Axis, Lens, Mark};
use ringmark_quantity::{FNumber, Unit};

use super::clean::{Case, Motion};
use super::random::Random;

/// A calibration, and what the show expects of it.
#[derive(Debug, Clone)]
pub struct LensCase {
    /// The lens.
    pub lens: Lens,
    /// What the show expects.
    pub expected: Expected,
}

/// A fault of a calibration.
pub struct LensFault {
    /// The check that is to find it.
    pub check: &'static str,
    /// What is wrong, in a few words.
    pub what: &'static str,
    /// Puts it in.
    pub inject: fn(&mut LensCase, &mut Random),
}

/// A calibration without a fault.
pub fn clean(random: &mut Random) -> LensCase {
    let motion = if random.either() {
        Motion::Zoom
    } else {
        Motion::Static
    };
    let lens = Case::clean(motion, random).calibration.unwrap_or_default();
    LensCase {
        lens,
        expected: Expected::default(),
    }
}

fn focus(case: &mut LensCase) -> &mut Vec<Mark> {
    marks(case, Axis::Focus)
}

fn marks(case: &mut LensCase, axis: Axis) -> &mut Vec<Mark> {
    let at = case
        .lens
        .rings
        .iter()
        .position(|ring| ring.axis == axis)
        .unwrap_or_default();
    &mut case.lens.rings[at].marks
}

/// A mark that is neither the first two nor the last two.
fn middle(case: &mut LensCase, random: &mut Random) -> usize {
    let count = focus(case).len();
    random.whole(2, count - 3)
}

/// All of them.
pub const LENS_FAULTS: &[LensFault] = &[
    LensFault {
        check: "ring-positions-not-monotonic",
        what: "positions of two neighbours exchanged",
        inject: |case, random| {
            let at = middle(case, random);
            let all = focus(case);
            let position = all[at].position;
            all[at].position = all[at + 1].position;
            all[at + 1].position = position;
        },
    },
    LensFault {
        check: "mark-repeated",
        what: "two marks at one position",
        inject: |case, random| {
            let at = middle(case, random);
            let all = focus(case);
            all[at].position = all[at - 1].position;
        },
    },
    LensFault {
        check: "infinity-mark-missing",
        what: "no mark at infinity",
        inject: |case, _| {
            focus(case).pop();
        },
    },
    LensFault {
        check: "mark-off-the-curve",
        what: "a position read wrong, order kept",
        inject: |case, random| {
            let at = middle(case, random);
            let all = focus(case);
            let room = (all[at + 1].position - all[at].position)
                .min(all[at].position - all[at - 1].position);
            all[at].position +=
                room * random.between(0.55, 0.8) * if random.either() { 1.0 } else { -1.0 };
        },
    },
    LensFault {
        check: "marks-shifted",
        what: "from one mark on 2 to 4 % of travel too far",
        inject: |case, random| {
            let at = middle(case, random);
            let by = random.between(0.02, 0.04);
            focus(case)[at..]
                .iter_mut()
                .for_each(|mark| mark.position += by);
        },
    },
    LensFault {
        check: "scale-in-other-unit",
        what: "a scale in feet declared in metres",
        inject: |case, _| focus(case).iter_mut().for_each(|mark| mark.value /= 0.3048),
    },
    LensFault {
        check: "mark-below-close-focus",
        what: "the first mark nearer than the lens focuses",
        inject: |case, random| {
            let by = random.between(0.55, 0.85);
            focus(case)[0].value *= by;
        },
    },
    LensFault {
        check: "mark-outside-lens-range",
        what: "a stop wider than the widest",
        inject: |case, random| {
            let t = random.between(1.2, 2.3);
            marks(case, Axis::Iris)[0].value = t;
        },
    },
    LensFault {
        check: "marks-too-few",
        what: "three marks on the focus ring",
        inject: |case, _| {
            let all = focus(case);
            let kept = [
                all[0].clone(),
                all[all.len() / 2].clone(),
                all[all.len() - 1].clone(),
            ];
            *all = kept.to_vec();
        },
    },
    LensFault {
        check: "value-outside-encoder-range",
        what: "a position beyond the end",
        inject: |case, random| {
            let by = random.between(0.02, 0.2);
            if let Some(mark) = focus(case).last_mut() {
                mark.position = 1.0 + by;
            }
        },
    },
    LensFault {
        check: "t-stop-below-f-number",
        what: "widest stops exchanged",
        inject: |case, random| {
            let f = random.between(3.0, 4.0);
            case.lens.widest_f = FNumber::new(f).ok();
        },
    },
    LensFault {
        check: "serial-number-placeholder",
        what: "zeros for a number",
        inject: |case, random| {
            let all = ["0000", "123456", "N/A", "unknown", "xxxxxx", "TBD"];
            case.lens.serial = Some((*random.one_of(&all)).to_owned());
        },
    },
    LensFault {
        check: "name-unreadable",
        what: "a maker encoded twice",
        inject: |case, _| case.lens.maker = Some("Halden Ã\u{98}ptikk".to_owned()),
    },
    LensFault {
        check: "lens-name-differs-from-data",
        what: "the name of another focal length",
        inject: |case, random| {
            let name =
                *random.one_of(&["Halden 21", "Halden 100 mm", "Halden 18-28mm", "Halden 135"]);
            case.lens.model = Some(name.to_owned());
        },
    },
    LensFault {
        check: "calibration-outdated",
        what: "marks older than the show allows",
        inject: |case, _| {
            case.expected.calibrated_since = Some("2026-03-01".to_owned());
            let day = ringmark_model::ExtraValue::Text(
                ringmark_model::TextForm::Text,
                "2025-11-20".to_owned(),
            );
            case.lens.extras.push(ringmark_model::Extra {
                name: "calibrated".to_owned(),
                value: day,
            });
        },
    },
];

/// The lens as a file of the calibration has it: the unit of the scale is that of its marks.
pub fn engraved(lens: &Lens) -> Lens {
    let mut lens = lens.clone();
    for ring in &mut lens.rings {
        if ring.axis == Axis::Focus {
            ring.source_unit = Unit::Metre;
        }
    }
    lens
}
