//! A value that is frames behind or ahead of its ring.

use ringmark_model::{Axis, Channel, Severity};

use super::comparable;
use crate::by_frame::value;
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, FrameMark, TakeView};
use crate::words::{self, Fill};

const MOVED: ThresholdInfo = ThresholdInfo {
    check: "channels-out-of-step",
    name: "moved",
    default: 0.1,
    unit: "of travel",
    why: "a ring that hardly turns does not tell when it turned",
};
const LIKENESS: ThresholdInfo = ThresholdInfo {
    check: "channels-out-of-step",
    name: "likeness",
    default: 0.9,
    unit: "of the motion explained",
    why: "moved into step, ring and value make the same motion but for rounding",
};
const BETTER: ThresholdInfo = ThresholdInfo {
    check: "channels-out-of-step",
    name: "better",
    default: 4.0,
    unit: "times less unexplained",
    why: "smooth motion is like itself a frame later: the fit must be much better than in step",
};
const IN_STEP: ThresholdInfo = ThresholdInfo {
    check: "channels-out-of-step",
    name: "in-step-without-scale",
    default: 0.85,
    unit: "of the motion explained",
    why: "without a scale a drive that is not even shifts the likeness by a frame or two",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "channels-out-of-step",
        title: "A value is frames behind or ahead of its ring",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("channels_out_of_step.md"),
        thresholds: &[MOVED, LIKENESS, BETTER, IN_STEP],
    },
    lens: None,
    take: Some(|_| Some(Box::<OutOfStep>::default())),
};

/// Frames looked for either way.
const REACH: usize = 12;
/// Frames in motion that are compared: a path that is late is so all along, and the rest need not be computed.
const MOST: u32 = 20_000;
/// Steps kept before the older ones are dropped at once.
const KEPT: usize = 512;

/// Share of all motion, in squares, that one step of a pull has at most: a pull of ten frames and more.
const ONE_STEP: f64 = 0.22;

/// What follows the ring of an axis.
const PAIRS: [(Axis, Channel); 4] = [
    (Axis::Focus, Channel::FocusDistance),
    (Axis::Iris, Channel::TStop),
    (Axis::Iris, Channel::FNumber),
    (Axis::Zoom, Channel::NominalFocalLength),
];

#[derive(Default)]
struct OutOfStep {
    first: Option<FrameMark>,
    pairs: [Pair; PAIRS.len()],
}

/// Steps of a ring and of its value, and how alike they are at each lag.
#[derive(Default)]
struct Pair {
    /// Coordinates of ring and value, and the position, of the frame before.
    last: Option<(f64, f64, f64)>,
    hint: usize,
    ring: Vec<f64>,
    value: Vec<f64>,
    /// The last value, and its coordinate: most values are those of the frame before.
    known: (f64, f64),
    /// Sums of products, from a value `REACH` frames ahead of the ring to one as many behind.
    products: [f64; 2 * REACH + 1],
    /// Frames in motion so far.
    compared: u32,
    /// Squares of the ring's steps that were compared, and of all steps of the value.
    ring_energy: f64,
    value_energy: f64,
    /// The largest of them.
    largest: (f64, f64),
    /// Squares of the value's first steps: a lag leaves some of them out.
    head: Vec<f64>,
    travel: f64,
    /// Whether the ring was compared in the coordinate of its value.
    on_scale: bool,
}

/// What a pair says.
#[derive(Debug, Clone, Copy)]
struct Lag {
    /// Frames that the value is behind.
    frames: i64,
    /// Share of the motion explained at this lag, and in step.
    explained: f64,
    in_step: f64,
}

impl Pair {
    /// Takes the next frame: the ring in the coordinate of its value if the scale is known, else in travel.
    #[inline]
    fn push(&mut self, ring: f64, coordinate: f64, position: f64) {
        if self.compared >= MOST {
            return;
        }
        let Some((ring_before, before, position_before)) = self.last.replace((ring, coordinate, position)) else { return };
        let step = |a: f64, b: f64| Some(b - a).filter(|step| step.is_finite()).unwrap_or(0.0);
        let (ring_step, value_step) = (step(ring_before, ring), step(before, coordinate));
        self.travel += step(position_before, position).abs();
        self.ring.push(ring_step);
        self.value.push(value_step);
        self.value_energy += value_step * value_step;
        self.largest = (self.largest.0.max(ring_step * ring_step), self.largest.1.max(value_step * value_step));
        if self.head.len() < 2 * REACH {
            self.head.push(value_step * value_step);
        }
        let count = self.ring.len();
        if count <= 2 * REACH {
            return;
        }
        // The frame in the middle of the ring against the value around it.
        let middle = self.ring[count - 1 - REACH];
        self.ring_energy += middle * middle;
        if middle != 0.0 {
            self.compared += 1;
            for (sum, step) in self.products.iter_mut().zip(&self.value[count - 1 - 2 * REACH..]) {
                *sum += middle * step;
            }
        }
        if count >= KEPT {
            self.ring.drain(..count - 2 * REACH);
            self.value.drain(..count - 2 * REACH);
        }
    }

    /// The coordinate of a value.
    #[inline]
    fn coordinate(&mut self, channel: Channel, value: f64) -> f64 {
        if value != self.known.0 {
            self.known = (value, coordinate(channel, value));
        }
        self.known.1
    }

    fn lag(&self) -> Option<Lag> {
        // A jump outweighs all motion: two of them, far apart, would look like a lag.
        if self.largest.0 > ONE_STEP * self.ring_energy || self.largest.1 > ONE_STEP * self.value_energy {
            return None;
        }
        let skipped = |k: usize| {
            let tail = self.value.iter().rev().take(2 * REACH - k).map(|step| step * step);
            self.head.iter().take(k).sum::<f64>() + tail.sum::<f64>()
        };
        let energies: Vec<f64> = (0..self.products.len()).map(|k| self.ring_energy * (self.value_energy - skipped(k))).collect();
        // A value that stood still within reach, but for rounding of the sums, explains nothing.
        let least = 1e-9 * self.ring_energy * self.value_energy;
        let explained = |k: usize| if energies[k] > least { self.products[k] * self.products[k] / energies[k] } else { 0.0 };
        let best = (0..self.products.len()).max_by(|a, b| explained(*a).total_cmp(&explained(*b)))?;
        (explained(best) > 0.0).then(|| Lag { frames: best as i64 - REACH as i64, explained: explained(best), in_step: explained(REACH) })
    }
}

/// The coordinate in which a value is even over its ring.
fn coordinate(channel: Channel, value: f64) -> f64 {
    match channel {
        _ if value <= 0.0 => f64::NAN,
        Channel::FocusDistance => 1.0 / value,
        _ => value.ln(),
    }
}

impl Watch for OutOfStep {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, _out: &mut Report<'_>) {
        self.first.get_or_insert_with(|| batch.mark_at(0));
        for ((axis, channel), pair) in PAIRS.into_iter().zip(&mut self.pairs) {
            let (Some(ring), Some(column)) = (batch.numbers(words::ring_channel(axis)), batch.batch.number_column(channel)) else { continue };
            if pair.compared >= MOST {
                continue;
            }
            let scale = take.focus.filter(|focus| axis == Axis::Focus && comparable(focus, column));
            pair.on_scale = scale.is_some();
            for (at, &position) in ring.iter().enumerate() {
                let on_scale = match scale {
                    Some(focus) => focus.curve.coordinate_and_slope(position, &mut pair.hint).0,
                    None => position,
                };
                let value = pair.coordinate(channel, value(Some(&column.values), at));
                pair.push(on_scale, value, position);
            }
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for ((axis, channel), pair) in PAIRS.into_iter().zip(&self.pairs) {
            let Some(lag) = pair.lag().filter(|lag| lag.frames != 0) else { continue };
            let better = (1.0 - lag.in_step) / (1.0 - lag.explained).max(1e-9);
            if pair.travel < take.value(MOVED) || lag.explained < take.value(LIKENESS) || better < take.value(BETTER) {
                continue;
            }
            if !pair.on_scale && lag.in_step > take.value(IN_STEP) {
                continue;
            }
            self.report(lag, axis, channel, take, out);
        }
    }
}

impl OutOfStep {
    fn report(&self, lag: Lag, axis: Axis, channel: Channel, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some(first) = self.first.clone() else { return };
        // One frame is a matter of which end of the exposure a device reads at.
        let severity = if lag.frames.abs() > 1 { Severity::Warning } else { Severity::Note };
        out.add(severity, take.subject(), |finding| {
            let mut span = Span::at(first);
            if let Some(last) = take.tail.last.as_ref() {
                span.reach(last.index);
                span.seal_with(Some(last));
            }
            let size = words::frames(lag.frames.unsigned_abs());
            let way = if lag.frames > 0 { "behind" } else { "ahead of" };
            let name = channel.info().title;
            let finding = finding
                .says(format!("{name} is {size} {way} the {} ring", axis.name()))
                .value("behind by", lag.frames as f64, "frames")
                .help("the two came by different paths, one of them through a buffer: move one column by this many rows");
            let turn = if lag.frames > 0 { "earlier" } else { "later" };
            let evidence = format!(
                "so moved, {:.1} % of the motion of both is the same, as recorded {:.1} %",
                lag.explained * 100.0,
                lag.in_step * 100.0
            );
            span.put(finding.repair(format!("move the {name} {size} {turn}"), evidence))
        });
    }
}
