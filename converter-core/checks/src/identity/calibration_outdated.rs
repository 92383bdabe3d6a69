//! Calibrations older than the show allows.

use ringmark_model::{ExtraValue, Lens, Place, Severity};

use crate::by_frame::AtStart;
use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, LensView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "calibration-outdated",
        title: "A calibration is older than the show allows",
        severity: Severity::Warning,
        family: Family::Identity,
        since: "0.1.0",
        explanation: include_str!("calibration_outdated.md"),
        thresholds: &[],
    },
    lens: Some(lens),
    take: Some(|take| {
        let since = take.expected.calibrated_since.as_deref()?;
        outdated(take.calibration?, since).map(|_| AtStart::watch(report))
    }),
};

/// Under these names a lens says when its marks were taken.
const NAMES: [&str; 4] = ["calibrated", "calibrated on", "calibration date", "date"];

/// The day of a calibration that is before `since`, and where it stands. Days are written as ISO 8601 has them, so that
/// their order is that of the letters.
fn outdated(lens: &Lens, since: &str) -> Option<(String, Option<Place>)> {
    let extra = lens.extras.iter().find(|extra| {
        let name = extra.name.to_lowercase().replace(['-', '_'], " ");
        NAMES.contains(&name.trim())
    })?;
    let ExtraValue::Text(_, text) = &extra.value else { return None };
    let day = text.trim().get(..10)?;
    let is_day = day.bytes().enumerate().all(|(at, b)| if at == 4 || at == 7 { b == b'-' } else { b.is_ascii_digit() });
    (is_day && day < since).then(|| (day.to_owned(), lens.place_of(&format!("extra/{}", extra.name))))
}

fn says(lens: &Lens, day: &str, since: &str) -> String {
    format!("the calibration of {} is of {day}, before {since}", lens.label())
}

const HELP: &str = "have the marks taken again, or compare three of them with the barrel and move the date of the profile";

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let Some(since) = view.expected.calibrated_since.as_deref() else { return };
    let Some((day, place)) = outdated(view.lens, since) else { return };
    out.add(Severity::Warning, view.subject(), |finding| {
        let first = view.lens.rings.iter().flat_map(|ring| &ring.marks).find_map(|mark| mark.place.clone());
        finding.says(says(view.lens, &day, since)).help(HELP).at(place.or(first))
    });
}

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let Some((lens, since)) = take.calibration.zip(take.expected.calibrated_since.as_deref()) else { return };
    let Some((day, _)) = outdated(lens, since) else { return };
    out.add(Severity::Warning, take.subject(), |finding| Span::at(batch.mark_at(0)).put(finding.says(says(lens, &day, since)).help(HELP)));
}
