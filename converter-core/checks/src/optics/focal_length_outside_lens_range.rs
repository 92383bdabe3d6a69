//! Focal lengths that the lens does not have.

use ringmark_model::{Channel, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const NOMINAL: ThresholdInfo = ThresholdInfo {
    check: "focal-length-outside-lens-range",
    name: "nominal-tolerance",
    default: 0.01,
    unit: "of the end of the range",
    why: "nominal focal lengths are engraved numbers; zoom rings stop within a per cent of them",
};
const OPTICAL: ThresholdInfo = ThresholdInfo {
    check: "focal-length-outside-lens-range",
    name: "optical-tolerance",
    default: 0.12,
    unit: "of the end of the range",
    why: "pinhole and effective focal length change with focus by up to 10 %",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "focal-length-outside-lens-range",
        title: "A recorded focal length is outside the range of the lens",
        severity: Severity::Error,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("focal_length_outside_lens_range.md"),
        thresholds: &[NOMINAL, OPTICAL],
    },
    lens: None,
    take: Some(|take| range(take).map(|range| Box::new(FocalRange { range, runs: Default::default() }) as Box<dyn Watch>)),
};

/// The channels of focal length, each with its tolerance.
const CHANNELS: [(Channel, ThresholdInfo); 3] = [
    (Channel::NominalFocalLength, NOMINAL),
    (Channel::PinholeFocalLength, OPTICAL),
    (Channel::EffectiveFocalLength, OPTICAL),
];

struct FocalRange {
    range: (f64, f64),
    /// Remembers the focal length farthest outside.
    runs: [Runs<f64>; 3],
}

/// Shortest and longest focal length of a zoom. Primes have a check of their own.
fn range(take: &TakeView<'_>) -> Option<(f64, f64)> {
    let (min, max) = take.fact(|lens| lens.focal_length)?;
    (min < max && !take.is_prime()).then(|| (min.mm(), max.mm()))
}

impl Watch for FocalRange {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let (min, max) = self.range;
        for ((channel, tolerance), runs) in CHANNELS.into_iter().zip(&mut self.runs) {
            let Some(values) = batch.numbers(channel) else { continue };
            let at = |at: usize| values.get(at).copied().unwrap_or(f64::NAN);
            let tolerance = take.value(tolerance);
            let (low, high) = (min * (1.0 - tolerance), max * (1.0 + tolerance));
            let outside = |mm: f64| (min - mm).max(mm - max);
            runs.scan(
                batch,
                |i| at(i) < low || at(i) > high,
                at,
                |worst, i| {
                    if outside(at(i)) > outside(*worst) {
                        *worst = at(i);
                    }
                },
                |span, worst| report(span, worst, channel, (min, max), take, out),
            );
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for ((channel, _), runs) in CHANNELS.into_iter().zip(&mut self.runs) {
            runs.end(|span, worst| report(span, worst, channel, self.range, take, out));
        }
    }
}

fn report(span: Span, worst: f64, channel: Channel, (min, max): (f64, f64), take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(Severity::Error, take.subject(), |finding| {
        let message = format!(
            "{} {} is outside {} to {}, the range of the lens",
            channel.name().replace('-', " "),
            words::value(channel, worst),
            words::value(channel, min),
            words::value(channel, max)
        );
        let finding = finding
            .says(message)
            .value("recorded", worst, "mm")
            .value("shortest", min, "mm")
            .value("longest", max, "mm")
            .help("look for another lens, for another unit, or for the focal length of an equivalent format");
        span.put(finding)
    });
}
