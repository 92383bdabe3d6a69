//! A ring channel that stands still while the ring moves.

use ringmark_model::{Axis, Channel, Severity};
use ringmark_quantity::print;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, FrameMark, TakeView};
use crate::words::{self, Fill};

const STILL: ThresholdInfo = ThresholdInfo {
    check: "ring-frozen",
    name: "still-frames",
    default: 8.0,
    unit: "frames",
    why: "a hand-held ring repeats a reading for a few frames, not for a third of a second while it turns",
};
const MOVED: ThresholdInfo = ThresholdInfo {
    check: "ring-frozen",
    name: "distance-moved",
    default: 0.005,
    unit: "of travel",
    why: "five times what rounding of the distance to 1 mm makes",
};
const STEP: ThresholdInfo = ThresholdInfo {
    check: "ring-frozen",
    name: "step-after",
    default: 0.25,
    unit: "of travel in one frame",
    why: "a ring that really stood still starts with a small step; a frozen record catches up at once",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "ring-frozen",
        title: "A ring position stands still while the ring moves",
        severity: Severity::Error,
        family: Family::Motion,
        since: "0.1.0",
        explanation: include_str!("ring_frozen.md"),
        thresholds: &[STILL, MOVED, STEP],
    },
    lens: None,
    take: Some(|_| Some(Box::<Frozen>::default())),
};

/// Dioptres over the whole travel where nothing is known of the lens: close focus at half a metre.
const USUAL_SPAN: f64 = 2.0;

#[derive(Default)]
struct Frozen {
    axes: [Still; 3],
}

/// A run of equal positions.
struct Still {
    position: f64,
    start: u64,
    frames: u64,
    /// The first frame by name, once the run is long enough or its batch is left.
    mark: Option<FrameMark>,
    last_distance: f64,
    /// Dioptres: least, most, largest step in one frame.
    least: f64,
    most: f64,
    largest_step: f64,
}

impl Default for Still {
    fn default() -> Self {
        Self::starting(f64::NAN, 0, f64::NAN)
    }
}

impl Still {
    fn starting(position: f64, start: u64, distance: f64) -> Self {
        Self {
            position,
            start,
            frames: 1,
            mark: None,
            last_distance: distance,
            least: f64::INFINITY,
            most: f64::NEG_INFINITY,
            largest_step: 0.0,
        }
    }

    fn last_frame(&self) -> u64 {
        self.start.saturating_add(self.frames - 1)
    }

    fn is_long(&self, still: f64) -> bool {
        self.frames as f64 >= still
    }

    #[inline]
    fn go_on(&mut self, distance: f64) {
        self.frames += 1;
        if distance > 0.0 && self.last_distance > 0.0 {
            let (before, now) = (1.0 / self.last_distance, 1.0 / distance);
            self.least = self.least.min(before).min(now);
            self.most = self.most.max(before).max(now);
            self.largest_step = self.largest_step.max((now - before).abs());
        }
        self.last_distance = distance;
    }

    /// Dioptres the distance moved, without its largest step: a jump of the distance is its own fault.
    fn moved(&self) -> f64 {
        (self.most - self.least - self.largest_step).max(0.0)
    }
}

impl Watch for Frozen {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let least = take.value(STILL);
        let distances = batch.numbers(Channel::FocusDistance).unwrap_or_default();
        for (axis, still) in Axis::ALL.into_iter().zip(&mut self.axes) {
            let Some(ring) = batch.numbers(words::ring_channel(axis)) else { continue };
            let companion = if axis == Axis::Focus { distances } else { &[] };
            let mut companion = companion.iter().copied().chain(std::iter::repeat(f64::NAN));
            for (at, &position) in ring.iter().enumerate() {
                let distance = companion.next().unwrap_or(f64::NAN);
                if position == still.position {
                    still.go_on(distance);
                    continue;
                }
                if still.is_long(least) {
                    close(still, position, axis, take, batch, out);
                }
                *still = Still::starting(position, batch.frame(at), distance);
            }
            if still.mark.is_none() {
                still.mark = batch.mark(still.start);
            }
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for (axis, still) in Axis::ALL.into_iter().zip(&mut self.axes) {
            if still.is_long(take.value(STILL))
                && let Some(mark) = still.mark.take()
            {
                let mut span = Span::at(mark);
                span.reach(still.last_frame());
                span.seal_with(take.tail.last.as_ref());
                report(still, span, f64::NAN, axis, take, out);
            }
        }
    }
}

fn close(still: &mut Still, next: f64, axis: Axis, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let Some(mark) = still.mark.take().or_else(|| batch.mark(still.start)) else { return };
    let mut span = Span::at(mark);
    span.reach(still.last_frame());
    span.seal(batch);
    report(still, span, next - still.position, axis, take, out);
}

/// Dioptres that the threshold of travel is at a ring position.
fn dioptres_of_threshold(take: &TakeView<'_>, position: f64) -> f64 {
    let slope = take.focus.map(|focus| focus.curve.coordinate_and_slope(position, &mut 0).1.abs());
    let close = take.fact(|lens| lens.close_focus).map(|close| 1.0 / close.metres());
    take.value(MOVED) * slope.filter(|slope| *slope > 0.0).or(close).unwrap_or(USUAL_SPAN)
}

fn report(still: &Still, span: Span, step: f64, axis: Axis, take: &TakeView<'_>, out: &mut Report<'_>) {
    let moved = still.moved() > dioptres_of_threshold(take, still.position);
    let stepped = step.abs() > take.value(STEP);
    if !moved && !stepped {
        return;
    }
    let severity = if moved { Severity::Error } else { Severity::Warning };
    out.add(severity, take.subject(), |finding| {
        let frames = words::frames(span.count());
        let position = print::position(still.position);
        let message = if moved {
            format!(
                "{} ring stands at {position} for {frames} while the recorded distance moves between {} and {}",
                axis.name(),
                words::distance(1.0 / still.most),
                words::distance(1.0 / still.least)
            )
        } else {
            format!("{} ring stands at {position} for {frames}, then steps by {} in one frame", axis.name(), words::travel(step))
        };
        let finding = finding
            .says(message)
            .value("ring", still.position, "0..1")
            .help("the encoder or its link stopped reporting: leave these positions empty, or compute them from the distance");
        span.put(finding)
    });
}
