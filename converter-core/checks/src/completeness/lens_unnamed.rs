//! A take that names no lens, on a show that knows its lenses.

use ringmark_model::Severity;

use crate::by_frame::AtStart;
use crate::identity::CHANNELS;
use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "lens-unnamed",
        title: "A take does not say which lens it was shot with",
        severity: Severity::Warning,
        family: Family::Completeness,
        since: "0.1.0",
        explanation: include_str!("lens_unnamed.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| (!take.expected.lenses.is_empty()).then(|| AtStart::watch(report))),
};

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let own = take.lens.is_some_and(|lens| lens.model.is_some() || lens.serial.is_some());
    let channels = CHANNELS.iter().filter_map(|channel| batch.batch.texts(*channel));
    let mut names = channels.flat_map(|texts| texts.iter().flatten());
    if own || names.any(|name| !name.trim().is_empty()) {
        return;
    }
    out.add(Severity::Warning, take.subject(), |finding| {
        let expected = take.expected.lenses.len();
        let finding = finding
            .says(format!("the take names no lens; {expected} are expected on the show"))
            .help("enter the lens from the camera report, with its serial number: no calibration can be found without it");
        Span::at(batch.mark_at(0)).put(finding)
    });
}
