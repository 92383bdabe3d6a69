//! Ring positions that are read more seldom than once a frame.

use ringmark_model::{Axis, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, FrameMark, TakeView};
use crate::words::{self, Fill};

const MOTION: ThresholdInfo = ThresholdInfo {
    check: "readings-held",
    name: "least-motion",
    default: 0.02,
    unit: "of travel in 8 frames",
    why: "a ring that moves so fast changes in every frame, whatever its encoder",
};
const FRAMES: ThresholdInfo = ThresholdInfo {
    check: "readings-held",
    name: "least-frames",
    default: 24.0,
    unit: "frames in motion",
    why: "a second in motion; fewer may hesitate by chance",
};
const SHARE: ThresholdInfo = ThresholdInfo {
    check: "readings-held",
    name: "held-share",
    default: 0.4,
    unit: "of these frames",
    why: "a reading every second frame repeats in half of them, every third in two thirds",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "readings-held",
        title: "Ring positions are read more seldom than once a frame",
        severity: Severity::Warning,
        family: Family::Motion,
        since: "0.1.0",
        explanation: include_str!("readings_held.md"),
        thresholds: &[MOTION, FRAMES, SHARE],
    },
    lens: None,
    take: Some(|_| Some(Box::<Held>::default())),
};

/// Steps looked at together.
const WINDOW: usize = 8;
/// Positions kept before the older ones are dropped at once.
const KEPT: usize = 512;

#[derive(Default)]
struct Held {
    first: Option<FrameMark>,
    axes: [Readings; 3],
}

#[derive(Default)]
struct Readings {
    /// Positions, the last `WINDOW` + 1 of them looked at together.
    positions: Vec<f64>,
    moving: u64,
    held: u64,
}

impl Readings {
    #[inline]
    fn push(&mut self, position: f64, motion: f64) {
        if !position.is_finite() {
            self.positions.clear();
            return;
        }
        self.positions.push(position);
        let count = self.positions.len();
        if count <= WINDOW {
            return;
        }
        let window = &self.positions[count - WINDOW - 1..];
        // The common case, a ring that rests or creeps, is passed over.
        if (window[WINDOW] - window[0]).abs() > motion {
            let moving = in_motion(window);
            self.moving += u64::from(moving);
            self.held += u64::from(moving && window[WINDOW / 2] == window[WINDOW / 2 + 1]);
        }
        if count >= KEPT {
            self.positions.drain(..count - WINDOW);
        }
    }
}

/// Whether positions go one way, and not in a single step: that is a jump.
fn in_motion(window: &[f64]) -> bool {
    let steps = || window.iter().zip(window.iter().skip(1)).map(|(a, b)| b - a);
    let sum: f64 = steps().sum();
    let back: f64 = steps().filter(|step| step * sum < 0.0).map(f64::abs).sum();
    let largest = steps().fold(0.0, |most: f64, step| most.max(step.abs()));
    back < 0.05 * sum.abs() && steps().filter(|step| step.abs() > 0.1 * largest).count() > 1
}

impl Watch for Held {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, _out: &mut Report<'_>) {
        self.first.get_or_insert_with(|| batch.mark_at(0));
        let motion = take.value(MOTION);
        for (axis, readings) in Axis::ALL.into_iter().zip(&mut self.axes) {
            for &position in batch.numbers(words::ring_channel(axis)).unwrap_or_default() {
                readings.push(position, motion);
            }
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for (axis, readings) in Axis::ALL.into_iter().zip(&self.axes) {
            let (moving, held) = (readings.moving as f64, readings.held as f64);
            let Some(first) = self.first.clone().filter(|_| moving >= take.value(FRAMES) && held >= moving * take.value(SHARE)) else { continue };
            out.add(Severity::Warning, take.subject(), |finding| {
                let mut span = Span::at(first);
                if let Some(last) = take.tail.last.as_ref() {
                    span.reach(last.index);
                    span.seal_with(Some(last));
                }
                let message = format!(
                    "{} ring positions repeat in {held} of {moving} frames in motion: there is a new one every {:.1} frames",
                    axis.name(),
                    moving / (moving - held)
                );
                let finding = finding
                    .says(message)
                    .value("frames in motion", moving, "frames")
                    .value("repeated", held, "frames")
                    .help("the encoder is read at a lower rate than frames are recorded: raise its rate, or interpolate between new readings before a motion is matched");
                span.put(finding)
            });
        }
    }
}
