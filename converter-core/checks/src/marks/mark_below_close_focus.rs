//! A mark nearer than the lens is said to focus.

use ringmark_model::{Axis, ScaleQuantity, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

const WARNING: ThresholdInfo = ThresholdInfo {
    check: "mark-below-close-focus",
    name: "warning-ratio",
    default: 0.98,
    unit: "of close focus",
    why: "a mark and a data sheet, each rounded to a centimetre, differ by up to 2 % at half a metre",
};
const ERROR: ThresholdInfo = ThresholdInfo {
    check: "mark-below-close-focus",
    name: "error-ratio",
    default: 0.80,
    unit: "of close focus",
    why: "no over-travel or rounding reaches this far; another unit or another reference does",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "mark-below-close-focus",
        title: "A mark is nearer than close focus",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("mark_below_close_focus.md"),
        thresholds: &[WARNING, ERROR],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let (Some(ring), Some(close)) = (view.lens.ring(Axis::Focus), view.lens.close_focus) else { return };
    let close = close.metres();
    let below = || ring.marks.iter().filter(|mark| mark.value < close * view.value(WARNING));
    let Some(nearest) = below().min_by(|a, b| a.value.total_cmp(&b.value)) else { return };
    if ring.quantity != ScaleQuantity::FocusDistance {
        return;
    }
    let severity = if nearest.value < close * view.value(ERROR) { Severity::Error } else { Severity::Warning };
    out.add(severity, view.subject(), |finding| {
        let more = below().count() - 1;
        let others = if more > 0 { format!(", and {more} more") } else { String::new() };
        let message = format!(
            "mark {} is below close focus {}{others}",
            words::distance(nearest.value),
            words::distance(close)
        );
        let finding = finding
            .says(message)
            .value("mark", nearest.value, "m")
            .value("close focus", close, "m")
            .help(format!(
                "look for a mistyped mark, for a scale measured from the front of the lens ({} short of the image plane if the nearest mark is close focus), or for another unit",
                words::distance(close - nearest.value)
            ))
            .at(nearest.place.clone());
        below().filter(|mark| mark.value != nearest.value).take(4).fold(finding, |finding, mark| finding.and_mark(ring, mark))
    });
}
