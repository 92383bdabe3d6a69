//! Sensor size against pixel count.

use ringmark_model::Severity;

use crate::by_frame::{AtStart, put_at};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const TOLERANCE: ThresholdInfo = ThresholdInfo {
    check: "pixels-not-square",
    name: "tolerance",
    default: 0.02,
    unit: "",
    why: "sensor sizes are stated to a tenth of a millimetre",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "pixels-not-square",
        title: "Sensor size and pixel count give pixels that are not square",
        severity: Severity::Warning,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("pixels_not_square.md"),
        thresholds: &[TOLERANCE],
    },
    lens: None,
    take: Some(|take| shape(take).map(|_| AtStart::watch(report))),
};

/// Width over height of a pixel on the sensor, where it is not 1.
fn shape(take: &TakeView<'_>) -> Option<f64> {
    let ((width, height), (across, down)) = take.take.sensor_mm.zip(take.take.resolution)?;
    let shape = width / f64::from(across) / (height / f64::from(down));
    (shape.is_finite() && (shape.ln()).abs() > take.value(TOLERANCE)).then_some(shape)
}

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let (Some(shape), Some((width, height)), Some((across, down))) = (shape(take), take.take.sensor_mm, take.take.resolution) else { return };
    out.add(Severity::Warning, take.subject(), |finding| {
        let message = format!(
            "{across} x {down} pixels on {} x {} mm of sensor: a pixel would be {} times as wide as high",
            words::short(width),
            words::short(height),
            words::short(shape)
        );
        let finding = finding
            .says(message)
            .value("pixel width over height", shape, "")
            .help("one of the two belongs to another sensor mode, to a crop, or to a desqueezed picture: fields of view and distortion need both from one mode");
        let squeeze = take.fact(|lens| lens.squeeze).filter(|squeeze| *squeeze > 1.05);
        let finding = match squeeze {
            Some(squeeze) if (shape * squeeze).ln().abs() < 0.03 => finding.repair(
                format!("state the pixels of the sensor, {across} / {} across: these are desqueezed", words::short(squeeze)),
                format!("the lens squeezes {} times, and divided by that the pixels are square", words::short(squeeze)),
            ),
            _ => finding,
        };
        put_at("resolution-width", take, batch, finding)
    });
}
