//! A lens cannot transmit more light than its geometry lets in.

use ringmark_model::{Channel, Severity};
use ringmark_quantity::print;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, LensView, TakeView};
use crate::words::{self, Fill};

const WARNING: ThresholdInfo = ThresholdInfo {
    check: "t-stop-below-f-number",
    name: "warning-ratio",
    default: 0.99,
    unit: "of the f-number",
    why: "engraved and computed numbers differ by up to 1 % (1.4 and 1.414)",
};
const ERROR: ThresholdInfo = ThresholdInfo {
    check: "t-stop-below-f-number",
    name: "error-ratio",
    default: 0.95,
    unit: "of the f-number",
    why: "two rounded numbers differ by no more than 5 %; beyond that, more light would leave the lens than enters",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "t-stop-below-f-number",
        title: "The T-stop is smaller than the f-number",
        severity: Severity::Error,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("t_stop_below_f_number.md"),
        thresholds: &[WARNING, ERROR],
    },
    lens: Some(lens),
    take: Some(|_| Some(Box::<BelowF>::default())),
};

#[derive(Default)]
struct BelowF {
    /// Remembers T and f where their ratio is least.
    runs: Runs<(f64, f64)>,
}

impl Watch for BelowF {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let (Some(t), Some(f)) = (batch.numbers(Channel::TStop), batch.numbers(Channel::FNumber)) else { return };
        let at = |i: usize| (t.get(i).copied().unwrap_or(f64::NAN), f.get(i).copied().unwrap_or(f64::NAN));
        let warning = take.value(WARNING);
        self.runs.scan(
            batch,
            |i| {
                let (t, f) = at(i);
                t > 0.0 && t < f * warning
            },
            at,
            |worst, i| {
                let (t, f) = at(i);
                if t / f < worst.0 / worst.1 {
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

fn severity((t, f): (f64, f64), error: f64) -> Severity {
    if t < f * error { Severity::Error } else { Severity::Warning }
}

fn message((t, f): (f64, f64)) -> String {
    format!("{} is smaller than {}: {:.0} % of the light would pass", print::t_stop(t), print::f_number(f), (f / t).powi(2) * 100.0)
}

fn report(span: Span, stops: (f64, f64), take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(severity(stops, take.value(ERROR)), take.subject(), |finding| {
        let (t, f) = stops;
        let swapped = (t / f).powi(2);
        let finding = finding.says(message(stops)).value("T-stop", t, "T").value("f-number", f, "f");
        let finding = if swapped >= 0.5 {
            finding.repair(
                format!("exchange T-stop and f-number in {}", words::frames(span.count())),
                format!("exchanged, the lens transmits {:.0} %, as lenses do (50 to 95 %)", swapped * 100.0),
            )
        } else {
            finding
        };
        span.put(finding.help("look for exchanged columns, or for an f-number of another lens"))
    });
}

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let stops = [("widest", view.lens.widest_t, view.lens.widest_f), ("smallest", view.lens.smallest_t, view.lens.smallest_f)];
    for (end, t, f) in stops {
        let (Some(t), Some(f)) = (t, f) else { continue };
        let stops = (t.value(), f.value());
        // Small stops are engraved coarsely: only an error is one there.
        let severity = severity(stops, view.value(ERROR));
        if stops.0 >= stops.1 * view.value(WARNING) || (end == "smallest" && severity < Severity::Error) {
            continue;
        }
        out.add(severity, view.subject(), |finding| {
            let place = view.lens.place_of(&format!("{end}-t-stop"));
            finding
                .says(format!("{end} stop: {}", message(stops)))
                .value("T-stop", stops.0, "T")
                .value("f-number", stops.1, "f")
                .help("look for T-stop and f-number exchanged in the lens's data")
                .at(place.or_else(|| view.lens.place_of(&format!("{end}-f-number"))))
        });
    }
}
