//! Calibrations with known marks, and faults in them. On how many lenses faults of marks get the right name and the right
//! repair is measured apart, in `cargo run --release -p ringmark-checks --example mark_faults`.

use ringmark_checks::Expected;
use ringmark_model::{Axis, Lens, Mark, Ring};
use ringmark_quantity::{FNumber, Length, Unit};

use super::clean::{Case, Motion, Thin};
use super::random::Random;

/// A calibration, and what the show expects of it.
#[derive(Debug, Clone)]
pub struct LensCase {
    /// The lens.
    pub lens: Lens,
    /// The law of its focus ring.
    pub thin: Thin,
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
    let case = Case::clean(motion, random);
    LensCase {
        lens: case.calibration.unwrap_or_default(),
        thin: case.thin,
        expected: Expected::default(),
    }
}

fn focus(case: &mut LensCase) -> &mut Vec<Mark> {
    marks(case, Axis::Focus)
}

fn marks(case: &mut LensCase, axis: Axis) -> &mut Vec<Mark> {
    &mut ring(case, axis).marks
}

fn ring(case: &mut LensCase, axis: Axis) -> &mut Ring {
    let rings = &mut case.lens.rings;
    let at = rings.iter().position(|ring| ring.axis == axis);
    &mut rings[at.unwrap_or_default()]
}

/// The focus ring with marks in feet and inches, each inch typed as a decimal.
fn type_inches_as_decimals(case: &mut LensCase) {
    const ENGRAVED: [(u32, u32); 16] = [
        (1, 8),
        (1, 10),
        (2, 0),
        (2, 3),
        (2, 6),
        (2, 10),
        (3, 2),
        (3, 6),
        (3, 10),
        (4, 6),
        (5, 2),
        (5, 10),
        (6, 10),
        (8, 10),
        (13, 4),
        (23, 4),
    ];
    let thin = case.thin;
    let mark = |position: f64, value: f64, text: String| Mark {
        position: (position * 1e4).round() / 1e4,
        raw: None,
        value,
        engraved: Some(text),
        place: None,
    };
    let near = ENGRAVED.into_iter().filter_map(|(feet, inches)| {
        let metres = f64::from(12 * feet + inches) * 0.0254;
        // 10 and 11 have two digits: 5'10" becomes 5.10.
        let decimals = f64::from(inches) / if inches < 10 { 10.0 } else { 100.0 };
        let typed = (f64::from(feet) + decimals) * 0.3048;
        let text = match inches {
            0 => feet.to_string(),
            _ => format!("{feet}.{inches}"),
        };
        (metres >= thin.close).then(|| mark(thin.position(metres), typed, text))
    });
    let ring = ring(case, Axis::Focus);
    ring.source_unit = Unit::Foot;
    ring.marks = near
        .chain([mark(1.0, f64::INFINITY, "inf".to_owned())])
        .collect();
    if let Some(first) = ring.marks.first() {
        case.lens.close_focus = Some(Length::from_metres(thin.distance(first.position)));
    }
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
        check: "ring-values-not-monotonic",
        what: "marks of two neighbours exchanged",
        inject: |case, random| {
            let at = middle(case, random);
            let all = focus(case);
            let value = all[at].value;
            all[at].value = all[at + 1].value;
            all[at + 1].value = value;
        },
    },
    LensFault {
        check: "close-focus-mark-missing",
        what: "no mark at close focus",
        inject: |case, _| {
            focus(case).remove(0);
        },
    },
    LensFault {
        check: "labels-shifted",
        what: "a mark left out while positions were typed",
        inject: |case, random| {
            let at = middle(case, random).min(4);
            let all = focus(case);
            for k in at..all.len() - 1 {
                all[k].value = all[k + 1].value;
            }
            all.pop();
        },
    },
    LensFault {
        check: "scale-reversed",
        what: "positions in the order of another list",
        inject: |case, _| {
            let all = focus(case);
            let positions: Vec<f64> = all.iter().rev().map(|mark| mark.position).collect();
            all.iter_mut()
                .zip(positions)
                .for_each(|(mark, position)| mark.position = position);
        },
    },
    LensFault {
        check: "feet-inches-as-decimals",
        what: "5'6\" typed as 5.6 all over the scale",
        inject: |case, _| type_inches_as_decimals(case),
    },
    LensFault {
        check: "infinity-at-end-stop",
        what: "infinity marked at the end of the travel",
        inject: |case, random| {
            let share = 1.0 - random.between(0.02, 0.05);
            focus(case)
                .iter_mut()
                .filter(|mark| mark.value.is_finite())
                .for_each(|mark| mark.position *= share);
        },
    },
    LensFault {
        check: "scale-from-lens-front",
        what: "distances from the front of the lens",
        inject: |case, random| {
            let length = random.whole(95, 155) as f64 / 1000.0;
            focus(case).iter_mut().for_each(|mark| mark.value -= length);
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
