//! Marks stand one position away from their own.

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

const ID: &str = "labels-shifted";
const THRESHOLDS: [ThresholdInfo; 2] = [sure(ID, "1000 to 1 that the list of marks is shifted; between 20 to 1 and this, the finding is a warning"), clear(ID)];

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: ID,
        title: "Marks stand one position away from their own",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("labels_shifted.md"),
        thresholds: &THRESHOLDS,
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    whole_scale::report(view, THRESHOLDS, out, |ring, judgement| {
        let Fault::Labels { from, by, .. } = judgement.fault else { return None };
        let mark = ring.marks.get(judgement.points.get(from)?.mark)?;
        let (side, other) = if by > 0 { ("early", "mark") } else { ("late", "position") };
        Some(Said {
            message: format!(
                "from {} at {} on, the marks seem to stand one position too {side}: a {other} was probably left out of its list",
                words::mark(ring, mark),
                print::position(mark.position)
            ),
            help: "compare the first and the last of these marks with the barrel, then read the one that is missing",
            points: vec![from],
            value: None,
            action: "move the marks by one position, and take out the one that is left without a partner".to_owned(),
            edits: edits(view.index, ring, judgement),
        })
    });
}
