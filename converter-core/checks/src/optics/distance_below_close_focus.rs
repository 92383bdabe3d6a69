//! Recorded focus distances nearer than the lens can focus.

use ringmark_model::{Channel, Severity};
use ringmark_quantity::DistanceReference;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const WARNING: ThresholdInfo = ThresholdInfo {
    check: "distance-below-close-focus",
    name: "warning-ratio",
    default: 0.95,
    unit: "of close focus",
    why: "rings turn a little past the last mark, and data sheets round close focus",
};
pub(crate) const ERROR: ThresholdInfo = ThresholdInfo {
    check: "distance-below-close-focus",
    name: "error-ratio",
    default: 0.80,
    unit: "of close focus",
    why: "no over-travel or rounding reaches this far; another unit, zero or another reference does",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "distance-below-close-focus",
        title: "A recorded focus distance is nearer than the lens focuses",
        severity: Severity::Error,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("distance_below_close_focus.md"),
        thresholds: &[WARNING, ERROR],
    },
    lens: None,
    take: Some(|take| take.fact(|lens| lens.close_focus).map(|_| Box::<BelowCloseFocus>::default() as Box<dyn Watch>)),
};

#[derive(Default)]
struct BelowCloseFocus {
    /// Remembers the nearest distance.
    runs: Runs<f64>,
}

impl Watch for BelowCloseFocus {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Some(close) = take.fact(|lens| lens.close_focus).map(|close| close.metres()) else { return };
        let Some(column) = batch.batch.number_column(Channel::FocusDistance) else { return };
        if !comparable(column.head.reference, take.fact(|lens| lens.close_focus_reference)) {
            return;
        }
        let values = column.values.as_slice();
        let at = |at: usize| values.get(at).copied().unwrap_or(f64::NAN);
        let limit = close * take.value(WARNING);
        self.runs.scan(
            batch,
            |i| at(i) > 0.0 && at(i) < limit,
            at,
            |nearest, i| *nearest = nearest.min(at(i)),
            |span, nearest| report(span, nearest, close, take, out),
        );
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some(close) = take.fact(|lens| lens.close_focus) else { return };
        self.runs.end(|span, nearest| report(span, nearest, close.metres(), take, out));
    }
}

/// Distances from different points differ by the length of the lens: they cannot be compared.
fn comparable(a: Option<DistanceReference>, b: Option<DistanceReference>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => a == b || a == DistanceReference::Unstated || b == DistanceReference::Unstated,
        _ => true,
    }
}

fn report(span: Span, nearest: f64, close: f64, take: &TakeView<'_>, out: &mut Report<'_>) {
    let severity = if nearest < close * take.value(ERROR) { Severity::Error } else { Severity::Warning };
    out.add(severity, take.subject(), |finding| {
        let message = format!("focus distance {} is below close focus {}", words::distance(nearest), words::distance(close));
        let finding = finding
            .says(message)
            .value("recorded", nearest, "m")
            .value("close focus", close, "m")
            .help("look for another unit, for 'no data' written as a small number, or for distances measured from the front of the lens");
        span.put(finding)
    });
}
