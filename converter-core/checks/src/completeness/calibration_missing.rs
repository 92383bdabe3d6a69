//! Ring positions that nobody can turn into distances.

use ringmark_model::{Axis, Channel, Severity};

use crate::by_frame::AtStart;
use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "calibration-missing",
        title: "Ring positions are recorded, the scale of the lens is not known",
        severity: Severity::Note,
        family: Family::Completeness,
        since: "0.1.0",
        explanation: include_str!("calibration_missing.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(AtStart::watch(report))),
};

/// What the ring of an axis gives.
const fn values(axis: Axis) -> &'static [Channel] {
    match axis {
        Axis::Focus => &[Channel::FocusDistance, Channel::RangefinderDistance],
        Axis::Iris => &[Channel::TStop, Channel::FNumber],
        Axis::Zoom => &[Channel::NominalFocalLength, Channel::PinholeFocalLength, Channel::EffectiveFocalLength],
    }
}

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let scale = |axis| [take.calibration, take.lens].into_iter().flatten().any(|lens| lens.ring(axis).is_some());
    let recorded = |channel| batch.numbers(channel).is_some();
    let dumb = |axis: &Axis| {
        let ring = recorded(words::ring_channel(*axis)) || recorded(words::raw_channel(*axis));
        ring && !scale(*axis) && !values(*axis).iter().any(|channel| recorded(*channel))
    };
    let axes: Vec<&str> = Axis::ALL.into_iter().filter(dumb).map(Axis::name).collect();
    if axes.is_empty() {
        return;
    }
    out.add(Severity::Note, take.subject(), |finding| {
        let rings = if axes.len() == 1 { "ring" } else { "rings" };
        let message = format!("positions of {} {rings} without a scale: neither distances, stops nor focal lengths follow from them", axes.join(" and "));
        let finding = finding.says(message).help("give the calibration of the lens with --lens; if there is none, have its marks taken before the lens goes back");
        Span::at(batch.mark_at(0)).put(finding)
    });
}
