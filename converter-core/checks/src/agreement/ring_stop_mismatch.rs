//! The recorded stop against what the iris ring gives.

use ringmark_model::{Axis, Channel, Lens, ScaleQuantity, Severity};
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
    check: "ring-stop-mismatch",
    name: "stops",
    default: 0.25,
    unit: "stop",
    why: "stops rounded to thirds are off by a sixth",
};
const ERROR: ThresholdInfo = ThresholdInfo {
    check: "ring-stop-mismatch",
    name: "error-stops",
    default: 0.75,
    unit: "stop",
    why: "a ring that slipped on its gear, or another lens; less may be a scale read in other conditions",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "ring-stop-mismatch",
        title: "The recorded stop is not what the iris ring gives",
        severity: Severity::Error,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("ring_stop_mismatch.md"),
        thresholds: &[LIMIT, ERROR],
    },
    lens: None,
    take: Some(|take| {
        let scale = [take.calibration, take.lens].into_iter().flatten().find_map(scale);
        scale.map(ByFrame::watch)
    }),
};

/// The iris scale of a lens.
struct Scale {
    curve: RingCurve,
    channel: Channel,
}

fn scale(lens: &Lens) -> Option<Scale> {
    let ring = lens.ring(Axis::Iris)?;
    let channel = match ring.quantity {
        ScaleQuantity::TStop => Channel::TStop,
        ScaleQuantity::FNumber => Channel::FNumber,
        _ => return None,
    };
    Some(Scale { curve: RingCurve::new(ring).ok()?, channel })
}

#[derive(Clone, Copy)]
struct Seen {
    ring: f64,
    recorded: f64,
    given: f64,
}

impl Seen {
    /// Stops from the scale to the record: one stop is a factor of the square root of 2.
    fn stops(self) -> f64 {
        2.0 * (self.recorded / self.given).log2()
    }
}

impl FrameRule for Scale {
    type Seen = Seen;

    fn look<'a>(&'a self, take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, Seen) + 'a> {
        let (ring, recorded) = (batch.numbers(Channel::IrisRing)?, batch.numbers(self.channel)?);
        let limit = take.value(LIMIT);
        Some(move |i: usize| {
            let (ring, recorded) = (value(Some(ring), i), value(Some(recorded), i));
            let seen = Seen { ring, recorded, given: self.curve.value_at(ring) };
            let stops = seen.stops().abs();
            // 0 and a closed iris are on no scale.
            (if stops.is_finite() { stops / limit } else { f64::NAN }, seen)
        })
    }

    fn report(&self, span: Span, seen: Seen, take: &TakeView<'_>, out: &mut Report<'_>) {
        let stops = seen.stops();
        let severity = if stops.abs() > take.value(ERROR) { Severity::Error } else { Severity::Warning };
        let unit = self.channel.unit().map_or("", |unit| unit.symbol());
        out.add(severity, take.subject(), |finding| {
            let message = format!(
                "{} {} where the iris ring at {} gives {}: {:.1} stops apart",
                self.channel.info().title,
                words::value(self.channel, seen.recorded),
                print::position(seen.ring),
                words::value(self.channel, seen.given),
                stops.abs()
            );
            let finding = finding
                .says(message)
                .value("recorded", seen.recorded, unit)
                .value("from the ring", seen.given, unit)
                .value("apart", stops, "stops")
                .help("look for another lens, an iris ring that slipped on its gear, or stops set by hand in the record");
            span.put(finding)
        });
    }
}
