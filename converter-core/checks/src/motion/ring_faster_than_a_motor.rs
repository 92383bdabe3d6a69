//! Rings that turn faster than anybody and anything can turn them.

use ringmark_model::{Axis, Lens, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const SPEED: ThresholdInfo = ThresholdInfo {
    check: "ring-faster-than-a-motor",
    name: "speed",
    default: 1800.0,
    unit: "deg/s",
    why: "a strong motor turns a ring of 300 degrees in a third of a second, at twice its mean speed halfway",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "ring-faster-than-a-motor",
        title: "A ring turns faster than a motor can turn it",
        severity: Severity::Warning,
        family: Family::Motion,
        since: "0.1.0",
        explanation: include_str!("ring_faster_than_a_motor.md"),
        thresholds: &[SPEED],
    },
    lens: None,
    take: Some(|take| {
        let rate = take.take.capture_rate.or(take.take.frame_rate)?.as_f64();
        let axes: Vec<Turning> = Axis::ALL.into_iter().filter_map(|axis| Turning::of(axis, take, rate)).collect();
        (!axes.is_empty()).then(|| Box::new(Fast { axes }) as Box<dyn Watch>)
    }),
};

struct Fast {
    axes: Vec<Turning>,
}

/// A ring whose rotation is known.
struct Turning {
    axis: Axis,
    /// Degrees a second for one whole travel in one frame.
    scale: f64,
    /// The last two positions of the batch before.
    last: [f64; 2],
    /// Remembers the highest speed in degrees a second.
    runs: Runs<f64>,
}

impl Turning {
    fn of(axis: Axis, take: &TakeView<'_>, rate: f64) -> Option<Self> {
        let lenses = [take.calibration, take.lens].into_iter().flatten();
        let rotation = |lens: &Lens| lens.ring(axis)?.rotation;
        let degrees = lenses.into_iter().find_map(rotation)?.degrees().abs();
        (degrees > 0.0).then(|| Self { axis, scale: degrees * rate, last: [f64::NAN; 2], runs: Runs::default() })
    }
}

impl Watch for Fast {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let limit = take.value(SPEED);
        for turning in &mut self.axes {
            let Some(ring) = batch.numbers(words::ring_channel(turning.axis)) else { continue };
            let Turning { axis, scale, last, runs } = turning;
            let at = |i: isize| match usize::try_from(i) {
                Ok(i) => ring.get(i).copied().unwrap_or(f64::NAN),
                Err(_) => last[(i + 2) as usize],
            };
            let speed = |i: usize| {
                let i = i as isize;
                (at(i) - at(i - 1)) * *scale
            };
            // One step alone is a jump, and has a check of its own: two in one direction are motion.
            let fast = |i: usize| {
                let (now, before) = (speed(i), (at(i as isize - 1) - at(i as isize - 2)) * *scale);
                now.abs() > limit && before * now.signum() > limit / 2.0 && now.abs() < 0.9 * *scale
            };
            let begin = |i: usize| speed(i).abs();
            runs.scan(batch, fast, begin, |most, i| *most = most.max(speed(i).abs()), |span, most| report(span, most, *axis, take, out));
            *last = [at(ring.len() as isize - 2), at(ring.len() as isize - 1)];
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for Turning { axis, runs, .. } in &mut self.axes {
            runs.end(|span, most| report(span, most, *axis, take, out));
        }
    }
}

fn report(span: Span, most: f64, axis: Axis, take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(Severity::Warning, take.subject(), |finding| {
        let finding = finding
            .says(format!("{} ring turns at up to {most:.0} degrees a second", axis.name()))
            .value("speed", most, "deg/s")
            .value("fastest a motor turns", take.value(SPEED), "deg/s")
            .help("look for frames lost without a gap in their numbers, for an off-speed take named at its project rate, or for a rotation of another lens");
        span.put(finding)
    });
}
