//! The recorded focal length against what the zoom ring gives.

use ringmark_model::{Axis, Channel, Lens, Severity};
use ringmark_optics::RingCurve;
use ringmark_quantity::print;

use crate::by_frame::{ByFrame, FrameRule, value};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const LIMIT: ThresholdInfo = ThresholdInfo {
    check: "ring-focal-length-mismatch",
    name: "ratio",
    default: 0.03,
    unit: "of the focal length",
    why: "focal lengths rounded to 1 mm are off by 2.5 % at 20 mm",
};
const ERROR: ThresholdInfo = ThresholdInfo {
    check: "ring-focal-length-mismatch",
    name: "error-ratio",
    default: 0.1,
    unit: "of the focal length",
    why: "a tenth of the field of view is seen in any match move",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "ring-focal-length-mismatch",
        title: "The recorded focal length is not what the zoom ring gives",
        severity: Severity::Error,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("ring_focal_length_mismatch.md"),
        thresholds: &[LIMIT, ERROR],
    },
    lens: None,
    take: Some(|take| {
        let scale = [take.calibration, take.lens].into_iter().flatten().find_map(scale);
        scale.map(ByFrame::watch)
    }),
};

/// The zoom scale of a lens.
struct Scale {
    curve: RingCurve,
}

fn scale(lens: &Lens) -> Option<Scale> {
    let curve = RingCurve::new(lens.ring(Axis::Zoom)?).ok()?;
    Some(Scale { curve })
}

#[derive(Clone, Copy)]
struct Seen {
    ring: f64,
    recorded: f64,
    given: f64,
}

impl FrameRule for Scale {
    type Seen = Seen;

    fn look<'a>(&'a self, take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, Seen) + 'a> {
        let (ring, recorded) = (batch.numbers(Channel::ZoomRing)?, batch.numbers(Channel::NominalFocalLength)?);
        let limit = take.value(LIMIT);
        Some(move |i: usize| {
            let (ring, recorded) = (value(Some(ring), i), value(Some(recorded), i));
            let given = self.curve.value_at(ring);
            let off = (recorded / given - 1.0).abs();
            (if recorded > 0.0 { off / limit } else { f64::NAN }, Seen { ring, recorded, given })
        })
    }

    fn report(&self, span: Span, seen: Seen, take: &TakeView<'_>, out: &mut Report<'_>) {
        let off = seen.recorded / seen.given - 1.0;
        let severity = if off.abs() > take.value(ERROR) { Severity::Error } else { Severity::Warning };
        out.add(severity, take.subject(), |finding| {
            let message = format!(
                "nominal focal length {} where the zoom ring at {} gives {} ({:+.1} %)",
                words::value(Channel::NominalFocalLength, seen.recorded),
                print::position(seen.ring),
                words::value(Channel::NominalFocalLength, seen.given),
                off * 100.0
            );
            let finding = finding
                .says(message)
                .value("recorded", seen.recorded, "mm")
                .value("from the ring", seen.given, "mm")
                .value("ring", seen.ring, "0..1")
                .help("look for another lens, a zoom ring that slipped on its gear, or an extender that one of the two does not know of");
            span.put(finding)
        });
    }
}
