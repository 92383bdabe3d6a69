//! Two records of a take whose values differ.

use ringmark_model::{Channel, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::records::{Constant, Difference, Outcome};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::units::unit_factor;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const PART: ThresholdInfo = ThresholdInfo {
    check: "records-differ",
    name: "error-part",
    default: 0.05,
    unit: "of the value",
    why: "a twentieth of distance, stop or focal length is seen in the picture",
};
const TRAVEL: ThresholdInfo = ThresholdInfo {
    check: "records-differ",
    name: "error-travel",
    default: 0.02,
    unit: "of travel",
    why: "two hundredths of a ring are no rounding of any encoder",
};
/// Within this part of a factor of units it is that factor.
const UNIT: f64 = 0.002;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "records-differ",
        title: "Two records of a take have different values",
        severity: Severity::Error,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("records_differ.md"),
        thresholds: &[PART, TRAVEL],
    },
    lens: None,
    take: Some(|take| take.versus.map(|_| Box::new(Differ) as Box<dyn Watch>)),
};

struct Differ;

impl Watch for Differ {
    fn frames(&mut self, _: &TakeView<'_>, _: &BatchView<'_>, _: &mut Report<'_>) {}

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        if let Some((versus, outcome)) = take.compared() {
            for difference in &outcome.differences {
                report(difference, outcome, &versus.other.name, take, out);
            }
        }
    }
}

fn report(
    difference: &Difference,
    outcome: &Outcome,
    other: &str,
    take: &TakeView<'_>,
    out: &mut Report<'_>,
) {
    let channel = difference.channel;
    let severity = if is_gross(difference, take) { Severity::Error } else { Severity::Warning };
    out.add(severity, take.subject(), |finding| {
        let (own, its) = (words::value(channel, difference.own), words::value(channel, difference.other));
        let (story, repair) = explained(difference, other);
        let mut span = Span::at(outcome.own.mark(difference.first));
        span.extend_by(difference.count - 1, difference.last as u64);
        span.seal_with(Some(&outcome.own.mark(difference.last)));
        let unit = channel.unit().map_or("", |unit| unit.symbol());
        let finding = finding
            .says(format!("{} is {own} here and {its} in {other}{story}", channel.info().title))
            .value("here", difference.own, unit)
            .value("in the other record", difference.other, unit);
        let finding = match repair {
            Some((action, evidence)) => finding.repair(action, evidence),
            None => finding.help("look at what each was recorded from, and keep the one that comes from the lens"),
        };
        span.put(finding)
    });
}

fn is_gross(difference: &Difference, take: &TakeView<'_>) -> bool {
    let (a, b) = (difference.own, difference.other);
    match difference.channel {
        Channel::FocusRing | Channel::IrisRing | Channel::ZoomRing => {
            (a - b).abs() > take.value(TRAVEL)
        }
        channel => {
            let part = (a - b).abs() > take.value(PART) * a.abs().max(b.abs());
            // Far away a twentieth of the distance is nothing to the lens.
            let seen = !channel.is_distance() || (1.0 / a - 1.0 / b).abs() > 0.005;
            (part || a.is_infinite() != b.is_infinite()) && seen
        }
    }
}

/// What all differences have in common, and the repair that follows from it.
fn explained(difference: &Difference, other: &str) -> (String, Option<(String, String)>) {
    let frames = words::frames(difference.count);
    match difference.constant {
        Some(Constant::Factor(factor)) => {
            let units = unit_factor(factor, UNIT).filter(|_| difference.channel.is_distance());
            let repair = units.map(|unit| {
                (
                    format!("divide the distances here by {:.4}: {}", unit.factor, unit.story),
                    format!("so {frames} agree with {other}"),
                )
            });
            (format!(", {factor:.4} times as much in all of {frames}"), repair)
        }
        Some(Constant::Shift(shift)) => {
            let unit = difference.channel.unit().map_or("", |unit| unit.symbol());
            let more = if shift > 0.0 { "more" } else { "less" };
            let shift = words::short(shift.abs());
            (format!(", {shift} {unit} {more} in all of {frames}"), None)
        }
        None => (String::new(), None),
    }
}
