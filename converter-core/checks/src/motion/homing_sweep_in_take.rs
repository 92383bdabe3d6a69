//! A motor that looks for its end stops while the camera runs.

use ringmark_model::{Axis, Severity};
use ringmark_quantity::print;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, FrameMark, TakeView};
use crate::words::{self, Fill};

const END: ThresholdInfo = ThresholdInfo {
    check: "homing-sweep-in-take",
    name: "end-stop",
    default: 0.01,
    unit: "of travel",
    why: "a motor that homes turns up to the stop; marks of infinity and close focus lie inside of it",
};
const BACK: ThresholdInfo = ThresholdInfo {
    check: "homing-sweep-in-take",
    name: "back-to",
    default: 0.03,
    unit: "of travel",
    why: "after homing the motor goes back to where the hand unit stands",
};
const SECONDS: ThresholdInfo = ThresholdInfo {
    check: "homing-sweep-in-take",
    name: "longest",
    default: 8.0,
    unit: "s",
    why: "homing takes 2 to 6 s",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "homing-sweep-in-take",
        title: "A ring goes to both end stops and back",
        severity: Severity::Warning,
        family: Family::Motion,
        since: "0.1.0",
        explanation: include_str!("homing_sweep_in_take.md"),
        thresholds: &[END, BACK, SECONDS],
    },
    lens: None,
    take: Some(|_| Some(Box::<Homing>::default())),
};

/// Frames without motion after which a ring rests.
const REST: u32 = 4;
/// Steps up to this, in travel, are no motion.
const STILL: f64 = 0.002;
/// Steps above this are no motion of a motor that homes.
const JUMP: f64 = 0.5;

#[derive(Default)]
struct Homing {
    axes: [Sweep; 3],
}

/// Where a ring rested last, and what it did since.
#[derive(Default)]
struct Sweep {
    last: Option<f64>,
    still: u32,
    /// Position at rest, and the first frame in motion after it.
    rest: Option<f64>,
    left: Option<FrameMark>,
    low: bool,
    high: bool,
    /// First of the frames that stand still now.
    settled: Option<FrameMark>,
}

impl Watch for Homing {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let end = take.value(END);
        for (axis, sweep) in Axis::ALL.into_iter().zip(&mut self.axes) {
            let Some(ring) = batch.numbers(words::ring_channel(axis)) else { continue };
            for (at, &position) in ring.iter().enumerate() {
                sweep.step(position, || batch.mark_at(at), end, axis, take, out);
            }
        }
    }
}

impl Sweep {
    #[inline]
    fn step(&mut self, position: f64, mark: impl Fn() -> FrameMark, end: f64, axis: Axis, take: &TakeView<'_>, out: &mut Report<'_>) {
        let step = self.last.map_or(0.0, |last| (position - last).abs());
        let moved = step > STILL;
        if step > JUMP {
            // An encoder that wraps passes both ends without going there.
            *self = Sweep { last: Some(position), ..Sweep::default() };
            return;
        }
        self.last = Some(position);
        if moved {
            if self.still >= REST && self.left.is_none() {
                self.left = Some(mark());
            }
            self.still = 0;
            self.settled = None;
        } else {
            if self.left.is_some() && self.still == 0 {
                self.settled = Some(mark());
            }
            self.still = self.still.saturating_add(1);
        }
        (self.low, self.high) = (self.low || position <= end, self.high || position >= 1.0 - end);
        // At a stop a motor waits for a moment: that is no rest.
        let inside = position > end && position < 1.0 - end;
        if self.still < REST || !inside {
            return;
        }
        if let (Some(left), Some(rest), Some(settled)) = (self.left.take(), self.rest, self.settled.take())
            && self.low
            && self.high
        {
            report(left, settled, (rest, position), axis, take, out);
        }
        (self.rest, self.low, self.high) = (Some(position), false, false);
    }
}

fn report(left: FrameMark, settled: FrameMark, (rest, position): (f64, f64), axis: Axis, take: &TakeView<'_>, out: &mut Report<'_>) {
    let rate = take.take.capture_rate.or(take.take.frame_rate).map_or(24.0, |rate| rate.as_f64());
    let seconds = settled.index.saturating_sub(left.index) as f64 / rate;
    if (position - rest).abs() > take.value(BACK) || seconds > take.value(SECONDS) {
        return;
    }
    out.add(Severity::Warning, take.subject(), |finding| {
        let finding = finding
            .says(format!(
                "{} ring goes from {} to both end stops and back to {} within {seconds:.1} s: a motor homes",
                axis.name(),
                print::position(rest),
                print::position(position)
            ))
            .value("from", rest, "0..1")
            .value("back to", position, "0..1")
            .value("time", seconds, "s")
            .help("leave the positions of these frames empty or cut them off; have motors home before the camera runs");
        let mut span = Span::at(left);
        span.reach(settled.index);
        span.seal_with(Some(&settled));
        span.put(finding)
    });
}
