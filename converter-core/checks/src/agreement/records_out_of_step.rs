//! Two records of a take of which one is late.

use ringmark_model::Severity;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::records::Outcome;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::rules::Rules;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const MOST: ThresholdInfo = ThresholdInfo {
    check: "records-out-of-step",
    name: "largest-offset",
    default: 50.0,
    unit: "frames",
    why: "about two seconds: clocks that are further apart were not set at all",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "records-out-of-step",
        title: "One of two records of a take is some frames late",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("records_out_of_step.md"),
        thresholds: &[MOST],
    },
    lens: None,
    take: Some(|take| take.versus.map(|_| Box::new(Late) as Box<dyn Watch>)),
};

/// The largest offset that is tried, in frames.
pub(crate) fn largest_offset(rules: &Rules) -> i64 {
    rules.threshold(&MOST) as i64
}

struct Late;

impl Watch for Late {
    fn frames(&mut self, _: &TakeView<'_>, _: &BatchView<'_>, _: &mut Report<'_>) {}

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some((versus, Outcome { own, alignment, .. })) = take.compared() else {
            return;
        };
        let Some(late) = alignment.late else { return };
        out.add(Severity::Warning, take.subject(), |finding| {
            let frames = words::frames(late.frames.unsigned_abs());
            let way = if late.frames > 0 { "late" } else { "early" };
            let key = alignment.key.words();
            finding
                .says(format!("{} is {frames} {way} by {key}", versus.other.name))
                .value("offset", late.frames as f64, "frames")
                .value("mean difference as it stands", 100.0 * late.before, "% of range")
                .value("mean difference moved into step", 100.0 * late.after, "% of range")
                .help("compare both with the slate; the records are compared in step here")
                .repair(
                    match late.frames > 0 {
                        true => format!("take {frames} off the {key} of {}", versus.other.name),
                        false => format!("add {frames} to the {key} of {}", versus.other.name),
                    },
                    format!(
                        "so the values differ by {:.2} % of their range instead of {:.1} %",
                        100.0 * late.after,
                        100.0 * late.before
                    ),
                )
                .at(own.mark(0).place)
        });
    }
}
