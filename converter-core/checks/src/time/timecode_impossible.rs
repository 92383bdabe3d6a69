//! Labels that do not exist.

use ringmark_model::{Channel, Severity};
use ringmark_quantity::{Timecode, TimecodeError};

use super::labels::{IMPOSSIBLE, fault};
use crate::info::{CheckInfo, Family};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "timecode-impossible",
        title: "A timecode label does not exist",
        severity: Severity::Error,
        family: Family::Time,
        since: "0.1.0",
        explanation: include_str!("timecode_impossible.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(Box::<Impossible>::default())),
};

#[derive(Default)]
struct Impossible {
    /// Remembers the first text of a run.
    runs: Runs<String>,
}

impl Watch for Impossible {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Some(texts) = batch.batch.texts(Channel::Timecode) else { return };
        let text = |at: usize| texts.get(at).unwrap_or_default();
        let done = |span, first| report(span, first, take, out);
        let begin = |at: usize| text(at).to_owned();
        if take.take.frame_rate.is_some() {
            let counts = &batch.labels.counts;
            self.runs.scan(batch, |at| counts.get(at) == Some(&IMPOSSIBLE), begin, |_, _| {}, done);
        } else if batch.labels.unreadable {
            let bad = |at: usize| texts.get(at).is_some_and(|text| Timecode::parse(text).is_err());
            self.runs.scan(batch, bad, begin, |_, _| {}, done);
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        self.runs.end(|span, first| report(span, first, take, out));
    }
}

fn report(span: Span, first: String, take: &TakeView<'_>, out: &mut Report<'_>) {
    let error = match take.take.frame_rate {
        Some(rate) => fault(&first, rate),
        None => Timecode::parse(&first).err(),
    };
    let Some(error) = error else { return };
    out.add(Severity::Error, take.subject(), |finding| {
        let help = match error {
            TimecodeError::Dropped { .. } => {
                "the label was made by arithmetic on text or typed: take it from the frames around, or declare non-drop counting if the clock ran so"
            }
            _ => "take the label from the frames around, or leave it empty",
        };
        span.put(finding.says(error.to_string()).help(help))
    });
}
