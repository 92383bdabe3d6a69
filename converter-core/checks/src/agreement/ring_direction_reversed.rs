//! A focus ring that is counted from the other end.

use ringmark_model::{Axis, Severity};

use super::other_ring::{Elsewhere, OtherRing};
use crate::info::{CheckInfo, Family};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "ring-direction-reversed",
        title: "The focus ring runs against its scale",
        severity: Severity::Error,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("ring_direction_reversed.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| take.focus.map(|_| Box::<Reversed>::default() as Box<dyn Watch>)),
};

#[derive(Default)]
struct Reversed {
    counts: OtherRing,
}

impl Watch for Reversed {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, _out: &mut Report<'_>) {
        self.counts.frames(take, batch);
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let found = self.counts.found().filter(|found| *found == Elsewhere::Reversed);
        let (Some(_), Some(span), Some(focus)) = (found, self.counts.span(take), take.focus) else { return };
        out.add(Severity::Error, take.subject(), |finding| {
            let finding = finding
                .says(format!("focus ring positions run against the scale of {}: counted from the other end they fit the recorded distances", focus.lens))
                .value("frames astray", self.counts.astray() as f64, "frames")
                .help("the motor sits on the other side of the ring, or its direction was set otherwise at prep");
            let action = match take.take.encoder(Axis::Focus) {
                Some(range) => format!("declare the encoder range from {} to {}", range.high, range.low),
                None => "take 1 minus the position".to_owned(),
            };
            span.put(finding.repair(action, "so read, ring and distance agree in nine frames of ten or more"))
        });
    }
}
