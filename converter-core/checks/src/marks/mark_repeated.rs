//! Two marks at one position, or with one value.

use ringmark_model::{Change, Edit, Mark, Ring, Severity};
use ringmark_quantity::print;

use super::hypothesis::Fault;
use crate::info::{CheckInfo, Family};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "mark-repeated",
        title: "Two marks share a position or a value",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("mark_repeated.md"),
        thresholds: &[],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    for (at, ring) in view.lens.rings.iter().enumerate() {
        for (first, second) in neighbours(ring, |mark| mark.position) {
            report(view, at, (first, second), true, out);
        }
        for (first, second) in neighbours(ring, |mark| mark.value).filter(|(a, b)| a.position != b.position) {
            report(view, at, (first, second), false, out);
        }
    }
}

/// Marks that share what `key` gives, each with the next one in the list.
fn neighbours(ring: &Ring, key: impl Fn(&Mark) -> f64) -> impl Iterator<Item = (&Mark, &Mark)> {
    let mut marks: Vec<(f64, &Mark)> = ring.marks.iter().map(|mark| (key(mark), mark)).filter(|(key, _)| !key.is_nan()).collect();
    // Stable: equal marks stay in the order of the file.
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    let pairs: Vec<_> = marks.iter().zip(marks.iter().skip(1)).filter(|(a, b)| a.0 == b.0).map(|(a, b)| (a.1, b.1)).collect();
    pairs.into_iter()
}

fn report(view: &LensView<'_>, at: usize, (first, second): (&Mark, &Mark), position: bool, out: &mut Report<'_>) {
    let Some(ring) = view.lens.rings.get(at) else { return };
    out.add(Severity::Error, view.subject(), |finding| {
        let (axis, a, b) = (ring.axis.name(), words::mark(ring, first), words::mark(ring, second));
        let (at_a, at_b) = (print::position(first.position), print::position(second.position));
        let message = if position && first.value == second.value {
            format!("{axis} ring: {a} at {at_a} stands twice")
        } else if position {
            format!("{axis} ring: {a} and {b} stand at one position, {at_a}")
        } else {
            format!("{axis} ring: {a} stands at two positions, {at_a} and {at_b}")
        };
        let same = position && first.value == second.value;
        let finding = finding
            .says(message)
            .value("first position", first.position, "0..1")
            .value("second position", second.position, "0..1")
            .value("first value", first.value, ring.quantity.unit().symbol())
            .value("second value", second.value, ring.quantity.unit().symbol())
            .help(help(ring, contradicted(view, at, [first, second])))
            .at(first.place.clone())
            .and_mark(ring, second);
        let second = ring.marks.iter().position(|mark| std::ptr::eq(mark, second));
        match second.filter(|_| same) {
            Some(mark) => finding.repair_with(
                "take the second one out",
                "both have the same position and value: nothing is lost",
                vec![Edit { lens: view.index, axis: ring.axis, change: Change::Remove { mark } }],
            ),
            None => finding,
        }
    });
}

/// The one of two marks that the others of the scale contradict.
fn contradicted<'a>(view: &LensView<'a>, ring: usize, pair: [&'a Mark; 2]) -> Option<&'a Mark> {
    let (_, judgements) = view.judged().rings.get(ring)?;
    let marks = &view.lens.rings.get(ring)?.marks;
    judgements.iter().find_map(|judgement| {
        let Fault::Mark { at } = judgement.fault else { return None };
        let mark = marks.get(judgement.points.get(at)?.mark)?;
        pair.into_iter().find(|one| std::ptr::eq(*one, mark))
    })
}

fn help(ring: &Ring, contradicted: Option<&Mark>) -> String {
    let one = "one of the two was copied and not corrected: read both marks again, or remove one";
    match contradicted {
        Some(mark) => format!("{one}; the other marks speak against {}", words::mark(ring, mark)),
        None => one.to_owned(),
    }
}
