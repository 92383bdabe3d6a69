//! Distances of a take counted from another point than those of the scale.

use ringmark_model::{Axis, Channel, Severity};
use ringmark_quantity::DistanceReference;

use crate::by_frame::AtStart;
use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "distance-references-differ",
        title: "Distances of take and scale are counted from different points",
        severity: Severity::Note,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("distance_references_differ.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(AtStart::watch(report))),
};

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let known = |point: &DistanceReference| *point != DistanceReference::Unstated;
    let recorded = batch.batch.number_column(Channel::FocusDistance).and_then(|column| column.head.reference).filter(known);
    let lenses = [take.calibration, take.lens].into_iter().flatten();
    let scale = lenses.filter_map(|lens| lens.ring(Axis::Focus)).find_map(|ring| ring.reference).filter(known);
    let Some((recorded, scale)) = recorded.zip(scale).filter(|(a, b)| a != b) else { return };
    out.add(Severity::Note, take.subject(), |finding| {
        let name = |point: DistanceReference| point.name().replace('-', " ");
        let finding = finding
            .says(format!("focus distances are counted from the {}, the scale from the {}: they are not compared", name(recorded), name(scale)))
            .help("convert one of the two by the distance between the points, or correct the statement if both were read from one scale");
        Span::at(batch.mark_at(0)).put(finding)
    });
}
