//! Recorded stops that the iris of the lens does not have.

use ringmark_model::{Channel, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const WIDER: ThresholdInfo = ThresholdInfo {
    check: "stop-outside-lens-range",
    name: "wider-ratio",
    default: 0.97,
    unit: "of the widest stop",
    why: "engraved stops are rounded by up to 1 % (1.4 for 1.414), readings by as much again",
};
const SMALLER: ThresholdInfo = ThresholdInfo {
    check: "stop-outside-lens-range",
    name: "smaller-ratio",
    default: 1.05,
    unit: "of the smallest stop",
    why: "small stops are rounded by up to 3 % (22 for 22.6)",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "stop-outside-lens-range",
        title: "A recorded stop is outside the range of the lens",
        severity: Severity::Error,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("stop_outside_lens_range.md"),
        thresholds: &[WIDER, SMALLER],
    },
    lens: None,
    take: Some(|take| {
        let sides: Vec<Side> = sides(take);
        (!sides.is_empty()).then(|| Box::new(StopRange { sides }) as Box<dyn Watch>)
    }),
};

/// One limit of one kind of stop.
struct Side {
    channel: Channel,
    /// The widest or smallest stop of the lens.
    stop: f64,
    wider: bool,
    /// Remembers the stop farthest outside.
    runs: Runs<f64>,
}

struct StopRange {
    sides: Vec<Side>,
}

fn sides(take: &TakeView<'_>) -> Vec<Side> {
    let side = |channel, stop: Option<f64>, wider| stop.map(|stop| Side { channel, stop, wider, runs: Runs::default() });
    [
        side(Channel::TStop, take.fact(|lens| lens.widest_t).map(|stop| stop.value()), true),
        side(Channel::TStop, take.fact(|lens| lens.smallest_t).map(|stop| stop.value()), false),
        side(Channel::FNumber, take.fact(|lens| lens.widest_f).map(|stop| stop.value()), true),
        side(Channel::FNumber, take.fact(|lens| lens.smallest_f).map(|stop| stop.value()), false),
    ]
    .into_iter()
    .flatten()
    .collect()
}

impl Watch for StopRange {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        for side in &mut self.sides {
            let Some(values) = batch.numbers(side.channel) else { continue };
            let at = |at: usize| values.get(at).copied().unwrap_or(f64::NAN);
            let (channel, stop, wider) = (side.channel, side.stop, side.wider);
            let limit = stop * take.value(if wider { WIDER } else { SMALLER });
            let done = |span, worst| report(span, worst, (channel, stop, wider), take, out);
            if wider {
                // 0 and below are no stops: another check speaks about them.
                scan(&mut side.runs, batch, |i| at(i) > 0.0 && at(i) < limit, at, f64::min, done);
            } else {
                // A closed iris, infinity, is on no scale.
                scan(&mut side.runs, batch, |i| at(i) > limit && at(i) < f64::INFINITY, at, f64::max, done);
            }
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for side in &mut self.sides {
            let about = (side.channel, side.stop, side.wider);
            side.runs.end(|span, worst| report(span, worst, about, take, out));
        }
    }
}

fn scan(
    runs: &mut Runs<f64>,
    batch: &BatchView<'_>,
    bad: impl Fn(usize) -> bool,
    at: impl Fn(usize) -> f64,
    worse: fn(f64, f64) -> f64,
    done: impl FnMut(Span, f64),
) {
    runs.scan(batch, bad, &at, |worst, i| *worst = worse(*worst, at(i)), done);
}

fn report(span: Span, worst: f64, (channel, stop, wider): (Channel, f64, bool), take: &TakeView<'_>, out: &mut Report<'_>) {
    let severity = if wider { Severity::Error } else { Severity::Warning };
    let unit = channel.unit().map_or("", |unit| unit.symbol());
    out.add(severity, take.subject(), |finding| {
        let (than, end) = if wider { ("wider", "widest") } else { ("smaller", "smallest") };
        let message = format!(
            "{} {} is {than} than the {end} of the lens, {}",
            channel.info().title,
            words::value(channel, worst),
            words::value(channel, stop)
        );
        let help = "look for T-stops and f-numbers exchanged, for another lens, or for stops counted in thirds";
        span.put(finding.says(message).value("recorded", worst, unit).value(end, stop, unit).help(help))
    });
}
