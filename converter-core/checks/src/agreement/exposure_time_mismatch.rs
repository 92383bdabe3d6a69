//! Exposure time against shutter angle and rate.

use ringmark_model::{Channel, Severity};

use crate::by_frame::{ByFrame, FrameRule, value};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const TOLERANCE: ThresholdInfo = ThresholdInfo {
    check: "exposure-time-mismatch",
    name: "tolerance",
    default: 0.03,
    unit: "of the exposure time",
    why: "exposure times are rounded to a whole fraction of a second (1/48 for 1/47.95), rates to whole frames",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "exposure-time-mismatch",
        title: "Exposure time, shutter angle and rate do not go together",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("exposure_time_mismatch.md"),
        thresholds: &[TOLERANCE],
    },
    lens: None,
    take: Some(|take| {
        let rate = take.take.capture_rate.or(take.take.frame_rate).map_or(f64::NAN, |rate| rate.as_f64());
        Some(ByFrame::watch(Exposure { rate }))
    }),
};

struct Exposure {
    /// Frames a second, where no channel says it.
    rate: f64,
}

#[derive(Clone, Copy)]
struct Seen {
    seconds: f64,
    degrees: f64,
    rate: f64,
}

impl Seen {
    /// Seconds by angle and rate.
    fn expected(self) -> f64 {
        self.degrees / 360.0 / self.rate
    }
}

impl FrameRule for Exposure {
    type Seen = Seen;

    fn look<'a>(&'a self, take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, Seen) + 'a> {
        let (seconds, degrees) = (batch.numbers(Channel::ExposureTime)?, batch.numbers(Channel::ShutterAngle)?);
        let rates = batch.numbers(Channel::CaptureRate);
        let tolerance = take.value(TOLERANCE);
        Some(move |i: usize| {
            let rate = value(rates, i);
            let seen = Seen {
                seconds: value(Some(seconds), i),
                degrees: value(Some(degrees), i),
                rate: if rate > 0.0 { rate } else { self.rate },
            };
            let ratio = seen.seconds / seen.expected();
            let off = ratio.max(1.0 / ratio) - 1.0;
            (if ratio > 0.0 && ratio < f64::INFINITY { off / tolerance } else { f64::NAN }, seen)
        })
    }

    fn report(&self, span: Span, seen: Seen, take: &TakeView<'_>, out: &mut Report<'_>) {
        out.add(Severity::Warning, take.subject(), |finding| {
            let message = format!(
                "exposure time 1/{} s with a shutter of {} at {} fps, which is 1/{} s",
                words::short(1.0 / seen.seconds),
                words::value(Channel::ShutterAngle, seen.degrees),
                words::short(seen.rate),
                words::short(1.0 / seen.expected())
            );
            let finding = finding
                .says(message)
                .value("recorded", seen.seconds, "s")
                .value("from angle and rate", seen.expected(), "s")
                .value("shutter angle", seen.degrees, "deg")
                .value("rate", seen.rate, "fps")
                .help("look for an off-speed take that names the project rate only, for an angle in radians or minutes of arc, or for a shutter changed later");
            span.put(finding)
        });
    }
}
