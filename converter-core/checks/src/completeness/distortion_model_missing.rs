//! Distortion coefficients that nobody can apply.

use ringmark_model::{Channel, Severity};
use ringmark_optics::Distortion;

use crate::by_frame::{AtStart, put_at};
use crate::info::{CheckInfo, Family};
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "distortion-model-missing",
        title: "Distortion is recorded, what the coefficients mean is not",
        severity: Severity::Note,
        family: Family::Completeness,
        since: "0.1.0",
        explanation: include_str!("distortion_model_missing.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(AtStart::watch(report))),
};

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let Some(coefficients) = batch.numbers(Channel::DistortionK1) else { return };
    // All zero is no distortion, whatever the formula.
    if !coefficients.iter().any(|value| *value != 0.0 && value.is_finite()) {
        return;
    }
    let model = take.take.distortion_model.as_deref();
    let stated = model.map(Distortion::stated_in);
    let mut missing = Vec::new();
    match stated {
        None => missing.push("the formula"),
        // Another formula has conventions of its own.
        Some(stated) if !stated.is_brown_conrady => return,
        Some(_) => {}
    }
    if stated.and_then(|stated| stated.direction).is_none() {
        missing.push("its direction");
    }
    if stated.and_then(|stated| stated.normalisation).is_none() {
        missing.push("the length that is 1 in it");
    }
    if missing.is_empty() {
        return;
    }
    out.add(Severity::Note, take.subject(), |finding| {
        let message = format!("distortion coefficients are recorded, but not {}: the numbers alone cannot be applied", missing.join(", nor "));
        let finding = finding.says(message).help("ask whoever measured them, and state all three, as “Brown-Conrady U-D, focal-length”");
        put_at("distortion-model", take, batch, finding)
    });
}
