//! A focus scale without infinity.

use ringmark_model::{Axis, ScaleQuantity, Severity};

use crate::info::{CheckInfo, Family};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "infinity-mark-missing",
        title: "A focus scale has no mark at infinity",
        severity: Severity::Warning,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("infinity_mark_missing.md"),
        thresholds: &[],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let Some(ring) = view.lens.ring(Axis::Focus) else { return };
    let Some(farthest) = ring.marks.iter().max_by(|a, b| a.value.total_cmp(&b.value)) else { return };
    if ring.quantity != ScaleQuantity::FocusDistance || ring.marks.iter().any(|mark| mark.value == f64::INFINITY) {
        return;
    }
    out.add(Severity::Warning, view.subject(), |finding| {
        let message = format!("the focus scale ends at {}: there is no mark at infinity", words::distance(farthest.value));
        finding
            .says(message)
            .value("farthest mark", farthest.value, "m")
            .help("add the ring position of the ∞ mark (not the end stop: rings turn past infinity); beyond the last mark nothing is computed")
            .at(farthest.place.clone())
    });
}
