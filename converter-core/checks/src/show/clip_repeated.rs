//! One clip name on two takes of a camera.

use ringmark_model::{Severity, Subject};

use super::{Seen, TakeSummary, name, same, shared};
use crate::info::{CheckInfo, Family};
use crate::registry::Check;
use crate::report::Report;
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "clip-repeated",
        title: "Two takes of one camera have one clip name",
        severity: Severity::Warning,
        family: Family::Show,
        since: "0.1.0",
        explanation: include_str!("clip_repeated.md"),
        thresholds: &[],
    },
    lens: None,
    take: None,
};

pub(super) fn look(take: &TakeSummary, subject: Subject, before: &[Seen], out: &mut Report<'_>) {
    // With frames in common they are two records of one take.
    let repeats = |seen: &&Seen| {
        same(&take.clip, &seen.take.clip)
            && shared(take, &seen.take).is_some_and(|frames| frames <= 0)
    };
    let Some(seen) = before.iter().find(repeats) else {
        return;
    };
    out.add(Severity::Warning, subject, |finding| {
        let (first, last) = take.labels.clone().unwrap_or_default();
        let (other, to) = seen.take.labels.clone().unwrap_or_default();
        finding
            .says(format!("{first} to {last} has the clip name of {}, which is {other} to {to}", name(seen)))
            .help("look for a card that was formatted without counting on, or for a file that was renamed")
            .at(take.place.clone())
    });
}
