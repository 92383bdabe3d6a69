//! Values on so coarse a grid that steps show in the picture.

use ringmark_model::{Axis, Channel, Severity};

use super::lens_columns::{LensColumns, LensFacts};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, FrameMark, TakeView};
use crate::words::{self, Fill};

const RING: ThresholdInfo = ThresholdInfo {
    check: "values-too-coarse",
    name: "ring-step",
    default: 0.0025,
    unit: "of travel",
    why: "400 steps from end to end: less than a scale of 300 degrees is read to by eye",
};
const DEPTH: ThresholdInfo = ThresholdInfo {
    check: "values-too-coarse",
    name: "distance-step",
    default: 1.0,
    unit: "depths of field",
    why: "from one value to the next the subject is out of focus and in again",
};
const STEPS: ThresholdInfo = ThresholdInfo {
    check: "values-too-coarse",
    name: "least-steps",
    default: 12.0,
    unit: "steps",
    why: "fewer may lie on a grid by chance",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "values-too-coarse",
        title: "Values are rounded so coarsely that their steps show",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("values_too_coarse.md"),
        thresholds: &[RING, DEPTH, STEPS],
    },
    lens: None,
    take: Some(|take| Some(Box::new(Coarse::new(LensFacts::of(take))))),
};

/// Steps kept: a grid shows in far fewer.
const MOST: usize = 512;
/// Still frames between two steps that belong to one motion.
const PAUSE: u32 = 12;

struct Coarse {
    facts: LensFacts,
    first: Option<FrameMark>,
    rings: [Grid; 3],
    distance: Grid,
    /// Full depth of field where the distance stepped, in dioptres; least and distance there.
    tightest: f64,
    nearest: f64,
}

/// Steps of a value.
#[derive(Default)]
struct Grid {
    last: Option<f64>,
    steps: Vec<f64>,
    still: u32,
    /// Frames that stood still between two steps of one motion.
    held: u32,
}

impl Grid {
    /// Looks at the next value; the step, if there was one.
    #[inline]
    fn push(&mut self, value: f64) -> Option<f64> {
        let step = (value - self.last?).abs();
        if step == 0.0 {
            self.still = self.still.saturating_add(1);
            return None;
        }
        if self.still <= PAUSE && !self.steps.is_empty() {
            self.held = self.held.saturating_add(self.still);
        }
        self.still = 0;
        self.steps.push(step);
        Some(step)
    }

    #[inline]
    fn look(&mut self, value: f64) -> Option<f64> {
        if self.steps.len() >= MOST || !value.is_finite() {
            return None;
        }
        let step = self.push(value);
        self.last = Some(value);
        step
    }

    /// The width of the grid that all steps lie on, if there is one.
    fn width(&self, least: f64) -> Option<f64> {
        if (self.steps.len() as f64) < least {
            return None;
        }
        let width = self.steps.iter().copied().fold(f64::INFINITY, f64::min);
        let times = |step: &f64| (step / width).round();
        // A few steps off the grid are faults of their own, as jumps.
        let on = self.steps.iter().filter(|step| (**step / width - times(step)).abs() < 0.06).count();
        let several = self.steps.iter().filter(|step| times(step) > 1.0).count();
        // At one even speed every motion has equal steps: a grid shows in waits, or in steps of different size.
        let stairs = self.held as usize + several >= self.steps.len() / 3;
        (on * 20 >= self.steps.len() * 19 && stairs).then_some(width)
    }
}

impl Coarse {
    fn new(facts: LensFacts) -> Self {
        Self { facts, first: None, rings: Default::default(), distance: Grid::default(), tightest: f64::INFINITY, nearest: f64::NAN }
    }
}

impl Watch for Coarse {
    fn frames(&mut self, _take: &TakeView<'_>, batch: &BatchView<'_>, _out: &mut Report<'_>) {
        self.first.get_or_insert_with(|| batch.mark_at(0));
        for (axis, grid) in Axis::ALL.into_iter().zip(&mut self.rings) {
            for &position in batch.numbers(words::ring_channel(axis)).unwrap_or_default() {
                grid.look(position);
            }
        }
        let Some(distances) = batch.numbers(Channel::FocusDistance).filter(|_| self.distance.steps.len() < MOST) else { return };
        let lens = LensColumns::of(&self.facts, batch.batch);
        for (at, &metres) in distances.iter().enumerate() {
            // 0 is 'not recorded' in many places: another check speaks about it.
            if metres <= 0.0 || self.distance.look(metres).is_none() {
                continue;
            }
            let (focal_length, f_number) = lens.at(at);
            // Full depth in dioptres: 2 N c / f², lengths in metres.
            let depth = 2.0 * f_number * self.facts.circle.mm() * 1000.0 / (focal_length * focal_length);
            if depth * metres * metres < self.tightest {
                (self.tightest, self.nearest) = (depth * metres * metres, metres);
            }
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let least = take.value(STEPS);
        for (axis, grid) in Axis::ALL.into_iter().zip(&self.rings) {
            let Some(width) = grid.width(least).filter(|width| *width > take.value(RING)) else { continue };
            let message = format!("{} ring positions come in steps of {}: {:.0} from end to end", axis.name(), words::travel(width), 1.0 / width);
            self.report(message, (width, "of travel"), take, out);
        }
        if let Some(width) = self.distance.width(least).filter(|width| *width > self.tightest * take.value(DEPTH)) {
            let message = format!(
                "focus distances come in steps of {}, {:.1} times the depth of field at {}",
                words::distance(width),
                width / self.tightest,
                words::distance(self.nearest)
            );
            self.report(message, (width, "m"), take, out);
        }
    }
}

impl Coarse {
    fn report(&self, message: String, (width, unit): (f64, &'static str), take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some(first) = self.first.clone() else { return };
        out.add(Severity::Warning, take.subject(), |finding| {
            let mut span = Span::at(first);
            if let Some(last) = take.tail.last.as_ref() {
                span.reach(last.index);
                span.seal_with(Some(last));
            }
            let help = "look for a column of whole counts or feet, for an 8-bit path on the way, or take the values from the raw counts";
            span.put(finding.says(message).value("step", width, unit).help(help))
        });
    }
}
