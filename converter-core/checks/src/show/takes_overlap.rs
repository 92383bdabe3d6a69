//! Two takes of one camera over the same timecode.

use ringmark_model::{Severity, Subject};

use super::{Seen, TakeSummary, name, same, shared};
use crate::info::{CheckInfo, Family};
use crate::registry::Check;
use crate::report::Report;
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "takes-overlap",
        title: "Two takes of one camera run over the same timecode",
        severity: Severity::Warning,
        family: Family::Show,
        since: "0.1.0",
        explanation: include_str!("takes_overlap.md"),
        thresholds: &[],
    },
    lens: None,
    take: None,
};

pub(super) fn look(take: &TakeSummary, subject: Subject, before: &[Seen], out: &mut Report<'_>) {
    for seen in before {
        let Some(frames) = shared(take, &seen.take).filter(|frames| *frames > 0) else {
            continue;
        };
        // One clip in two documents is two records of one take.
        if take.clip.is_none() || seen.take.clip.is_none() || same(&take.clip, &seen.take.clip) {
            continue;
        }
        // Time of day comes again every day: without a reel in common it is a hint only.
        let severity = if same(&take.reel, &seen.take.reel) {
            Severity::Warning
        } else {
            Severity::Note
        };
        out.add(severity, subject.clone(), |finding| {
            let (first, last) = take.labels.clone().unwrap_or_default();
            let camera = take.camera.as_deref().unwrap_or_default();
            finding
                .says(format!("{first} to {last} on camera {camera}: {frames} frames of it are also those of {}", name(seen)))
                .value("frames in common", frames as f64, "frames")
                .help("a camera records one take at a time: look for timecode jammed anew between them, or for a wrong camera label")
                .at(take.place.clone())
        });
    }
}
