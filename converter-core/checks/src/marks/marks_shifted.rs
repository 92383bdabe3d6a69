//! From one mark on, all positions are off by the same amount.

use ringmark_model::Severity;
use ringmark_quantity::print;

use super::shift::SMALLEST;
use super::verdict::{OFF, Scale, Verdict};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

const SHIFT: ThresholdInfo = ThresholdInfo {
    name: "smallest-shift",
    default: SMALLEST,
    unit: "of travel",
    why: "smaller ones cannot be told from reading errors and the bends of a cam",
};
const SURE: ThresholdInfo = ThresholdInfo {
    name: "error-before",
    default: OFF,
    unit: "of travel",
    why: "marks of a clean scale are never so far from where the others put them; below it, the finding is a warning",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "marks-shifted",
        title: "From one mark on, all ring positions are shifted",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("marks_shifted.md"),
        thresholds: &[SHIFT, SURE],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let Some(scale) = Scale::of(view) else { return };
    let (ring, Some(Verdict::Shift(shift))) = (scale.ring, scale.verdict()) else { return };
    let Some(mark) = ring.marks.get(shift.mark) else { return };
    let severity = if shift.before > SURE.default { Severity::Error } else { Severity::Warning };
    out.add(severity, view.subject(), |finding| {
        let side = if shift.by > 0.0 { "too far" } else { "short" };
        let message = format!(
            "from {} at {} on, the positions are about {} {side}",
            words::mark(ring, mark),
            print::position(mark.position),
            words::travel(shift.by)
        );
        finding
            .says(message)
            .value("shift", shift.by, "of travel")
            .help("the ring or the encoder gear probably slipped while the marks were read: read the scale again from this mark on")
            .repair(
                format!("take {} from the positions from this mark on", words::short(shift.by)),
                format!("the marks then agree to {} instead of {}", words::travel(shift.rest), words::travel(shift.before)),
            )
            .at(mark.place.clone())
    });
}
