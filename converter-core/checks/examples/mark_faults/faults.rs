//! Faults put into clean scales.

use ringmark_model::{Lens, Mark, Ring};
use ringmark_quantity::{Length, Unit, parse};

use crate::lens::{Dice, Made, text};

/// What a judge expects: the check that names it, the mark, and the true values of the ring where a repair should
/// restore them.
pub struct Faulty {
    pub lens: Lens,
    pub named: &'static [&'static str],
    /// Indices in the faulty ring of which one must be named; empty for whole scales.
    pub marks: Vec<usize>,
    /// Values and positions as they were; `None` where no repair can be known.
    pub truth: Option<Vec<(f64, f64)>>,
}

pub type Class = (&'static str, fn(&Made, &mut Dice) -> Option<Faulty>);

pub const CLASSES: &[Class] = &[
    ("one mark in the other unit", other_unit),
    ("feet.inches, one mark", feet_inches_one),
    ("feet.inches, whole table", feet_inches_all),
    ("digits swapped", digits),
    ("decimal slip", decimal),
    ("position of the neighbour", neighbour),
    ("two positions exchanged", exchanged),
    ("labels shifted by one", labels),
    ("position off by 45 % of a gap", off),
    ("duplicate mark", duplicate),
    ("infinity missing", no_infinity),
    ("infinity at the hard stop", hard_stop),
    ("measured from the front", front),
    ("positions reversed", reversed),
    ("whole scale in the other unit", scale_unit),
    ("ring slipped", slipped),
    ("two marks off", two),
];

const OFF: &str = "mark-off-the-curve";
const VALUES: &str = "ring-values-not-monotonic";
const POSITIONS: &str = "ring-positions-not-monotonic";

fn ring(made: &Made) -> Ring {
    made.lens.rings[0].clone()
}

fn faulty(
    made: &Made,
    ring: Ring,
    named: &'static [&'static str],
    marks: Vec<usize>,
    repairable: bool,
) -> Option<Faulty> {
    let truth = repairable.then(|| {
        made.lens.rings[0]
            .marks
            .iter()
            .map(|m| (m.position, m.value))
            .collect()
    });
    let mut lens = made.lens.clone();
    lens.rings[0] = ring;
    Some(Faulty {
        lens,
        named,
        marks,
        truth,
    })
}

fn inner(ring: &Ring, dice: &mut Dice) -> usize {
    1 + dice.below(ring.marks.len() - 2)
}

/// Writes a text into a mark, read in the unit of the scale.
fn write(mark: &mut Mark, typed: &str, unit: Unit) -> Option<()> {
    let number = match unit {
        Unit::FeetInches => {
            let (number, unit) = parse::length(typed, unit).ok()?;
            Length::of(number, unit).ok()?
        }
        _ => Length::of(typed.parse().ok()?, unit).ok()?,
    };
    mark.value = number.metres();
    mark.engraved = Some(typed.to_owned());
    (mark.value > 0.0).then_some(())
}

fn other_unit(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let at = inner(&ring, dice);
    let (metres, unit) = (ring.marks[at].value, ring.source_unit);
    match unit {
        Unit::Metre => write(
            &mut ring.marks[at],
            &format!("{:.2}", metres / 0.3048),
            unit,
        )?,
        Unit::Centimetre => write(&mut ring.marks[at], &text(metres, Unit::Metre), unit)?,
        Unit::Foot => write(&mut ring.marks[at], &format!("{metres:.2}"), unit)?,
        _ => {
            // Typed as a bare number of metres, which a reader takes for feet.
            ring.marks[at].value = (metres * 100.0).round() / 100.0 * 0.3048;
            ring.marks[at].engraved = Some(format!("{metres:.2}"));
        }
    }
    faulty(made, ring, &[OFF, VALUES], vec![at], true)
}

fn typed(inches: f64) -> Option<String> {
    let inches = inches.round() as u32;
    (!inches.is_multiple_of(12)).then(|| format!("{}.{}", inches / 12, inches % 12))
}

fn feet_inches_one(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let at = inner(&ring, dice);
    let typed = typed(ring.marks[at].value / 0.0254)?;
    (ring.source_unit == Unit::Foot).then_some(())?;
    write(&mut ring.marks[at], &typed, Unit::Foot)?;
    faulty(made, ring, &[OFF, VALUES], vec![at], true)
}

fn feet_inches_all(made: &Made, _: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    matches!(ring.source_unit, Unit::Foot | Unit::FeetInches).then_some(())?;
    ring.source_unit = Unit::Foot;
    let mut changed = 0;
    for mark in ring.marks.iter_mut().filter(|mark| mark.value.is_finite()) {
        let inches = (mark.value / 0.0254).round();
        changed += usize::from(inches % 12.0 != 0.0);
        write(
            mark,
            &typed(inches).unwrap_or_else(|| format!("{}", inches / 12.0)),
            Unit::Foot,
        )?;
    }
    (changed >= 3).then_some(())?;
    faulty(made, ring, &["feet-inches-as-decimals"], vec![], true)
}

fn digits(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let at = inner(&ring, dice);
    let unit = ring.source_unit;
    (unit != Unit::FeetInches).then_some(())?;
    let mut text = text(ring.marks[at].value, unit);
    if unit == Unit::Foot {
        text = text.trim_end_matches('0').trim_end_matches('.').to_owned();
    }
    if unit == Unit::Metre && !text.contains('.') {
        text += ".0";
    }
    let places: Vec<usize> = text
        .bytes()
        .enumerate()
        .filter(|(_, b)| b.is_ascii_digit())
        .map(|(at, _)| at)
        .collect();
    let pick = dice.below(places.len().checked_sub(1)?);
    let (a, b) = (*places.get(pick)?, *places.get(pick + 1)?);
    let mut bytes = text.clone().into_bytes();
    bytes.swap(a, b);
    let swapped = String::from_utf8(bytes).ok()?;
    let before = ring.marks[at].value;
    write(&mut ring.marks[at], &swapped, unit)?;
    ((ring.marks[at].value / before - 1.0).abs() > 0.04).then_some(())?;
    faulty(made, ring, &[OFF, VALUES], vec![at], true)
}

fn decimal(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let at = inner(&ring, dice);
    let unit = ring.source_unit;
    (unit != Unit::FeetInches).then_some(())?;
    let factor = dice.pick(&[0.1, 10.0, 10.0]);
    let number = Length::from_metres(ring.marks[at].value)
        .in_unit(unit)
        .ok()?
        * factor;
    write(
        &mut ring.marks[at],
        &format!("{}", (number * 1e4).round() / 1e4),
        unit,
    )?;
    faulty(made, ring, &[OFF, VALUES], vec![at], true)
}

fn neighbour(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let at = inner(&ring, dice);
    ring.marks[at].position = ring.marks[at + 1].position;
    faulty(made, ring, &["mark-repeated"], vec![at, at + 1], false)
}

fn exchanged(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let at = 1 + dice.below(ring.marks.len() - 3);
    let position = ring.marks[at].position;
    ring.marks[at].position = ring.marks[at + 1].position;
    ring.marks[at + 1].position = position;
    faulty(made, ring, &[POSITIONS], vec![at, at + 1], true)
}

fn labels(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let n = ring.marks.len();
    let from = if dice.below(2) == 0 {
        0
    } else {
        dice.below(n - 4)
    };
    let texts: Vec<(f64, Option<String>)> = ring
        .marks
        .iter()
        .map(|m| (m.value, m.engraved.clone()))
        .collect();
    // A label was left out: those after it move up, and the last position goes.
    for at in from..n - 1 {
        (ring.marks[at].value, ring.marks[at].engraved) = texts[at + 1].clone();
    }
    ring.marks.pop();
    faulty(made, ring, &["labels-shifted"], vec![], false)
}

fn off(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let at = inner(&ring, dice);
    let other = if dice.below(2) == 0 { at + 1 } else { at - 1 };
    let by = 0.45 * (ring.marks[other].position - ring.marks[at].position);
    // Less is reading error.
    (by.abs() > 0.008).then_some(())?;
    ring.marks[at].position += by;
    faulty(made, ring, &[OFF], vec![at], false)
}

fn duplicate(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let at = inner(&ring, dice);
    let mark = ring.marks[at].clone();
    ring.marks.insert(at, mark);
    faulty(made, ring, &["mark-repeated"], vec![at, at + 1], true)
}

fn no_infinity(made: &Made, _: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    ring.marks.pop();
    faulty(made, ring, &["infinity-mark-missing"], vec![], false)
}

fn hard_stop(made: &Made, _: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let last = ring.marks.len() - 1;
    ((ring.marks[last].position - made.stop).abs() > 0.008).then_some(())?;
    ring.marks[last].position = made.stop;
    faulty(made, ring, &["infinity-at-end-stop"], vec![last], true)
}

fn front(made: &Made, _: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    (ring.source_unit == Unit::Metre).then_some(())?;
    for mark in ring.marks.iter_mut().filter(|mark| mark.value.is_finite()) {
        let short = mark.value - made.length;
        write(mark, &format!("{short:.3}"), Unit::Metre)?;
    }
    made.lens.close_focus?;
    faulty(made, ring, &["scale-from-lens-front"], vec![], true)
}

fn reversed(made: &Made, _: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let positions: Vec<f64> = ring.marks.iter().map(|m| m.position).collect();
    for (mark, position) in ring.marks.iter_mut().zip(positions.into_iter().rev()) {
        mark.position = position;
    }
    faulty(made, ring, &["scale-reversed"], vec![], true)
}

fn scale_unit(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    made.lens.close_focus?;
    if ring.source_unit == Unit::Metre && dice.below(2) == 0 {
        for mark in ring.marks.iter_mut().filter(|mark| mark.value.is_finite()) {
            write(mark, &format!("{:.2}", mark.value / 0.3048), Unit::Metre)?;
        }
    } else {
        let (declared, factor) = match ring.source_unit {
            Unit::Metre => (Unit::Foot, 0.3048),
            Unit::Centimetre => (Unit::Metre, 100.0),
            _ => (Unit::Metre, 1.0 / 0.3048),
        };
        (ring.source_unit != Unit::FeetInches).then_some(())?;
        ring.source_unit = declared;
        for mark in ring.marks.iter_mut().filter(|mark| mark.value.is_finite()) {
            mark.value *= factor;
        }
    }
    faulty(made, ring, &["scale-in-other-unit"], vec![], true)
}

fn slipped(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let mut ring = ring(made);
    let n = ring.marks.len();
    (n >= 8).then_some(())?;
    let from = 3 + dice.below(n - 6);
    let by = dice.between(0.015, 0.03) * if dice.below(2) == 0 { 1.0 } else { -1.0 };
    let held = |m: &Mark| m.value.is_infinite() && !(0.001..0.999).contains(&m.position);
    let last = ring.marks[n - 2].position;
    (0.0..=1.0).contains(&(last + by)).then_some(())?;
    for mark in ring.marks.iter_mut().skip(from).filter(|m| !held(m)) {
        mark.position += by;
    }
    let way = (ring.marks[0].position - ring.marks[n - 1].position).signum();
    ring.marks
        .windows(2)
        .all(|p| (p[0].position - p[1].position) * way > 0.0)
        .then_some(())?;
    faulty(
        made,
        ring,
        &["marks-shifted"],
        vec![from - 1, from, from + 1],
        false,
    )
}

fn two(made: &Made, dice: &mut Dice) -> Option<Faulty> {
    let first = off(made, dice)?;
    let again = Made {
        drive: made.drive,
        lens: first.lens,
        length: made.length,
        stop: made.stop,
    };
    let second = off(&again, dice)?;
    let far = first.marks[0].abs_diff(second.marks[0]) > 2 && made.lens.rings[0].marks.len() >= 10;
    far.then_some(Faulty {
        marks: vec![first.marks[0], second.marks[0]],
        ..second
    })
}
