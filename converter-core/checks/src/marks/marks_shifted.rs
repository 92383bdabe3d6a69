//! From one mark on, all ring positions are shifted.

use ringmark_model::Severity;
use ringmark_quantity::print;

use super::edits::edits;
use super::hypothesis::Fault;
use super::whole_scale::{self, Said, clear, sure};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words;

const ID: &str = "marks-shifted";
const THRESHOLDS: [ThresholdInfo; 2] = [sure(ID, "1000 to 1 that the ring slipped; between 20 to 1 and this, the finding is a warning"), clear(ID)];

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: ID,
        title: "From one mark on, all ring positions are shifted",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("marks_shifted.md"),
        thresholds: &THRESHOLDS,
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    whole_scale::report(view, THRESHOLDS, out, |ring, judgement| {
        let Fault::Slip { from } = judgement.fault else { return None };
        let mark = ring.marks.get(judgement.points.get(from)?.mark)?;
        let side = if judgement.by > 0.0 { "too far" } else { "short" };
        Some(Said {
            message: format!(
                "from {} at {} on, the positions are about {} {side}",
                words::mark(ring, mark),
                print::position(mark.position),
                words::travel(judgement.by)
            ),
            help: "the ring or the encoder gear probably slipped while the marks were read: read the scale again from this mark on",
            points: vec![from],
            value: Some(("shift", judgement.by, "of travel")),
            action: format!("take {} from the positions from this mark on", words::short(judgement.by)),
            edits: edits(view.index, ring, judgement),
        })
    });
}
