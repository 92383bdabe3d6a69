//! Encoders that pass their last count and start again at the other end.

use ringmark_model::{Axis, Severity};
use ringmark_quantity::print;

use super::jumps::{Excursion, Excursions, Jump, Rule};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const STEP: ThresholdInfo = ThresholdInfo {
    check: "encoder-wrapped",
    name: "step",
    default: 0.9,
    unit: "of the range in one frame",
    why: "no ring turns from end to end in one frame; a wrap is a whole range less what the ring turned meanwhile",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "encoder-wrapped",
        title: "An encoder passes its last count and starts again at the other end",
        severity: Severity::Error,
        family: Family::Motion,
        since: "0.1.0",
        explanation: include_str!("encoder_wrapped.md"),
        thresholds: &[STEP],
    },
    lens: None,
    take: Some(|_| Some(Box::<Wrapped>::default())),
};

#[derive(Default)]
struct Wrapped {
    axes: [Excursions; 3],
}

impl Watch for Wrapped {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let rule = Rule { floor: take.value(STEP), accept: |jump: &Jump| batch.follows(jump.frame) && is_within(jump), returns };
        for (axis, excursions) in Axis::ALL.into_iter().zip(&mut self.axes) {
            let Some(ring) = batch.numbers(words::ring_channel(axis)) else { continue };
            excursions.scan(batch, ring.iter().copied(), std::iter::empty(), &rule, &mut |found| report(found, axis, take, out));
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let rule = Rule { floor: take.value(STEP), accept: is_within, returns };
        for (axis, excursions) in Axis::ALL.into_iter().zip(&mut self.axes) {
            excursions.end(take.tail, &rule, &mut |found| report(found, axis, take, out));
        }
    }
}

/// Whether both ends are positions of a ring: counts in a column of 0 to 1 jump by far more than a range.
fn is_within(jump: &Jump) -> bool {
    let range = -0.5..=1.5;
    range.contains(&jump.before) && range.contains(&jump.after)
}

fn returns(open: &Jump, jump: &Jump) -> bool {
    open.step().signum() != jump.step().signum()
}

fn report(found: Excursion, axis: Axis, take: &TakeView<'_>, out: &mut Report<'_>) {
    let Excursion { jump, mut span, returned, to_the_end } = found;
    if let Some(last) = take.tail.last.as_ref().filter(|_| to_the_end) {
        span.reach(last.index);
        span.seal_with(Some(last));
    }
    out.add(Severity::Error, take.subject(), |finding| {
        let round = -jump.step().signum();
        let message = format!(
            "{} ring goes from {} to {} in one frame: the encoder wrapped ({})",
            axis.name(),
            print::position(jump.before),
            print::position(jump.after),
            words::frames(span.count())
        );
        let evidence = format!(
            "so counted on, the ring turns by {} in that frame{}",
            words::travel(jump.step() + round),
            if returned { ", and wraps back later" } else { "" }
        );
        let finding = finding
            .says(message)
            .value("before", jump.before, "0..1")
            .value("after", jump.after, "0..1")
            .help("home the motor so that its range is not crossed, or declare a range that begins elsewhere");
        let action = format!("{} one whole range in {}", if round > 0.0 { "add" } else { "take off" }, words::frames(span.count()));
        span.put(finding.repair(action, evidence))
    });
}
