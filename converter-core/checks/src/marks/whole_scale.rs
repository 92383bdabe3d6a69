//! Faults of a whole scale: what their checks say in common.

use ringmark_model::{Edit, Ring};

use super::judgement::Judgement;
use super::mark_off_the_curve::{CLEAR, SURE, evidence, severity, story};
use crate::info::ThresholdInfo;
use crate::report::Report;
use crate::view::LensView;
use crate::words::Fill;

/// Above these odds that the scale has the fault, a finding is an error.
pub(super) const fn sure(check: &'static str, why: &'static str) -> ThresholdInfo {
    ThresholdInfo {
        check,
        name: "sure",
        default: SURE,
        unit: "(natural logarithm of the odds)",
        why,
    }
}

/// Above these odds over the next explanation, a repair is offered.
pub(super) const fn clear(check: &'static str) -> ThresholdInfo {
    ThresholdInfo {
        check,
        name: "clear",
        default: CLEAR,
        unit: "(natural logarithm of the odds)",
        why: "20 to 1 over the next explanation; below it no repair is offered",
    }
}

/// What one check says of the fault it looks for.
pub(super) struct Said {
    pub message: String,
    /// What to look at on the lens.
    pub help: &'static str,
    /// The points of the judgement that the fault is seen at, the first of them first.
    pub points: Vec<usize>,
    /// Numbers beside the residuals: name, value, unit.
    pub value: Option<(&'static str, f64, &'static str)>,
    /// What the repair does, in words and in edits.
    pub action: String,
    pub edits: Vec<Edit>,
}

/// Reports each judgement that `said` has words for.
pub(super) fn report(
    view: &LensView<'_>,
    [sure, clear]: [ThresholdInfo; 2],
    out: &mut Report<'_>,
    said: impl Fn(&Ring, &Judgement) -> Option<Said>,
) {
    for (at, judgements) in &view.judged().rings {
        let Some(ring) = view.lens.rings.get(*at) else {
            continue;
        };
        for judgement in judgements {
            let Some(said) = said(ring, judgement) else {
                continue;
            };
            let marks = said
                .points
                .iter()
                .filter_map(|at| ring.marks.get(judgement.points.get(*at)?.mark));
            let marks: Vec<_> = marks.collect();
            let Some((first, others)) = marks.split_first() else {
                continue;
            };
            out.add(
                severity(judgement, view.value(sure)),
                view.subject(),
                |finding| {
                    let mut finding = finding
                        .says(said.message)
                        .value("largest error as it stands", judgement.before, "of travel")
                        .value("largest error as repaired", judgement.after, "of travel")
                        .value(
                            "weight of evidence",
                            (judgement.weight * 10.0).round() / 10.0,
                            "ln odds",
                        )
                        .at(first.place.clone());
                    if let Some((name, value, unit)) = said.value {
                        finding = finding.value(name, value, unit);
                    }
                    let finding = others
                        .iter()
                        .fold(finding, |finding, mark| finding.and_mark(ring, mark));
                    match judgement
                        .next
                        .as_ref()
                        .filter(|_| judgement.ahead < view.value(clear))
                    {
                        Some(next) => finding.help(format!(
                            "it may also be {}: {}",
                            story(next, ring, judgement),
                            said.help
                        )),
                        None => finding.help(said.help).repair_with(
                            said.action,
                            evidence(judgement),
                            said.edits,
                        ),
                    }
                },
            );
        }
    }
}
