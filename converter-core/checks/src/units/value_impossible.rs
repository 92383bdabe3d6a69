//! Values that no lens, camera or scene has.

use ringmark_model::{Channel, ChannelKind, Severity};

use super::distance_not_positive::runs_of;
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const NEAREST: ThresholdInfo = ThresholdInfo {
    check: "value-impossible",
    name: "nearest-distance",
    default: 0.05,
    unit: "m",
    why: "from the image plane, nothing but a macro set-up is nearer",
};
const FARTHEST: ThresholdInfo = ThresholdInfo {
    check: "value-impossible",
    name: "farthest-distance",
    default: 10_000.0,
    unit: "m",
    why: "for every lens this is infinity, and is written so",
};
const WIDEST: ThresholdInfo = ThresholdInfo {
    check: "value-impossible",
    name: "widest-stop",
    default: 0.5,
    unit: "",
    why: "f/0.5 is the limit of a lens in air (sine condition)",
};
const SMALLEST: ThresholdInfo = ThresholdInfo {
    check: "value-impossible",
    name: "smallest-stop",
    default: 64.0,
    unit: "",
    why: "no cine lens closes further, but for shutting the iris altogether",
};
const LONGEST: ThresholdInfo = ThresholdInfo {
    check: "value-impossible",
    name: "longest-focal-length",
    default: 10_000.0,
    unit: "mm",
    why: "ten times the longest telephotos in use: another unit",
};
const SHORTEST: ThresholdInfo = ThresholdInfo {
    check: "value-impossible",
    name: "shortest-focal-length",
    default: 1.0,
    unit: "mm",
    why: "shorter than any fisheye: metres written as millimetres",
};
const PUPIL_BEHIND: ThresholdInfo = ThresholdInfo {
    check: "value-impossible",
    name: "pupil-farthest-behind",
    default: -1000.0,
    unit: "mm",
    why: "the longest telephotos have their entrance pupil less than a metre behind the image plane",
};
const PUPIL_AHEAD: ThresholdInfo = ThresholdInfo {
    check: "value-impossible",
    name: "pupil-farthest-ahead",
    default: 1500.0,
    unit: "mm",
    why: "no lens is so long",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "value-impossible",
        title: "A value is impossible or implausible",
        severity: Severity::Error,
        family: Family::Units,
        since: "0.1.0",
        explanation: include_str!("value_impossible.md"),
        thresholds: &[NEAREST, FARTHEST, WIDEST, SMALLEST, SHORTEST, LONGEST, PUPIL_BEHIND, PUPIL_AHEAD],
    },
    lens: None,
    take: Some(|_| Some(Box::<Values>::default())),
};

#[derive(Default)]
struct Values {
    /// One for each channel; remembers the first value.
    runs: Vec<(Channel, Runs<f64>)>,
}

/// What values of a channel are expected to be.
#[derive(Debug, Clone, Copy)]
struct Expected {
    /// Outside is a warning.
    plausible: (f64, f64),
    /// Outside is an error.
    possible: (f64, f64),
    /// Whether infinity has a meaning of its own.
    infinity: bool,
}

/// The smallest number above zero: bounds hold the values they name.
const ABOVE_ZERO: f64 = f64::MIN_POSITIVE;

fn expected(channel: Channel, take: &TakeView<'_>) -> Option<Expected> {
    let ChannelKind::Number { valid: (low, high), distance, .. } = channel.info().kind else { return None };
    let above_zero = (ABOVE_ZERO, high);
    let (plausible, possible, infinity) = match channel {
        // Zero and below have a check of their own.
        _ if distance => ((take.value(NEAREST), take.value(FARTHEST)), (f64::NEG_INFINITY, f64::INFINITY), true),
        Channel::TStop | Channel::FNumber => ((take.value(WIDEST), take.value(SMALLEST)), above_zero, true),
        Channel::NominalFocalLength | Channel::PinholeFocalLength | Channel::EffectiveFocalLength | Channel::EquivalentFocalLength => {
            ((take.value(SHORTEST), take.value(LONGEST)), (ABOVE_ZERO, f64::MAX), false)
        }
        Channel::EntrancePupilOffset => ((take.value(PUPIL_BEHIND), take.value(PUPIL_AHEAD)), (f64::MIN, f64::MAX), false),
        Channel::CaptureRate | Channel::Sensitivity | Channel::ExposureTime => (above_zero, (ABOVE_ZERO, f64::MAX), false),
        Channel::FieldOfView => (above_zero, (ABOVE_ZERO, high - 1e-9), false),
        _ if low == f64::NEG_INFINITY && high == f64::INFINITY => return None,
        _ => ((low, high), (low, high), false),
    };
    Some(Expected { plausible, possible, infinity })
}

impl Watch for Values {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        for column in &batch.batch.numbers {
            let Some(channel) = column.head.key.channel() else { continue };
            let Some(Expected { plausible: (low, high), possible, infinity }) = expected(channel, take) else { continue };
            let low = low.max(possible.0);
            let top = if infinity { f64::INFINITY } else { f64::NAN };
            let floor = if channel.is_distance() { ABOVE_ZERO } else { f64::NEG_INFINITY };
            let values = column.values.as_slice();
            let at = |at: usize| values.get(at).copied().unwrap_or(f64::NAN);
            let bad = |i: usize| {
                let value = at(i);
                (value < low && value >= floor) || (value > high.min(possible.1) && value != top)
            };
            let done = |span, first| report(span, first, channel, take, out);
            runs_of(&mut self.runs, channel).scan(batch, bad, at, |_, _| {}, done);
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        for (channel, runs) in &mut self.runs {
            runs.end(|span, first| report(span, first, *channel, take, out));
        }
    }
}

fn report(span: Span, first: f64, channel: Channel, take: &TakeView<'_>, out: &mut Report<'_>) {
    let Some(Expected { plausible: (low, high), possible, .. }) = expected(channel, take) else { return };
    let impossible = !(possible.0..=possible.1).contains(&first);
    let severity = if impossible { Severity::Error } else { Severity::Warning };
    out.add(severity, take.subject(), |finding| {
        let verdict = if impossible { "impossible" } else { "implausible" };
        let show = |value: f64| if value == ABOVE_ZERO { "above 0".to_owned() } else { words::value(channel, value) };
        let message = format!(
            "{} {} is {verdict}: expected {} to {}",
            channel.name().replace('-', " "),
            words::value(channel, first),
            show(low.max(possible.0)),
            show(high.min(possible.1))
        );
        let unit = channel.unit().map_or("", |unit| unit.symbol());
        let help = if first == 0.0 {
            "zero is often written for 'no data': leave these values empty"
        } else {
            "look for another unit or another column"
        };
        span.put(finding.says(message).value("recorded", first, unit).help(help))
    });
}
