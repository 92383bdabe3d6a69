//! Ring positions that jump.

use ringmark_model::{Axis, Channel, Severity};
use ringmark_quantity::print;

use super::jumps::{Excursion, Excursions, Jump, Rule};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const FLOOR: ThresholdInfo = ThresholdInfo {
    check: "ring-jump",
    name: "isolated-step",
    default: 0.03,
    unit: "of travel",
    why: "far above reading noise; only steps eight times larger than those before them count",
};
const SPEED: ThresholdInfo = ThresholdInfo {
    check: "ring-jump",
    name: "fastest-step",
    default: 0.30,
    unit: "of travel in 1/24 s",
    why: "hands and motors need 0.2 to 0.3 s from end to end; a smooth pull peaks at twice its mean",
};
const WRAP: ThresholdInfo = ThresholdInfo {
    check: "ring-jump",
    name: "wrap",
    default: 0.5,
    unit: "of travel in one frame",
    why: "an encoder that passes its last count starts again at the other end",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "ring-jump",
        title: "A ring position jumps",
        severity: Severity::Error,
        family: Family::Motion,
        since: "0.1.0",
        explanation: include_str!("ring_jump.md"),
        thresholds: &[FLOOR, SPEED, WRAP],
    },
    lens: None,
    take: Some(|_| Some(Box::<RingJump>::default())),
};

#[derive(Default)]
struct RingJump {
    axes: [Excursions; 3],
}

impl Watch for RingJump {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let fastest = fastest(take);
        let distances = batch.numbers(Channel::FocusDistance).unwrap_or_default();
        for (axis, excursions) in Axis::ALL.into_iter().zip(&mut self.axes) {
            let Some(ring) = batch.numbers(words::ring_channel(axis)) else { continue };
            let companion = if axis == Axis::Focus { distances } else { &[] };
            let rule = Rule {
                floor: take.value(FLOOR),
                accept: |jump: &Jump| accept(jump, fastest) && batch.follows(jump.frame),
                returns,
            };
            let dioptres = companion.iter().map(|metres| dioptres(*metres));
            excursions.scan(batch, ring.iter().copied(), dioptres, &rule, &mut |found| report(found, axis, fastest, take, out));
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let fastest = fastest(take);
        for (axis, excursions) in Axis::ALL.into_iter().zip(&mut self.axes) {
            let rule = Rule { floor: take.value(FLOOR), accept: |jump: &Jump| accept(jump, fastest), returns };
            excursions.end(take.tail, &rule, &mut |found| report(found, axis, fastest, take, out));
        }
    }
}

/// Dioptres of a recorded distance; 0 and below are no distances.
fn dioptres(metres: f64) -> f64 {
    if metres > 0.0 { 1.0 / metres } else { f64::NAN }
}

/// The largest step that is motion, at the rate of the take.
fn fastest(take: &TakeView<'_>) -> f64 {
    let rate = take.take.capture_rate.or(take.take.frame_rate).map_or(24.0, |rate| rate.as_f64());
    (take.value(SPEED) * 24.0 / rate).clamp(take.value(FLOOR), take.value(WRAP).max(take.value(FLOOR)))
}

fn accept(jump: &Jump, fastest: f64) -> bool {
    jump.stands_out || jump.step().abs() > fastest
}

fn returns(open: &Jump, jump: &Jump) -> bool {
    (open.step() + jump.step()).abs() < 0.3 * open.step().abs()
}

fn report(found: Excursion, axis: Axis, fastest: f64, take: &TakeView<'_>, out: &mut Report<'_>) {
    let Excursion { jump, span, returned, .. } = found;
    let step = jump.step().abs();
    let wraps = step > take.value(WRAP);
    // The other record of the same ring stood still: then it did not move.
    let contradicted = jump.other_step <= 4.0 * jump.other_typical + 0.002;
    let severity = if step > fastest || contradicted { Severity::Error } else { Severity::Warning };
    out.add(severity, take.subject(), |finding| {
        let back = if returned { format!(", and back after {}", words::frames(span.count())) } else { String::new() };
        let witness = if contradicted { "; the recorded distance does not" } else { "" };
        let message = format!(
            "{} ring jumps from {} to {} ({}) in one frame{back}{witness}",
            axis.name(),
            print::position(jump.before),
            print::position(jump.after),
            words::travel(step)
        );
        let help = if wraps {
            "the encoder probably passed its last count and started again: unwrap the counts, or home the motor so that the range is not crossed"
        } else {
            "the encoder probably lost counts or was homed anew: correct the frames by the step, or leave them empty"
        };
        let finding = finding.says(message).value("before", jump.before, "0..1").value("after", jump.after, "0..1").help(help);
        span.put(finding)
    });
}
