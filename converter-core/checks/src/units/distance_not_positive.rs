//! Distances of zero or less.

use ringmark_model::{Channel, Severity};

use crate::info::{CheckInfo, Family};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "distance-not-positive",
        title: "A distance is zero or negative",
        severity: Severity::Error,
        family: Family::Units,
        since: "0.1.0",
        explanation: include_str!("distance_not_positive.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(Box::<NotPositive>::default())),
};

#[derive(Default)]
struct NotPositive {
    /// One for each channel that holds distances; remembers the first value.
    runs: Vec<(Channel, Runs<f64>)>,
}

impl Watch for NotPositive {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        for column in &batch.batch.numbers {
            let Some(channel) = column.head.key.channel().filter(|channel| channel.is_distance()) else { continue };
            let values = column.values.as_slice();
            let at = |at: usize| values.get(at).copied().unwrap_or(f64::NAN);
            let done = |span, first| report(span, first, channel, take, out);
            runs_of(&mut self.runs, channel).scan(batch, |i| at(i) <= 0.0, at, |_, _| {}, done);
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for (channel, runs) in &mut self.runs {
            runs.end(|span, first| report(span, first, *channel, take, out));
        }
    }
}

/// The runs of a channel, new on first use.
pub(super) fn runs_of(all: &mut Vec<(Channel, Runs<f64>)>, channel: Channel) -> &mut Runs<f64> {
    let known = all.iter().position(|(known, _)| *known == channel);
    let at = known.unwrap_or_else(|| {
        all.push((channel, Runs::default()));
        all.len() - 1
    });
    &mut all[at].1
}

fn report(span: Span, first: f64, channel: Channel, take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(Severity::Error, take.subject(), |finding| {
        let message = format!("{} {first} m: distances are above zero", channel.info().title);
        let help = if first == 0.0 {
            "zero is often written for 'no data': leave these values empty"
        } else {
            "look for an offset taken twice, or for another column"
        };
        span.put(finding.says(message).value("recorded", first, "m").help(help))
    });
}
