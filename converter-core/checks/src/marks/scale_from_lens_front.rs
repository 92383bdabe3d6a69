//! A whole focus scale measured from the front of the lens.

use ringmark_model::{Axis, Edit, Mark, Ring, ScaleQuantity, Severity};
use ringmark_quantity::{DistanceReference, Unit};

use super::edits::value;
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

const SHORT: ThresholdInfo = ThresholdInfo {
    check: "scale-from-lens-front",
    name: "short-of-close-focus",
    default: 0.97,
    unit: "of close focus",
    why: "a nearest mark that is shorter is no rounding of the data sheet",
};
const ROUND: ThresholdInfo = ThresholdInfo {
    check: "scale-from-lens-front",
    name: "round-share",
    default: 0.9,
    unit: "of the marks",
    why: "one length, added to all marks, makes nearly all of them round numbers: by chance a third would be",
};
const NOT_ROUND: ThresholdInfo = ThresholdInfo {
    check: "scale-from-lens-front",
    name: "round-as-they-stand",
    default: 0.5,
    unit: "of the marks",
    why: "a scale of round numbers is engraved as it stands",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "scale-from-lens-front",
        title: "A whole focus scale seems to be measured from the front of the lens",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("scale_from_lens_front.md"),
        thresholds: &[SHORT, ROUND, NOT_ROUND],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let Some(ring) = view.lens.ring(Axis::Focus) else { return };
    let finite: Vec<&Mark> = ring.marks.iter().filter(|mark| mark.value > 0.0 && mark.value.is_finite()).collect();
    let Some(nearest) = finite.iter().min_by(|a, b| a.value.total_cmp(&b.value)) else { return };
    if ring.quantity != ScaleQuantity::FocusDistance || ring.reference == Some(DistanceReference::FrontVertex) || finite.len() < 5 {
        return;
    }
    let feet = matches!(ring.source_unit, Unit::Foot | Unit::FeetInches | Unit::Inch);
    let share = |added: f64| {
        let off: Vec<f64> = finite.iter().map(|mark| off_round(mark.value + added, feet)).filter(|off| *off < 0.006).collect();
        Round { share: off.len() as f64 / finite.len() as f64, off: off.iter().sum() }
    };
    let close = view.lens.close_focus.map(|close| close.metres());
    let short = close.filter(|close| nearest.value < close * view.value(SHORT));
    let before = share(0.0).share;
    if before > view.value(NOT_ROUND) {
        return;
    }
    let Some((added, after)) = length(nearest.value, close, view.value(ROUND), share) else { return };
    // Without a close focus that contradicts the scale only the numbers speak.
    let severity = if short.is_some() { Severity::Error } else { Severity::Warning };
    out.add(severity, view.subject(), |finding| {
        let message = format!("all marks of the focus scale seem to be measured from the front of the lens, {} ahead of the image plane", words::distance(added));
        let mut evidence = format!("with it, {:.0} % of the marks are round numbers instead of {:.0} %", after * 100.0, before * 100.0);
        let mut finding = finding.says(message).value("length", added, "m").value("nearest mark", nearest.value, "m");
        if let Some(close) = close {
            finding = finding.value("close focus", close, "m");
            evidence += &format!(", and the nearest is {} on a lens that focuses to {}", words::distance(nearest.value + added), words::distance(close));
        }
        finding
            .help("measure one mark from the image plane (⌀ on the camera); distances from the front are too short for it")
            .repair_with(format!("add {} to every mark", words::in_scale_unit(added, ring.source_unit)), evidence, edits(view, ring, added))
            .at(nearest.place.clone())
    });
}

fn edits(view: &LensView<'_>, ring: &Ring, added: f64) -> Vec<Edit> {
    let marks = ring.marks.iter().enumerate().filter(|(_, mark)| mark.value.is_finite());
    marks.map(|(at, mark)| Edit { lens: view.index, axis: ring.axis, change: value(ring, ring.source_unit, at, ((mark.value + added) * 1e6).round() / 1e6) }).collect()
}

/// How many numbers are round, and by how much they miss it in all.
struct Round {
    share: f64,
    off: f64,
}

/// How far a number is from a round one. Engraved are, near, steps of 5 cm or an inch; far, half and whole units.
fn off_round(metres: f64, feet: bool) -> f64 {
    let steps: [(f64, f64); 4] = if feet {
        [(4.0, 1.0 / 12.0), (10.0, 0.25), (16.0, 0.5), (f64::INFINITY, 1.0)]
    } else {
        [(1.9, 0.05), (3.2, 0.1), (10.0, 0.5), (f64::INFINITY, 1.0)]
    };
    let number = if feet { metres / 0.3048 } else { metres };
    let step = steps.into_iter().find(|(below, _)| number < *below);
    step.map_or(f64::INFINITY, |(_, step)| ((number / step).round() * step - number).abs())
}

/// The length, up to 0.6 of the nearest mark, that makes most marks round; one that leaves the nearest mark at close
/// focus or a little beyond, if that is known.
fn length(nearest: f64, close: Option<f64>, least: f64, share: impl Fn(f64) -> Round) -> Option<(f64, f64)> {
    let fits = |added: f64| close.is_none_or(|close| (0.99..=1.45).contains(&((nearest + added) / close)));
    (20..600)
        .map(|k| f64::from(k) * 0.001)
        .filter(|added| *added <= 0.6 * nearest && fits(*added))
        .map(|added| (added, share(added)))
        .filter(|(_, round)| round.share >= least)
        .max_by(|a, b| a.1.share.total_cmp(&b.1.share).then(b.1.off.total_cmp(&a.1.off)))
        .map(|(added, round)| (added, round.share))
}
