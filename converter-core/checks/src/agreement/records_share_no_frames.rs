//! Two records of a take that have no frame in common.

use ringmark_model::Severity;

use crate::info::{CheckInfo, Family};
use crate::records::Outcome;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "records-share-no-frames",
        title: "Two records of a take have no frame in common",
        severity: Severity::Error,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("records_share_no_frames.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| take.versus.map(|_| Box::new(NoFrames) as Box<dyn Watch>)),
};

struct NoFrames;

impl Watch for NoFrames {
    fn frames(&mut self, _: &TakeView<'_>, _: &BatchView<'_>, _: &mut Report<'_>) {}

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some((versus, Outcome { own, alignment, .. })) = take.compared() else {
            return;
        };
        let other = &versus.other;
        if own.frames == 0 || alignment.pairs().next().is_some() {
            return;
        }
        out.add(Severity::Error, take.subject(), |finding| {
            let span = |record: &crate::records::Record| {
                let name = |frame: usize| {
                    let mark = record.mark(frame);
                    let number = mark.number.map(|number| number.to_string());
                    mark.label.or(number).unwrap_or_else(|| (frame + 1).to_string())
                };
                match record.frames.checked_sub(1) {
                    Some(last) => format!("{} to {}", name(0), name(last)),
                    None => "no frames".to_owned(),
                }
            };
            finding
                .says(format!(
                    "by {} no frame is in both records: {} here, {} in {}",
                    alignment.key.words(),
                    span(own),
                    span(other),
                    other.name
                ))
                .help("look for another take, for time code that was jammed anew, or for another frame rate; nothing was compared")
                .at(own.mark(0).place)
        });
    }
}
