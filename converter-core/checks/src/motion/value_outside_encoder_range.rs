//! Ring positions that the encoder cannot give.

use ringmark_model::{Axis, EncoderRange, Severity};
use ringmark_quantity::print;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, LensView, TakeView};
use crate::words::{self, Fill};

const TOLERANCE: ThresholdInfo = ThresholdInfo {
    check: "value-outside-encoder-range",
    name: "tolerance",
    default: 1e-6,
    unit: "of the range",
    why: "rounding of a position written with six decimals",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "value-outside-encoder-range",
        title: "A ring position is outside the encoder's range",
        severity: Severity::Error,
        family: Family::Motion,
        since: "0.1.0",
        explanation: include_str!("value_outside_encoder_range.md"),
        thresholds: &[TOLERANCE],
    },
    lens: Some(lens),
    take: Some(|_| Some(Box::<Outside>::default())),
};

const RATIO: EncoderRange = EncoderRange { low: 0.0, high: 1.0 };

#[derive(Default)]
struct Outside {
    /// Remembers the value farthest outside.
    axes: [Runs<f64>; 3],
}

impl Watch for Outside {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        for (axis, runs) in Axis::ALL.into_iter().zip(&mut self.axes) {
            let raw = take.take.encoder(axis).zip(batch.numbers(words::raw_channel(axis)));
            let ratio = batch.numbers(words::ring_channel(axis)).map(|values| (RATIO, values));
            let Some((range, values)) = raw.or(ratio) else { continue };
            let at = |at: usize| values.get(at).copied().unwrap_or(f64::NAN);
            let (low, high) = limits(range);
            let slack = (high - low) * take.value(TOLERANCE);
            let outside = |value: f64| (low - value).max(value - high);
            runs.scan(
                batch,
                |i| outside(at(i)) > slack,
                at,
                |worst, i| {
                    if outside(at(i)) > outside(*worst) {
                        *worst = at(i);
                    }
                },
                |span, worst| report(span, worst, axis, take, out),
            );
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for (axis, runs) in Axis::ALL.into_iter().zip(&mut self.axes) {
            runs.end(|span, worst| report(span, worst, axis, take, out));
        }
    }
}

/// Low and high in order: an encoder may run backwards.
fn limits(range: EncoderRange) -> (f64, f64) {
    (range.low.min(range.high), range.low.max(range.high))
}

const HELP: &str = "look for a wrong encoder range, for another encoder, or for counts that wrapped";

fn report(span: Span, worst: f64, axis: Axis, take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(Severity::Error, take.subject(), |finding| {
        let finding = match take.take.encoder(axis) {
            Some(range) => {
                let (low, high) = limits(range);
                finding
                    .says(format!("{} ring at {worst} counts: the encoder runs from {low} to {high}", axis.name()))
                    .value("recorded", worst, "count")
                    .value("lowest", low, "count")
                    .value("highest", high, "count")
            }
            None => finding
                .says(format!("{} ring at {}: positions run from 0 to 1", axis.name(), print::position(worst)))
                .value("recorded", worst, "0..1"),
        };
        span.put(finding.help(HELP))
    });
}

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    for ring in &view.lens.rings {
        for mark in &ring.marks {
            let raw = ring.encoder.zip(mark.raw);
            let (range, value) = raw.unwrap_or((RATIO, mark.position));
            let (low, high) = limits(range);
            if (low - value).max(value - high) <= (high - low) * view.value(TOLERANCE) || value.is_nan() {
                continue;
            }
            out.add(Severity::Error, view.subject(), |finding| {
                let (unit, counts) = if raw.is_some() { ("count", " counts") } else { ("0..1", "") };
                let message = format!(
                    "{} ring, {}: position {value}{counts} is outside {low} to {high}",
                    ring.axis.name(),
                    words::mark(ring, mark)
                );
                finding.says(message).value("recorded", value, unit).help(HELP).at(mark.place.clone())
            });
        }
    }
}
