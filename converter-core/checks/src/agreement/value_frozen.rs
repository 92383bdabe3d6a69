//! A recorded value that stands still while its ring moves.

use ringmark_model::{Axis, Channel, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, FrameMark, TakeView};
use crate::words::{self, Fill};

const STILL: ThresholdInfo = ThresholdInfo {
    check: "value-frozen",
    name: "still-frames",
    default: 8.0,
    unit: "frames",
    why: "a rounded value repeats for a few frames while a ring creeps",
};
const FOCUS: ThresholdInfo = ThresholdInfo {
    check: "value-frozen",
    name: "focus-moved",
    default: 0.05,
    unit: "of travel",
    why: "a distance rounded to 1 % changes within a fraction of that",
};
const OTHER: ThresholdInfo = ThresholdInfo {
    check: "value-frozen",
    name: "other-moved",
    default: 0.12,
    unit: "of travel",
    why: "a third of a stop is about 0.05 of travel, a millimetre at 24 mm 0.04",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "value-frozen",
        title: "A recorded value stands still while its ring moves",
        severity: Severity::Error,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("value_frozen.md"),
        thresholds: &[STILL, FOCUS, OTHER],
    },
    lens: None,
    take: Some(|_| Some(Box::<Frozen>::default())),
};

/// What the ring of an axis sets.
const PAIRS: [(Axis, Channel); 4] = [
    (Axis::Focus, Channel::FocusDistance),
    (Axis::Iris, Channel::TStop),
    (Axis::Iris, Channel::FNumber),
    (Axis::Zoom, Channel::NominalFocalLength),
];

/// Beyond this distance in metres rings turn far for little.
const FAR: f64 = 50.0;

#[derive(Default)]
struct Frozen {
    pairs: [Still; PAIRS.len()],
}

/// A run of equal values.
struct Still {
    value: f64,
    frames: u64,
    start: u64,
    /// The first frame by name, once its batch is left.
    mark: Option<FrameMark>,
    last_ring: f64,
    least: f64,
    most: f64,
    largest_step: f64,
    /// Least and largest value of the take so far: at the ends of its scale a value is clamped.
    ends: (f64, f64),
}

impl Default for Still {
    fn default() -> Self {
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        Self { value: f64::NAN, frames: 0, start: 0, mark: None, last_ring: f64::NAN, least: f64::NAN, most: f64::NAN, largest_step: 0.0, ends }
    }
}

impl Still {
    fn start_again(&mut self, value: f64, start: u64, ring: f64) {
        let ends = (self.ends.0.min(value), self.ends.1.max(value));
        *self = Self { value, frames: 1, start, mark: None, last_ring: ring, least: ring, most: ring, largest_step: 0.0, ends };
    }

    #[inline]
    fn go_on(&mut self, ring: f64) {
        self.frames += 1;
        self.least = self.least.min(ring);
        self.most = self.most.max(ring);
        self.largest_step = self.largest_step.max((ring - self.last_ring).abs());
        self.last_ring = ring;
    }

    /// Travel without its largest step: a jump of the ring is its own fault.
    fn moved(&self) -> f64 {
        self.most - self.least - self.largest_step
    }
}

impl Watch for Frozen {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let least = take.value(STILL) as u64;
        for ((axis, channel), still) in PAIRS.into_iter().zip(&mut self.pairs) {
            let (Some(ring), Some(values)) = (batch.numbers(words::ring_channel(axis)), batch.numbers(channel)) else { continue };
            for (at, (&ring, &value)) in ring.iter().zip(values).enumerate() {
                if value == still.value {
                    still.go_on(ring);
                    continue;
                }
                if still.frames >= least {
                    close(still, batch.mark(still.start), |span| span.seal(batch), (axis, channel), take, out);
                }
                still.start_again(value, batch.frame(at), ring);
            }
            if still.mark.is_none() {
                still.mark = batch.mark(still.start);
            }
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let least = take.value(STILL) as u64;
        for (pair, still) in PAIRS.into_iter().zip(&mut self.pairs) {
            if still.frames >= least {
                close(still, None, |span| span.seal_with(take.tail.last.as_ref()), pair, take, out);
            }
        }
    }
}

/// Whether the value is one that a record is clamped to.
fn at_an_end(still: &Still, channel: Channel, take: &TakeView<'_>) -> bool {
    let value = still.value;
    match channel {
        Channel::FocusDistance => {
            let close = take.fact(|lens| lens.close_focus).map(|close| close.metres());
            value <= close.unwrap_or(still.ends.0) * 1.02 || value > FAR
        }
        Channel::NominalFocalLength => {
            let (min, max) = take.fact(|lens| lens.focal_length).map_or(still.ends, |(min, max)| (min.mm(), max.mm()));
            value <= min * 1.01 || value >= max * 0.99
        }
        _ => {
            let (widest, smallest) = match channel {
                Channel::TStop => (take.fact(|lens| lens.widest_t).map(|stop| stop.value()), take.fact(|lens| lens.smallest_t).map(|stop| stop.value())),
                _ => (take.fact(|lens| lens.widest_f).map(|stop| stop.value()), take.fact(|lens| lens.smallest_f).map(|stop| stop.value())),
            };
            value <= widest.unwrap_or(f64::NEG_INFINITY) * 1.02 || value >= smallest.unwrap_or(f64::INFINITY) * 0.98 || value == f64::INFINITY
        }
    }
}

fn close(still: &mut Still, mark: Option<FrameMark>, seal: impl FnOnce(&mut Span), (axis, channel): (Axis, Channel), take: &TakeView<'_>, out: &mut Report<'_>) {
    let limit = take.value(if axis == Axis::Focus { FOCUS } else { OTHER });
    if !(still.moved() > limit && still.value > 0.0) || at_an_end(still, channel, take) {
        return;
    }
    let Some(mark) = still.mark.take().or(mark) else { return };
    let mut span = Span::at(mark);
    span.reach(still.start.saturating_add(still.frames - 1));
    seal(&mut span);
    out.add(Severity::Error, take.subject(), |finding| {
        let unit = channel.unit().map_or("", |unit| unit.symbol());
        let finding = finding
            .says(format!(
                "{} stands at {} for {} while the {} ring turns through {}",
                channel.info().title,
                words::value(channel, still.value),
                words::frames(span.count()),
                axis.name(),
                words::travel(still.most - still.least)
            ))
            .value("recorded", still.value, unit)
            .value("ring from", still.least, "0..1")
            .value("ring to", still.most, "0..1")
            .help("the source of this value stopped or was typed in once: leave it empty, or compute it from the ring with the calibration of the lens");
        span.put(finding)
    });
}
