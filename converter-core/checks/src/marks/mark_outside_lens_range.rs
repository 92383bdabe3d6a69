//! A mark of the iris or zoom ring that the lens cannot have.

use ringmark_model::{Mark, Ring, ScaleQuantity, Severity};
use ringmark_quantity::print;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::Fill;

const LOW: ThresholdInfo = ThresholdInfo {
    check: "mark-outside-lens-range",
    name: "low-ratio",
    default: 0.97,
    unit: "of the lower limit",
    why: "engraved stops and focal lengths are rounded by up to 1 to 3 % (1.4 for 1.414, 22 for 22.6)",
};
const HIGH: ThresholdInfo = ThresholdInfo {
    check: "mark-outside-lens-range",
    name: "high-ratio",
    default: 1.05,
    unit: "of the upper limit",
    why: "rounding as above, with room for the gap that small stops have to the end stop of the ring",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "mark-outside-lens-range",
        title: "An iris or zoom mark is outside the range of the lens",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("mark_outside_lens_range.md"),
        thresholds: &[LOW, HIGH],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    for ring in &view.lens.rings {
        let (low, high) = limits(view, ring.quantity);
        // A closed iris, infinity, is on no scale.
        for mark in ring.marks.iter().filter(|mark| mark.value.is_finite()) {
            if let Some(low) = low.filter(|low| mark.value < low * view.value(LOW)) {
                report(view, ring, mark, "below", low, out);
            } else if let Some(high) = high.filter(|high| mark.value > high * view.value(HIGH)) {
                report(view, ring, mark, "above", high, out);
            }
        }
    }
}

/// Lower and upper limit of what the ring's scale reads, where the lens states them.
fn limits(view: &LensView<'_>, quantity: ScaleQuantity) -> (Option<f64>, Option<f64>) {
    let lens = view.lens;
    match quantity {
        ScaleQuantity::FocusDistance => (None, None),
        ScaleQuantity::TStop => (lens.widest_t.map(|t| t.value()), lens.smallest_t.map(|t| t.value())),
        ScaleQuantity::FNumber => (lens.widest_f.map(|f| f.value()), lens.smallest_f.map(|f| f.value())),
        ScaleQuantity::FocalLength => (
            lens.focal_length.map(|(shortest, _)| shortest.mm()),
            lens.focal_length.map(|(_, longest)| longest.mm()),
        ),
    }
}

fn report(view: &LensView<'_>, ring: &Ring, mark: &Mark, side: &str, limit: f64, out: &mut Report<'_>) {
    let unit = ring.quantity.unit();
    out.add(Severity::Error, view.subject(), |finding| {
        let message = format!(
            "{} ring: mark {} is {side} the limit of the lens, {}",
            ring.axis.name(),
            print::value(mark.value, unit),
            print::value(limit, unit)
        );
        finding
            .says(message)
            .value("mark", mark.value, unit.symbol())
            .value("limit", limit, unit.symbol())
            .help("look for a mistyped mark, for T-stops and f-numbers exchanged, or for the data of another lens")
            .at(mark.place.clone())
    });
}
