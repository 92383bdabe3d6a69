//! Ring columns that are exchanged.

use ringmark_model::Severity;

use super::other_ring::{Elsewhere, OtherRing};
use crate::info::{CheckInfo, Family};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "rings-swapped",
        title: "The columns of two rings are exchanged",
        severity: Severity::Error,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("rings_swapped.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| take.focus.map(|_| Box::<Swapped>::default() as Box<dyn Watch>)),
};

#[derive(Default)]
struct Swapped {
    counts: OtherRing,
}

impl Watch for Swapped {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, _out: &mut Report<'_>) {
        self.counts.frames(take, batch);
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let other = match self.counts.found() {
            Some(Elsewhere::Iris) => "iris",
            Some(Elsewhere::Zoom) => "zoom",
            _ => return,
        };
        let Some(span) = self.counts.span(take) else { return };
        out.add(Severity::Error, take.subject(), |finding| {
            let finding = finding
                .says(format!("the {other} ring fits the recorded focus distances, the focus ring does not"))
                .value("frames astray", self.counts.astray() as f64, "frames")
                .help("look for motors plugged into each other's channel, or for columns named wrong");
            let action = format!("exchange focus ring and {other} ring");
            span.put(finding.repair(action, format!("on the focus scale the {other} ring gives the recorded distance in nine frames of ten or more")))
        });
    }
}
