//! Takes that were captured at another rate than they play at.

use ringmark_model::{Channel, Severity};

use crate::by_frame::{AtStart, put_at};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const DIFFERENCE: ThresholdInfo = ThresholdInfo {
    check: "off-speed-take",
    name: "difference",
    default: 0.005,
    unit: "of the frame rate",
    why: "24 and 23.976 fps differ by 0.1 %: that is a matter of naming, not of speed",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "off-speed-take",
        title: "The take was captured at another rate than it plays at",
        severity: Severity::Note,
        family: Family::Time,
        since: "0.1.0",
        explanation: include_str!("off_speed_take.md"),
        thresholds: &[DIFFERENCE],
    },
    lens: None,
    take: Some(|take| take.take.frame_rate.map(|_| AtStart::watch(report))),
};

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let Some(rate) = take.take.frame_rate.map(|rate| rate.as_f64()) else { return };
    let column = batch.numbers(Channel::CaptureRate);
    let recorded = column.and_then(|values| values.iter().copied().find(|value| value.is_finite() && *value > 0.0));
    let Some(captured) = recorded.or_else(|| take.take.capture_rate.map(|rate| rate.as_f64())) else { return };
    if (captured / rate - 1.0).abs() <= take.value(DIFFERENCE) {
        return;
    }
    out.add(Severity::Note, take.subject(), |finding| {
        let speed = if captured > rate { "slow" } else { "fast" };
        let times = if captured > rate { captured / rate } else { rate / captured };
        let message = format!(
            "captured at {} fps, plays at {} fps: {speed} motion, {} times",
            words::short(captured),
            words::short(rate),
            words::short(times)
        );
        let finding = finding
            .says(message)
            .value("captured", captured, "fps")
            .value("plays at", rate, "fps")
            .help("speeds of rings and lags in milliseconds follow from the rate of capture; timecode from the frame rate");
        put_at("capture-rate", take, batch, finding)
    });
}
