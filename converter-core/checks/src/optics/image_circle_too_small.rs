//! A sensor larger than the image circle of the lens.

use ringmark_model::Severity;

use crate::by_frame::{AtStart, put_at};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const SLACK: ThresholdInfo = ThresholdInfo {
    check: "image-circle-too-small",
    name: "slack",
    default: 0.02,
    unit: "of the diagonal",
    why: "image circles are stated to a millimetre, and fall off softly",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "image-circle-too-small",
        title: "The sensor is larger than the image circle of the lens",
        severity: Severity::Warning,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("image_circle_too_small.md"),
        thresholds: &[SLACK],
    },
    lens: None,
    take: Some(|take| short(take).map(|_| AtStart::watch(report))),
};

/// Diagonal and image circle in mm, where the circle is the smaller.
fn short(take: &TakeView<'_>) -> Option<(f64, f64)> {
    let (width, height) = take.take.sensor_mm?;
    let circle = take.fact(|lens| lens.image_circle)?.mm();
    let diagonal = width.hypot(height);
    (circle > 0.0 && diagonal * (1.0 - take.value(SLACK)) > circle).then_some((diagonal, circle))
}

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let Some((diagonal, circle)) = short(take) else { return };
    out.add(Severity::Warning, take.subject(), |finding| {
        let finding = finding
            .says(format!("image circle of {} mm on a sensor of {} mm diagonal: the corners are dark", words::short(circle), words::short(diagonal)))
            .value("image circle", circle, "mm")
            .value("sensor diagonal", diagonal, "mm")
            .help("look for another sensor mode than was used, for another lens, or for an image circle stated as a radius");
        put_at("sensor-width", take, batch, finding)
    });
}
