//! Timecode without a frame rate.

use ringmark_model::{Channel, Severity};

use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "frame-rate-missing",
        title: "Timecode is recorded, its frame rate is not",
        severity: Severity::Note,
        family: Family::Completeness,
        since: "0.1.0",
        explanation: include_str!("frame_rate_missing.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| take.take.frame_rate.is_none().then(|| Box::<Missing>::default() as Box<dyn Watch>)),
};

#[derive(Default)]
struct Missing {
    said: bool,
}

impl Watch for Missing {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        if self.said || batch.batch.texts(Channel::Timecode).is_none() {
            return;
        }
        self.said = true;
        out.add(Severity::Note, take.subject(), |finding| {
            let finding = finding
                .says("timecode is recorded, the frame rate is not: gaps, repeats and labels that do not exist cannot be found")
                .help("add the frame rate to the record, as 24000/1001, 24, 25 or 30000/1001");
            Span::at(batch.mark_at(0)).put(finding)
        });
    }
}
