//! What acquisition data says before its segments: rate, start and counting.

use ringmark_sdk::{Fact, Failure};

use crate::clock::Clock;
use crate::document::{Acquisition, Start};
use crate::remarks::{Remarks, Severity, shown};
use crate::statics::{rate_fact, text_fact};
use crate::time::{self, Time};
use crate::timeline::Timeline;

/// Where times lie; facts that are stated go into `stated`.
pub(super) fn timeline(
    found: &Acquisition,
    stated: &mut Vec<Fact>,
    remarks: &mut Remarks,
) -> Result<Timeline, Failure> {
    let Some((rate, spot)) = &found.rate else {
        return Err(found.spot.failure(
            "acquisitionData has no acquisitionFrameRate",
            "without it nobody knows how many frames a segment has",
        ));
    };
    stated.push(rate_fact("frame-rate", *rate, spot));
    let mut timeline = Timeline {
        clock: Clock::new(*rate, false),
        origin: None,
    };
    let Some(start) = &found.start else {
        return Ok(timeline);
    };
    if let Some(other) = start.rate.filter(|other| other != rate) {
        remarks.add(
            Severity::Warning,
            "rates-disagree",
            "",
            || format!("extractionStartTime counts {other} frames a second, acquisitionFrameRate is {rate}"),
            "labels were counted at acquisitionFrameRate",
            &start.spot,
        );
    }
    timeline.clock = Clock::new(*rate, drops(start, &timeline, remarks));
    if start.drop.is_some() {
        let drops = timeline.clock.drops();
        let counting = if drops { "drop-frame" } else { "non-drop" };
        stated.push(text_fact("counting", counting, &start.spot));
    }
    match time::read(&start.text, timeline.clock) {
        Ok((Time::Label(frame), _)) => timeline.origin = Some(frame),
        Ok(_) => {}
        Err(why) => remarks.add(
            Severity::Error,
            "timecode-impossible",
            &start.text,
            || {
                format!(
                    "extractionStartTime '{}' does not exist: {why}",
                    shown(&start.text)
                )
            },
            "the take was taken to start with its first segment",
            &start.spot,
        ),
    }
    Ok(timeline)
}

/// Whether labels are left out: the attribute decides, and only without it the mark.
fn drops(start: &Start, timeline: &Timeline, remarks: &mut Remarks) -> bool {
    let rate = timeline.clock.rate;
    let drop = start.drop.unwrap_or(start.text.contains(';'));
    if drop && !Clock::may_drop(rate) {
        remarks.add(
            Severity::Error,
            "drop-frame-impossible",
            "",
            || format!("time code is said to be drop-frame at {rate} frames a second"),
            "drop-frame counting exists at multiples of 30000/1001; labels were counted non-drop",
            &start.spot,
        );
    }
    drop
}
