//! The positions of a focus scale run against its marks.

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

const ID: &str = "scale-reversed";
const THRESHOLDS: [ThresholdInfo; 2] = [sure(ID, "1000 to 1 that the list is reversed; between 20 to 1 and this, the finding is a warning"), clear(ID)];

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: ID,
        title: "The positions of a focus scale run against its marks",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("scale_reversed.md"),
        thresholds: &THRESHOLDS,
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    whole_scale::report(view, THRESHOLDS, out, |ring, judgement| {
        if judgement.fault != Fault::Reversed {
            return None;
        }
        let mark = ring.marks.get(judgement.points.first()?.mark)?;
        Some(Said {
            message: format!(
                "the positions of the focus scale seem to be listed in reverse, starting with {} at {}: the marks lie widest apart where they should lie closest",
                words::mark(ring, mark),
                print::position(mark.position)
            ),
            help: "compare the positions of the nearest mark and of infinity with the barrel; a scale that only runs the other way round is no fault",
            points: vec![0],
            value: None,
            action: "pair the marks with the positions in reverse order".to_owned(),
            edits: edits(view.index, ring, judgement),
        })
    });
}
