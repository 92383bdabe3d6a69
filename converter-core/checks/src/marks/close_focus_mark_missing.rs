//! A focus scale that starts far from close focus.

use ringmark_model::{Axis, ScaleQuantity, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

const RATIO: ThresholdInfo = ThresholdInfo {
    check: "close-focus-mark-missing",
    name: "nearest-mark",
    default: 1.10,
    unit: "of close focus",
    why: "close focus and its mark are rounded; more than a tenth apart, a mark is missing",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "close-focus-mark-missing",
        title: "A focus scale has no mark near close focus",
        severity: Severity::Note,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("close_focus_mark_missing.md"),
        thresholds: &[RATIO],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let (Some(ring), Some(close)) = (view.lens.ring(Axis::Focus), view.lens.close_focus) else { return };
    let Some(nearest) = ring.marks.iter().min_by(|a, b| a.value.total_cmp(&b.value)) else { return };
    let close = close.metres();
    if ring.quantity != ScaleQuantity::FocusDistance || nearest.value <= close * view.value(RATIO) || close <= 0.0 {
        return;
    }
    out.add(Severity::Note, view.subject(), |finding| {
        let message = format!("the nearest mark is {}, close focus {}", words::distance(nearest.value), words::distance(close));
        finding
            .says(message)
            .value("nearest mark", nearest.value, "m")
            .value("close focus", close, "m")
            .help("add a mark at close focus: nearer than the nearest mark nothing is computed")
            .at(nearest.place.clone())
    });
}
