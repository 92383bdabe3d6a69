//! The start that the head of a take states against the label of its first frame.

use ringmark_model::{Channel, Severity};
use ringmark_quantity::Timecode;

use crate::by_frame::{AtStart, put_at};
use crate::info::{CheckInfo, Family};
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "start-timecode-mismatch",
        title: "The stated start timecode is not that of the first frame",
        severity: Severity::Warning,
        family: Family::Time,
        since: "0.1.0",
        explanation: include_str!("start_timecode_mismatch.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| take.take.start_timecode.as_ref().map(|_| AtStart::watch(report))),
};

fn report(take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
    let (Some(stated), Some(first)) = (take.take.start_timecode.as_deref(), batch.batch.texts(Channel::Timecode).and_then(|texts| texts.get(0))) else {
        return;
    };
    let (Ok(a), Ok(b)) = (Timecode::parse(stated), Timecode::parse(first)) else { return };
    // Written with a colon or a semicolon it is one label; the counting mode has a check of its own.
    if (a.hours, a.minutes, a.seconds, a.frames) == (b.hours, b.minutes, b.seconds, b.frames) {
        return;
    }
    out.add(Severity::Warning, take.subject(), |finding| {
        let apart = take.take.frame_rate.and_then(|rate| Some(b.to_frame(rate).ok()? as f64 - a.to_frame(rate).ok()? as f64));
        let frames = apart.map_or(String::new(), |frames| format!(", {frames:+} frames"));
        let finding = finding
            .says(format!("start timecode is stated as {stated}, the first frame is {first}{frames}"))
            .help("look for a head that was cut off, for a record started late, or for the head of another take");
        let finding = match apart {
            Some(frames) => finding.value("apart", frames, "frames"),
            None => finding,
        };
        put_at("start-timecode", take, batch, finding)
    });
}
