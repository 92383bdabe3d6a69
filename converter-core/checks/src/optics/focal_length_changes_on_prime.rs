//! A prime has one nominal focal length; its optical ones change little and smoothly.

use ringmark_model::{Channel, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const NOMINAL: ThresholdInfo = ThresholdInfo {
    check: "focal-length-changes-on-prime",
    name: "nominal-change",
    default: 0.01,
    unit: "of the focal length",
    why: "the nominal focal length of a prime is one engraved number; 1 % allows for rounding",
};
const SPREAD: ThresholdInfo = ThresholdInfo {
    check: "focal-length-changes-on-prime",
    name: "optical-spread",
    default: 0.12,
    unit: "of the focal length",
    why: "breathing changes pinhole and effective focal length by up to about 10 % over the focus range",
};
const STEP: ThresholdInfo = ThresholdInfo {
    check: "focal-length-changes-on-prime",
    name: "optical-step",
    default: 0.02,
    unit: "of the focal length in one frame",
    why: "breathing follows focus: it needs many frames for 10 %",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "focal-length-changes-on-prime",
        title: "The focal length of a prime changes",
        severity: Severity::Error,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("focal_length_changes_on_prime.md"),
        thresholds: &[NOMINAL, SPREAD, STEP],
    },
    lens: None,
    take: Some(|take| take.is_prime().then(|| Box::<Prime>::default() as Box<dyn Watch>)),
};

/// Channels that breathe.
const OPTICAL: [Channel; 2] = [Channel::PinholeFocalLength, Channel::EffectiveFocalLength];

#[derive(Default)]
struct Prime {
    /// The focal length the rest is compared with: of the lens, else the first recorded.
    nominal: Option<f64>,
    /// Remembers the focal length farthest off.
    nominal_runs: Runs<f64>,
    optical: [Breathing; 2],
}

#[derive(Default)]
struct Breathing {
    first: Option<f64>,
    last: Option<f64>,
    spread: Runs<f64>,
    /// Remembers the focal lengths before and after the step.
    steps: Runs<(f64, f64)>,
}

impl Watch for Prime {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        self.nominal(take, batch, out);
        for (channel, breathing) in OPTICAL.into_iter().zip(&mut self.optical) {
            if let Some(values) = batch.numbers(channel) {
                breathing.frames(values, channel, take, batch, out);
            }
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Self { nominal, nominal_runs, optical } = self;
        if let Some(expected) = nominal {
            nominal_runs.end(|span, worst| report_nominal(span, worst, *expected, take, out));
        }
        for (channel, breathing) in OPTICAL.into_iter().zip(optical) {
            if let Some(first) = breathing.first {
                breathing.spread.end(|span, worst| report_spread(span, worst, first, channel, take, out));
            }
            breathing.steps.end(|span, step| report_step(span, step, channel, take, out));
        }
    }
}

impl Prime {
    fn nominal(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Some(values) = batch.numbers(Channel::NominalFocalLength) else { return };
        if self.nominal.is_none() {
            let stated = take.fact(|lens| lens.focal_length).map(|(min, _)| min.mm());
            self.nominal = stated.or_else(|| first_of(values));
        }
        let Some(expected) = self.nominal else { return };
        let at = |at: usize| values.get(at).copied().unwrap_or(f64::NAN);
        let tolerance = expected * take.value(NOMINAL);
        self.nominal_runs.scan(
            batch,
            |i| (at(i) - expected).abs() > tolerance,
            at,
            |worst, i| *worst = farther(*worst, at(i), expected),
            |span, worst| report_nominal(span, worst, expected, take, out),
        );
    }
}

impl Breathing {
    fn frames(&mut self, values: &[f64], channel: Channel, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        if self.first.is_none() {
            self.first = first_of(values);
        }
        let Some(first) = self.first else { return };
        let at = |at: usize| values.get(at).copied().unwrap_or(f64::NAN);
        let last = self.last;
        let before = |i: usize| if i == 0 { last.unwrap_or(f64::NAN) } else { at(i - 1) };
        let (spread, step) = (take.value(SPREAD), take.value(STEP));
        self.spread.scan(
            batch,
            |i| (at(i) - first).abs() > first * spread,
            at,
            |worst, i| *worst = farther(*worst, at(i), first),
            |span, worst| report_spread(span, worst, first, channel, take, out),
        );
        self.steps.scan(
            batch,
            // Over frames that are lost it may breathe.
            |i| (at(i) - before(i)).abs() > before(i) * step && batch.follows(batch.frame(i)),
            |i| (before(i), at(i)),
            |step, i| step.1 = at(i),
            |span, step| report_step(span, step, channel, take, out),
        );
        self.last = values.last().copied();
    }
}

fn first_of(values: &[f64]) -> Option<f64> {
    values.iter().copied().find(|value| *value > 0.0 && value.is_finite())
}

fn farther(a: f64, b: f64, from: f64) -> f64 {
    if (b - from).abs() > (a - from).abs() { b } else { a }
}

const HELP: &str = "look for a change of lens, for a zoom recorded as a prime, or for values of another column";

fn report_nominal(span: Span, worst: f64, expected: f64, take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(Severity::Error, take.subject(), |finding| {
        let channel = Channel::NominalFocalLength;
        let message = format!(
            "nominal focal length {} on a prime of {} ({:+.1} %)",
            words::value(channel, worst),
            words::value(channel, expected),
            (worst / expected - 1.0) * 100.0
        );
        span.put(finding.says(message).value("recorded", worst, "mm").value("of the lens", expected, "mm").help(HELP))
    });
}

fn report_spread(span: Span, worst: f64, first: f64, channel: Channel, take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(Severity::Error, take.subject(), |finding| {
        let message = format!(
            "{} {} differs by {:.1} % from {} at the start of the take: more than a prime breathes",
            channel.name().replace('-', " "),
            words::value(channel, worst),
            (worst / first - 1.0).abs() * 100.0,
            words::value(channel, first)
        );
        span.put(finding.says(message).value("recorded", worst, "mm").value("at the start", first, "mm").help(HELP))
    });
}

fn report_step(span: Span, (before, after): (f64, f64), channel: Channel, take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(Severity::Warning, take.subject(), |finding| {
        let message = format!(
            "{} steps from {} to {} in {} on a prime",
            channel.name().replace('-', " "),
            words::value(channel, before),
            words::value(channel, after),
            words::frames(span.count())
        );
        span.put(finding.says(message).value("before", before, "mm").value("after", after, "mm").help(HELP))
    });
}
