//! A rangefinder that is late.

use ringmark_model::Severity;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

const LAG: ThresholdInfo = ThresholdInfo {
    check: "rangefinder-lags",
    name: "lag",
    default: 1.0,
    unit: "frame",
    why: "less is within one exposure; the interval of the lag must reach this too",
};

const LATE: ThresholdInfo = ThresholdInfo {
    check: "rangefinder-lags",
    name: "late",
    default: 6.0,
    unit: "frames",
    why: "a subject that walks at 1.4 m/s is 0.35 m farther in 6 frames at 24 fps",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "rangefinder-lags",
        title: "The rangefinder is frames behind the focus ring",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("rangefinder_lags.md"),
        thresholds: &[LAG, LATE],
    },
    lens: None,
    take: Some(|_| Some(Box::new(Lags))),
};

struct Lags;

impl Watch for Lags {
    fn frames(&mut self, _take: &TakeView<'_>, _batch: &BatchView<'_>, _out: &mut Report<'_>) {}

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some((agreement, span)) = take.finder.and_then(|finder| finder.whole()) else { return };
        let Ok(lag) = agreement.lag else { return };
        let (size, least) = (lag.frames.abs(), take.value(LAG));
        if size < least || size - lag.error < 0.5 * least {
            return;
        }
        let severity = if size >= take.value(LATE) { Severity::Warning } else { Severity::Note };
        out.add(severity, take.subject(), |finding| {
            let ms = take.take.frame_rate.map(|rate| 1000.0 * lag.frames / rate.as_f64());
            let in_ms = ms.map_or(String::new(), |ms| format!(", {:.0} ms", ms.abs()));
            let way = if lag.frames > 0.0 { "behind" } else { "ahead of" };
            let finding = finding
                .says(format!("the rangefinder is {size:.1} frames{in_ms}, {way} the focus ring (± {:.1} frames)", lag.error))
                .value("lag", lag.frames, "frames")
                .value("lag, 95 % interval, half", lag.error, "frames")
                .value("correlation", lag.correlation, "")
                .help("take the lag out before readings are compared with focus or used for it; the other checks do")
                .repair(
                    format!("move the readings {:.0} frames {}", size, if lag.frames > 0.0 { "earlier" } else { "later" }),
                    format!("so moved, the changes of both correlate at {:.3} over {} frames in motion", lag.correlation, lag.moving),
                );
            let finding = match ms {
                Some(ms) => finding.value("lag in time", ms, "ms"),
                None => finding,
            };
            span.put(finding)
        });
    }
}
