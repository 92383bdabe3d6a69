//! Distances that are in another unit for a stretch of a take.

use ringmark_model::{Channel, Severity};

use super::factor::{UnitFactor, factor_between, unit_factor};
use crate::agreement::distance_jumps::{DistanceJump, DistanceJumps};
use crate::agreement::{LIMIT, comparable, travel_off};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, FocusScale, TakeView};
use crate::words::{self, Fill};

pub(crate) const TOLERANCE: ThresholdInfo = ThresholdInfo {
    check: "distance-unit-flips",
    name: "factor-tolerance",
    default: 0.03,
    unit: "of the factor between the units",
    why: "the ring may move a little in the frame in which the unit changes",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "distance-unit-flips",
        title: "Focus distances change their unit inside a take",
        severity: Severity::Error,
        family: Family::Units,
        since: "0.1.0",
        explanation: include_str!("distance_unit_flips.md"),
        thresholds: &[TOLERANCE],
    },
    lens: None,
    take: Some(|_| Some(Box::<UnitFlips>::default())),
};

#[derive(Default)]
struct UnitFlips {
    /// Remembers the first distance, what the ring gives there, and the units.
    runs: Runs<(f64, f64, Option<UnitFactor>)>,
    jumps: DistanceJumps,
}

impl Watch for UnitFlips {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Some(column) = batch.batch.number_column(Channel::FocusDistance) else { return };
        match take.focus.filter(|focus| comparable(focus, column)) {
            Some(focus) => self.compare(focus, &column.values, take, batch, out),
            None => self.jumps.scan(batch, 0.0, &mut |jump| report_jump(jump, take, out)),
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        self.runs.end(|span, seen| report(span, seen, take, out));
        self.jumps.end(take.tail, &mut |jump| report_jump(jump, take, out));
    }
}

impl UnitFlips {
    fn compare(&mut self, focus: &FocusScale, distances: &[f64], take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Some(ring) = batch.numbers(Channel::FocusRing) else { return };
        let at = |i: usize| (ring.get(i).copied().unwrap_or(f64::NAN), distances.get(i).copied().unwrap_or(f64::NAN));
        let hint = std::cell::Cell::new(0);
        let limit = take.value(LIMIT);
        let flipped = |i: usize| {
            let (ring, distance) = at(i);
            let mut interval = hint.get();
            let (dioptres, _) = focus.curve.coordinate_and_slope(ring, &mut interval);
            hint.set(interval);
            // The smallest factor is 3.28 either way.
            let ratio = distance * dioptres;
            let other_unit = !(0.4..=2.5).contains(&ratio) && ratio > 0.0 && ratio < f64::INFINITY;
            other_unit && travel_off(focus, ring, distance) > limit && factor_between(focus, ring, distance, limit).is_some()
        };
        let begin = |i: usize| {
            let (ring, distance) = at(i);
            (distance, focus.curve.value_at(ring), factor_between(focus, ring, distance, limit))
        };
        self.runs.scan(batch, flipped, begin, |_, _| {}, |span, seen| report(span, seen, take, out));
    }
}

fn report(span: Span, (recorded, given, unit): (f64, f64, Option<UnitFactor>), take: &TakeView<'_>, out: &mut Report<'_>) {
    let Some(unit) = unit else { return };
    out.add(Severity::Error, take.subject(), |finding| {
        let message = format!(
            "focus distance {} where the ring gives {}: {} times as far",
            words::distance(recorded),
            words::distance(given),
            words::short(recorded / given)
        );
        let finding = finding.says(message).value("recorded", recorded, "m").value("from the ring", given, "m");
        let action = action(unit, span.count());
        span.put(finding.repair(action, format!("divided by {}, the distances are what the ring gives", words::short(unit.factor))))
    });
}

fn report_jump(jump: DistanceJump, take: &TakeView<'_>, out: &mut Report<'_>) {
    let Some(unit) = unit_factor(jump.after / jump.before, take.value(TOLERANCE)) else { return };
    let mut span = jump.excursion.span;
    if let Some(last) = take.tail.last.as_ref().filter(|_| jump.excursion.to_the_end) {
        span.reach(last.index);
        span.seal_with(Some(last));
    }
    out.add(Severity::Error, take.subject(), |finding| {
        let message = format!(
            "focus distance jumps from {} to {} in one frame, by the factor {}, while the ring moves {}",
            words::distance(jump.before),
            words::distance(jump.after),
            words::short(jump.after / jump.before),
            words::travel(jump.ring_step)
        );
        let back = match (jump.excursion.returned, jump.excursion.to_the_end) {
            (true, _) => "it jumps back by the same factor",
            (_, true) => "it stays so to the end of the take",
            _ => "it jumps again later",
        };
        let finding = finding.says(message).value("before", jump.before, "m").value("after", jump.after, "m");
        let action = action(unit, span.count());
        span.put(finding.repair(action, format!("the factor is that of the units, {}, and {back}", words::short(unit.factor))))
    });
}

fn action(unit: UnitFactor, frames: u64) -> String {
    format!("{} in {}: divide the distances by {}", unit.story, words::frames(frames), words::short(unit.factor))
}
