//! A mark that the other marks of the scale contradict.

use ringmark_model::{Finding, Mark, Ring, Severity};
use ringmark_quantity::print;

use super::leave_one_out::{predict, predictor};
use super::rewriting::{as_feet_inches, rewritings};
use super::verdict::{self, Culprit, Scale, Verdict};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

const OFF: ThresholdInfo = ThresholdInfo {
    name: "off-the-curve",
    default: verdict::OFF,
    unit: "of travel",
    why: "marks read to 0.1 % of travel are off by less than 0.0072 in 99 of 100 clean scales (computed on traced lenses)",
};
const REST: ThresholdInfo = ThresholdInfo {
    name: "rest-on-the-curve",
    default: verdict::AGREE,
    unit: "of travel",
    why: "one mark is the culprit only if the others agree without it, to this or to a third of its error",
};
const ANYWAY: ThresholdInfo = ThresholdInfo {
    name: "off-anyway",
    default: 0.030,
    unit: "of travel",
    why: "no cam in use bends a scale so much between two marks",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "mark-off-the-curve",
        title: "A mark is not where the other marks put it",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("mark_off_the_curve.md"),
        thresholds: &[OFF, REST, ANYWAY],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let Some(scale) = Scale::of(view) else { return };
    match scale.verdict() {
        Some(Verdict::FeetInches { before, after }) => report_feet_inches(view, scale.ring, before, after, out),
        Some(Verdict::Culprit(culprit)) => report_culprit(view, &scale, &culprit, out),
        Some(Verdict::End { mark, worst }) => report_scale(view, scale.ring, worst, scale.ring.marks.get(mark), out),
        Some(Verdict::Unexplained { worst }) => report_scale(view, scale.ring, worst, None, out),
        // Another check speaks about a shift.
        Some(Verdict::Shift(_)) | None => {}
    }
}

fn report_culprit(view: &LensView<'_>, scale: &Scale<'_>, culprit: &Culprit, out: &mut Report<'_>) {
    let Some(mark) = scale.ring.marks.get(culprit.mark) else { return };
    out.add(Severity::Error, view.subject(), |finding| {
        let expected = mark.position - culprit.off;
        let message = format!(
            "{} at {} is {} from where the other marks put it, {}",
            words::mark(scale.ring, mark),
            print::position(mark.position),
            words::travel(culprit.off),
            print::position(expected)
        );
        let finding = finding
            .says(message)
            .value("position", mark.position, "0..1")
            .value("expected position", expected, "0..1")
            .value("distance", mark.value, "m")
            .value("largest of the others", culprit.rest, "of travel")
            .help("compare value and position of this mark with the barrel")
            .at(mark.place.clone());
        with_repair(finding, scale, mark, culprit)
    });
}

/// Offers a rewriting if it brings the mark onto the curve and no other comes near.
fn with_repair(finding: Finding, scale: &Scale<'_>, mark: &Mark, culprit: &Culprit) -> Finding {
    let Some(curve) = predictor(&scale.without(culprit.mark), culprit.c) else { return finding };
    let off = |metres: f64| (mark.position - predict(&curve, metres, culprit.c)).abs();
    let mut tried: Vec<_> = rewritings(scale.ring, mark).into_iter().map(|way| (off(way.metres), way)).collect();
    tried.sort_by(|a, b| a.0.total_cmp(&b.0));
    let second = tried.get(1).map_or(f64::INFINITY, |(off, _)| *off);
    let fits = |best: f64| best < verdict::AGREE.min(culprit.off.abs() / 3.0) && second > verdict::OFF.max(3.0 * best);
    match tried.first().filter(|(best, _)| fits(*best)) {
        Some((best, way)) => finding.repair(
            format!("write {} ({})", words::in_scale_unit(way.metres, scale.ring.source_unit), way.story),
            format!("so read, the mark is off by {} instead of {}", words::travel(*best), words::travel(culprit.off)),
        ),
        None => finding,
    }
}

fn report_feet_inches(view: &LensView<'_>, ring: &Ring, before: f64, after: f64, out: &mut Report<'_>) {
    let typed: Vec<&Mark> = ring.marks.iter().filter(|mark| as_feet_inches(ring, mark).is_some()).collect();
    let Some(first) = typed.first() else { return };
    out.add(Severity::Error, view.subject(), |finding| {
        let message = format!(
            "{} marks of the focus scale seem to be feet and inches typed as decimal feet, the first is {}",
            typed.len(),
            words::mark(ring, first)
        );
        let finding = finding
            .says(message)
            .value("largest error as it stands", before, "of travel")
            .value("largest error as feet and inches", after, "of travel")
            .help("compare one of these marks with the barrel")
            .repair(
                "declare the scale as feet and inches (ft-in) and write the marks as 5'6\"",
                format!("so read, the marks are off by {} at most instead of {}", words::travel(after), words::travel(before)),
            )
            .at(first.place.clone());
        typed.iter().skip(1).fold(finding, |finding, mark| finding.and_mark(ring, mark))
    });
}

fn report_scale(view: &LensView<'_>, ring: &Ring, (worst, off): (usize, f64), end: Option<&Mark>, out: &mut Report<'_>) {
    let Some(mark) = ring.marks.get(worst) else { return };
    let severity = if off.abs() > ANYWAY.default { Severity::Error } else { Severity::Warning };
    out.add(severity, view.subject(), |finding| {
        let (cause, help) = match end {
            Some(end) => (
                format!("without the end {} the rest agrees", words::mark(ring, end)),
                "compare the end mark with the barrel",
            ),
            None => (
                "no single mark explains it".to_owned(),
                "look for several wrong marks, or for labels shifted by one",
            ),
        };
        let message = format!(
            "the marks of the focus scale do not lie on one smooth curve: {} at {} is off by {}; {cause}",
            words::mark(ring, mark),
            print::position(mark.position),
            words::travel(off)
        );
        let finding = finding
            .says(message)
            .value("position", mark.position, "0..1")
            .value("off by", off, "of travel")
            .help(help)
            .at(mark.place.clone());
        end.into_iter().fold(finding, |finding, end| finding.and_mark(ring, end))
    });
}
