//! Takes at another frame rate than the show's.

use ringmark_model::Severity;

use crate::by_frame::{AtStart, put_at};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

const DIFFERENCE: ThresholdInfo = ThresholdInfo {
    check: "frame-rate-not-expected",
    name: "difference",
    default: 0.0005,
    unit: "of the frame rate",
    why: "24 and 24000/1001 differ by 0.001: a second in a quarter of an hour",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "frame-rate-not-expected",
        title: "A take runs at another frame rate than the show",
        severity: Severity::Warning,
        family: Family::Time,
        since: "0.1.0",
        explanation: include_str!("frame_rate_not_expected.md"),
        thresholds: &[DIFFERENCE],
    },
    lens: None,
    take: Some(|take| {
        let (rate, expected) = take.take.frame_rate.zip(take.expected.frame_rate)?;
        let differs = (rate.as_f64() / expected.as_f64() - 1.0).abs() > take.value(DIFFERENCE);
        differs.then(|| AtStart::watch(report))
    }),
};

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let Some((rate, expected)) = take.take.frame_rate.zip(take.expected.frame_rate) else { return };
    out.add(Severity::Warning, take.subject(), |finding| {
        let finding = finding
            .says(format!("the take runs at {rate} fps, the show at {expected} fps"))
            .value("frame rate", rate.as_f64(), "fps")
            .value("expected", expected.as_f64(), "fps")
            .help("look for a camera set to another project rate, or for the rate of capture named as frame rate");
        put_at("frame-rate", take, batch, finding)
    });
}
