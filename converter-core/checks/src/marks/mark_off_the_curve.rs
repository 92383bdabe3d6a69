//! A mark that the other marks of the scale contradict.

use ringmark_model::{Mark, Ring, ScaleQuantity, Severity};
use ringmark_quantity::print;

use super::edits::edits;
use super::hypothesis::Fault;
use super::judgement::{Judgement, curve_of, points};
use super::leave_one_out::residuals;
use super::order::{has_repeats, inversions};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

/// Odds of 1000 to 1, as a natural logarithm: below them a finding is a warning.
pub(super) const SURE: f64 = 7.0;
/// Odds of 20 to 1 over the next explanation: below them no repair is offered.
pub(super) const CLEAR: f64 = 3.0;

const ERROR: ThresholdInfo = ThresholdInfo {
    check: "mark-off-the-curve",
    name: "sure",
    default: SURE,
    unit: "(natural logarithm of the odds)",
    why: "1000 to 1 that the mark is wrong; between 20 to 1 and this, the finding is a warning",
};
const REPAIR: ThresholdInfo = ThresholdInfo {
    check: "mark-off-the-curve",
    name: "clear",
    default: CLEAR,
    unit: "(natural logarithm of the odds)",
    why: "20 to 1 over the next explanation; below it no repair is offered, and both are named",
};
const ANYWAY: ThresholdInfo = ThresholdInfo {
    check: "mark-off-the-curve",
    name: "off-anyway",
    default: 0.030,
    unit: "of travel",
    why: "no cam in use bends a scale so much between two marks: a warning even where nothing explains it",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "mark-off-the-curve",
        title: "A mark is not where the other marks put it",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("mark_off_the_curve.md"),
        thresholds: &[ERROR, REPAIR, ANYWAY],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    for (at, judgements) in &view.judged().rings {
        let Some(ring) = view.lens.rings.get(*at) else { continue };
        if judgements.is_empty() {
            unexplained(view, ring, out);
        }
        for judgement in judgements {
            match &judgement.fault {
                // That one of two marks at one position is wrong is what mark-repeated says.
                Fault::Mark { at } if stands_with_another(ring, judgement, *at) => {}
                Fault::Text { at, .. } | Fault::Mark { at } => report(view, ring, judgement, *at, out),
                _ => {}
            }
        }
    }
}

/// Whether another mark has the position of this one.
fn stands_with_another(ring: &Ring, judgement: &Judgement, at: usize) -> bool {
    let Some(point) = judgement.points.get(at) else { return false };
    ring.marks.iter().filter(|mark| mark.position == point.position).count() > 1
}

fn report(view: &LensView<'_>, ring: &Ring, judgement: &Judgement, at: usize, out: &mut Report<'_>) {
    let Some(point) = judgement.points.get(at) else { return };
    let Some(mark) = ring.marks.get(point.mark) else { return };
    // Nothing lies beyond an end mark: a bend of the drive is always the other explanation.
    let end = at == 0 || at + 1 == judgement.points.len();
    let severity = match judgement.fault {
        Fault::Mark { .. } if end => Severity::Warning,
        _ => severity(judgement, view.value(ERROR)),
    };
    out.add(severity, view.subject(), |finding| {
        let rest: Vec<_> = judgement.points.iter().filter(|p| p.mark != point.mark).copied().collect();
        let curve = curve_of(ring, &rest);
        let expected = curve.as_ref().map_or(f64::NAN, |curve| curve.position_of(point.distance));
        let there = curve.as_ref().map_or(f64::NAN, |curve| curve.value_at(point.position));
        let mut message = format!("{} at {}", named(ring, mark), print::position(mark.position));
        if expected.is_finite() {
            let off = mark.position - expected;
            message += &format!(" is {} from where the other marks put it, {}", words::travel(off), print::position(expected));
        } else {
            message += " does not lie on one curve with the other marks";
        }
        let mut finding = finding
            .says(message)
            .value("position", mark.position, "0..1")
            .value("value", mark.value, ring.quantity.unit().symbol())
            .value("largest error as it stands", judgement.before, "of travel")
            .value("largest error without it", judgement.after, "of travel")
            .value("weight of evidence", (judgement.weight * 10.0).round() / 10.0, "ln odds");
        if expected.is_finite() {
            finding = finding.value("expected position", expected, "0..1");
        }
        if there.is_finite() {
            finding = finding.value("expected value", there, ring.quantity.unit().symbol());
        }
        let other = judgement.next.as_ref().filter(|_| judgement.ahead < view.value(REPAIR));
        let help = match (other, &judgement.fault) {
            (Some(next), Fault::Text { way, .. }) => {
                format!("{} explains it, but so does {}: compare this mark with the barrel", way.story, story(next, ring, judgement))
            }
            (Some(next), _) => format!("it may also be {}: compare value and position with the barrel", story(next, ring, judgement)),
            (None, _) => "compare value and position of this mark with the barrel".to_owned(),
        };
        finding = finding.help(help).at(mark.place.clone());
        match (&judgement.fault, other) {
            (Fault::Text { way, .. }, None) => finding.repair_with(
                format!("write {} ({})", in_unit(ring, way.value), way.story),
                evidence(judgement),
                edits(view.index, ring, judgement),
            ),
            _ => finding,
        }
    });
}

fn named(ring: &Ring, mark: &Mark) -> String {
    match ring.quantity {
        ScaleQuantity::FocusDistance => words::mark(ring, mark),
        _ => format!("{} ring: {}", ring.axis.name(), words::mark(ring, mark)),
    }
}

fn in_unit(ring: &Ring, value: f64) -> String {
    match ring.quantity {
        ScaleQuantity::FocusDistance => words::in_scale_unit(value, ring.source_unit),
        quantity => print::value(value, quantity.unit()),
    }
}

pub(super) fn severity(judgement: &Judgement, sure: f64) -> Severity {
    if judgement.weight > sure { Severity::Error } else { Severity::Warning }
}

/// Residuals before and after, and how clear it is.
pub(super) fn evidence(judgement: &Judgement) -> String {
    let mut text = format!(
        "so read, the marks are off the law of focusing by {} at most instead of {}",
        words::travel(judgement.after),
        words::travel(judgement.before)
    );
    if judgement.ahead.is_finite() {
        text += &format!("; the next explanation is {} times less likely", words::odds(judgement.ahead));
    }
    text
}

/// A fault in words that follow 'it may be'.
pub(super) fn story(fault: &Fault, ring: &Ring, judgement: &Judgement) -> String {
    let mark = |at: usize| {
        let mark = judgement.points.get(at).and_then(|point| ring.marks.get(point.mark));
        mark.map_or_else(String::new, |mark| words::mark(ring, mark))
    };
    match fault {
        Fault::Text { at, way } => format!("{} at {} ({})", way.story, mark(*at), in_unit(ring, way.value)),
        Fault::Mark { at } => format!("an error of {}", mark(*at)),
        Fault::Exchanged { at } => format!("{} and {} exchanged", mark(*at), mark(*at + 1)),
        Fault::FeetInches => "feet and inches typed as decimal feet".to_owned(),
        Fault::Slip { from } => format!("a ring that slipped at {}", mark(*from)),
        Fault::Reversed => "a list of positions against the list of marks".to_owned(),
        Fault::Labels { from, .. } => format!("labels shifted by one from {} on", mark(*from)),
        Fault::EndStop { .. } => "infinity read at the end stop".to_owned(),
    }
}

/// Marks that lie on no curve, and nothing tried explains it.
fn unexplained(view: &LensView<'_>, ring: &Ring, out: &mut Report<'_>) {
    if ring.quantity != ScaleQuantity::FocusDistance || inversions(ring).is_some() || has_repeats(ring) {
        return;
    }
    let focal = view.lens.focal_length.map(|(min, _)| min.mm() / 1000.0);
    let Some((worst, off)) = residuals(&points(ring), focal).and_then(|all| all.worst_first().first().copied()) else { return };
    let Some(mark) = ring.marks.get(worst).filter(|_| off.abs() > view.value(ANYWAY)) else { return };
    out.add(Severity::Warning, view.subject(), |finding| {
        let message = format!(
            "the marks of the focus scale do not lie on one smooth curve: {} at {} is off by {}; no single fault explains it",
            words::mark(ring, mark),
            print::position(mark.position),
            words::travel(off)
        );
        finding
            .says(message)
            .value("position", mark.position, "0..1")
            .value("off by", off, "of travel")
            .help("look for several wrong marks, and read the scale a second time")
            .at(mark.place.clone())
    });
}
