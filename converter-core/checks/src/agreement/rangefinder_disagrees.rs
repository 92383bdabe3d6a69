//! Frames in which subject and focus are apart.

use ringmark_model::Severity;

use super::finder::Stretch;
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::units::{FACTOR_TOLERANCE, unit_factor};
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const DEPTHS: ThresholdInfo = ThresholdInfo {
    check: "rangefinder-disagrees",
    name: "depths-of-field",
    default: 1.0,
    unit: "",
    why: "half a depth is the limit of what counts as sharp; as much again is for scatter and the subject's own depth",
};

const FRAMES: ThresholdInfo = ThresholdInfo {
    check: "rangefinder-disagrees",
    name: "frames",
    default: 12.0,
    unit: "",
    why: "half a second at 24 fps; a beam strays for less without anybody being out of focus",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "rangefinder-disagrees",
        title: "By the rangefinder, the subject is out of focus",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("rangefinder_disagrees.md"),
        thresholds: &[DEPTHS, FRAMES],
    },
    lens: None,
    take: Some(|_| Some(Box::new(Disagrees))),
};

/// Full depths of field between subject and focus beyond which a frame is out of focus.
pub(super) fn limit(take: &TakeView<'_>) -> f64 {
    take.value(DEPTHS)
}

struct Disagrees;

impl Watch for Disagrees {
    fn frames(&mut self, take: &TakeView<'_>, _batch: &BatchView<'_>, out: &mut Report<'_>) {
        report_all(take, out);
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        report_all(take, out);
    }
}

fn report_all(take: &TakeView<'_>, out: &mut Report<'_>) {
    let stretches = take.finder.map(|finder| finder.fresh()).unwrap_or_default();
    let frames = take.value(FRAMES);
    for stretch in stretches.iter().filter(|stretch| stretch.span.count() as f64 >= frames) {
        report(stretch, take, out);
    }
}

fn report(stretch: &Stretch, take: &TakeView<'_>, out: &mut Report<'_>) {
    // A beam that leaves its subject jumps; a subject does not.
    let severity = if stretch.strayed { Severity::Note } else { Severity::Warning };
    out.add(severity, take.subject(), |finding| {
        let worst = stretch.worst;
        let side = if worst.depths > 0.0 { "behind" } else { "in front of" };
        let how = if stretch.strayed { "; the reading jumps there" } else { "" };
        let message = format!(
            "subject at {}, {:.1} depths of field {side} the focus at {}{how}",
            words::distance(worst.reading_m),
            worst.depths.abs(),
            words::distance(worst.focus_m),
        );
        let help = if stretch.strayed {
            "the beam may have met the background or somebody passing: look at the picture before focus is blamed"
        } else {
            "look at the picture: a missed pull, a beam on another subject, or another lens than the calibration's"
        };
        let finding = finding
            .says(message)
            .value("by the rangefinder", worst.reading_m, "m")
            .value("by the ring", worst.focus_m, "m")
            .value("apart", worst.depths, "depths of field")
            .help(help);
        let finding = match unit_factor(worst.reading_m / worst.focus_m, take.value(FACTOR_TOLERANCE)) {
            Some(unit) => finding.repair(
                format!("state the unit of the rangefinder: {}", unit.story),
                format!("readings are {} times the ring's distance", words::short(worst.reading_m / worst.focus_m)),
            ),
            None => finding,
        };
        stretch.span.clone().put(finding)
    });
}
