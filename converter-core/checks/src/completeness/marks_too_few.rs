//! Scales with too few marks for a curve.

use ringmark_model::{Axis, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::Fill;

const FOCUS: ThresholdInfo = ThresholdInfo {
    check: "marks-too-few",
    name: "focus-marks",
    default: 5.0,
    unit: "marks",
    why: "the law of focusing has three unknowns; one mark more shows an error, one more which mark it is",
};
const OTHER: ThresholdInfo = ThresholdInfo {
    check: "marks-too-few",
    name: "other-marks",
    default: 3.0,
    unit: "marks",
    why: "two marks give a line that nothing can contradict",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "marks-too-few",
        title: "A scale has too few marks",
        severity: Severity::Warning,
        family: Family::Completeness,
        since: "0.1.0",
        explanation: include_str!("marks_too_few.md"),
        thresholds: &[FOCUS, OTHER],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    for ring in &view.lens.rings {
        let least = view.value(if ring.axis == Axis::Focus { FOCUS } else { OTHER });
        let marks = ring.marks.len();
        // A ring without a single mark has no scale at all: it says where its encoder runs.
        if marks == 0 || marks as f64 >= least {
            continue;
        }
        out.add(Severity::Warning, view.subject(), |finding| {
            let few = if marks == 1 { "1 mark".to_owned() } else { format!("{marks} marks") };
            finding
                .says(format!("the {} ring has {few}: an error in one of them cannot be seen", ring.axis.name()))
                .value("marks", marks as f64, "")
                .value("needed", least, "")
                .help("take further marks, spread over the travel and at both ends of the scale")
                .at(ring.marks.last().and_then(|mark| mark.place.clone()))
        });
    }
}
