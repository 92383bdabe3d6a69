//! T-stop and f-number that make a lens darker than lenses are.

use ringmark_model::{Channel, Severity};
use ringmark_quantity::print;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

const WARNING: ThresholdInfo = ThresholdInfo {
    check: "transmittance-implausible",
    name: "warning-transmittance",
    default: 0.6,
    unit: "of the light",
    why: "coated cine lenses transmit 0.6 to 0.95; an uncoated zoom about 0.5",
};
const ERROR: ThresholdInfo = ThresholdInfo {
    check: "transmittance-implausible",
    name: "error-transmittance",
    default: 0.3,
    unit: "of the light",
    why: "no lens is so dark: one of the two is another column, or has a filter counted in",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "transmittance-implausible",
        title: "T-stop and f-number make an implausibly dark lens",
        severity: Severity::Error,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("transmittance_implausible.md"),
        thresholds: &[WARNING, ERROR],
    },
    lens: None,
    take: Some(|_| Some(Box::<Dark>::default())),
};

#[derive(Default)]
struct Dark {
    /// Remembers T and f where the transmittance is least.
    runs: Runs<(f64, f64)>,
}

impl Watch for Dark {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let (Some(t), Some(f)) = (batch.numbers(Channel::TStop), batch.numbers(Channel::FNumber)) else { return };
        let at = |i: usize| (t.get(i).copied().unwrap_or(f64::NAN), f.get(i).copied().unwrap_or(f64::NAN));
        let warning = take.value(WARNING);
        self.runs.scan(
            batch,
            |i| {
                let (t, f) = at(i);
                f > 0.0 && t < f64::INFINITY && f * f < warning * t * t
            },
            at,
            |worst, i| {
                let (t, f) = at(i);
                if f / t < worst.1 / worst.0 {
                    *worst = (t, f);
                }
            },
            |span, stops| report(span, stops, take, out),
        );
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        self.runs.end(|span, stops| report(span, stops, take, out));
    }
}

fn report(span: Span, (t, f): (f64, f64), take: &TakeView<'_>, out: &mut Report<'_>) {
    let transmittance = (f / t).powi(2);
    let severity = if transmittance < take.value(ERROR) { Severity::Error } else { Severity::Warning };
    out.add(severity, take.subject(), |finding| {
        let message = format!("{} with {}: {:.0} % of the light passes the lens", print::t_stop(t), print::f_number(f), transmittance * 100.0);
        let finding = finding
            .says(message)
            .value("T-stop", t, "T")
            .value("f-number", f, "f")
            .value("transmittance", transmittance, "")
            .help("look for another column, or for a filter counted into the T-stop");
        span.put(finding)
    });
}
