//! Stops that jump while the iris ring does not.

use ringmark_model::{Channel, Severity};

use super::jumps::{Excursion, Excursions, Jump, Rule};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const STEP: ThresholdInfo = ThresholdInfo {
    check: "stop-jumps",
    name: "step",
    default: 0.4,
    unit: "stop in one frame",
    why: "above the step of stops that are rounded to thirds",
};
const ALONE: ThresholdInfo = ThresholdInfo {
    check: "stop-jumps",
    name: "step-without-ring",
    default: 1.0,
    unit: "stop in one frame",
    why: "a whole stop is a seventh of the travel of an iris ring: not turned in one frame, from rest to rest",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "stop-jumps",
        title: "The stop jumps while the iris ring does not",
        severity: Severity::Error,
        family: Family::Motion,
        since: "0.1.0",
        explanation: include_str!("stop_jumps.md"),
        thresholds: &[STEP, ALONE],
    },
    lens: None,
    take: Some(|_| Some(Box::<StopJumps>::default())),
};

const CHANNELS: [Channel; 2] = [Channel::TStop, Channel::FNumber];

#[derive(Default)]
struct StopJumps {
    channels: [Excursions; 2],
}

/// Stops from T1 or f/1.
fn stops(number: f64) -> f64 {
    if number > 0.0 && number < f64::INFINITY { 2.0 * number.log2() } else { f64::NAN }
}

/// The ring stood still, or nobody recorded it and no ring turns so fast.
fn accept(jump: &Jump, alone: f64) -> bool {
    let silent = jump.other_step.is_nan();
    let still = jump.other_step <= 4.0 * jump.other_typical + 0.004;
    jump.stands_out && (still || silent && jump.step().abs() >= alone)
}

fn returns(open: &Jump, jump: &Jump) -> bool {
    (open.step() + jump.step()).abs() < 0.3 * open.step().abs()
}

impl Watch for StopJumps {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let alone = take.value(ALONE);
        let rule = Rule { floor: take.value(STEP), accept: |jump: &Jump| accept(jump, alone) && batch.follows(jump.frame), returns };
        let ring = batch.numbers(Channel::IrisRing).unwrap_or_default();
        for (channel, excursions) in CHANNELS.into_iter().zip(&mut self.channels) {
            let Some(values) = batch.numbers(channel) else { continue };
            // Most stops are those of the frame before.
            let mut known = (f64::NAN, f64::NAN);
            let values = values.iter().map(|number| {
                if *number != known.0 {
                    known = (*number, stops(*number));
                }
                known.1
            });
            excursions.scan(batch, values, ring.iter().copied(), &rule, &mut |found| report(found, channel, take, out));
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let alone = take.value(ALONE);
        let rule = Rule { floor: take.value(STEP), accept: |jump: &Jump| accept(jump, alone), returns };
        for (channel, excursions) in CHANNELS.into_iter().zip(&mut self.channels) {
            excursions.end(take.tail, &rule, &mut |found| report(found, channel, take, out));
        }
    }
}

fn report(found: Excursion, channel: Channel, take: &TakeView<'_>, out: &mut Report<'_>) {
    let Excursion { jump, span, returned, .. } = found;
    let severity = if jump.other_step.is_nan() { Severity::Warning } else { Severity::Error };
    out.add(severity, take.subject(), |finding| {
        let number = |stops: f64| words::value(channel, 2f64.powf(stops / 2.0));
        let back = if returned { format!(", and back after {}", words::frames(span.count())) } else { String::new() };
        let witness = if jump.other_step.is_nan() { "" } else { "; the iris ring does not move" };
        let message = format!(
            "{} jumps from {} to {} ({:.1} stops) in one frame{back}{witness}",
            channel.info().title,
            number(jump.before),
            number(jump.after),
            jump.step().abs()
        );
        let finding = finding
            .says(message)
            .value("step", jump.step(), "stops")
            .help("look for a filter counted into the stop from here on, for another lens's data, or for a number typed in while the camera ran");
        span.put(finding)
    });
}
