//! Labels that cannot come from the frame rate or the counting mode of the take.

use ringmark_model::{Channel, Severity};
use ringmark_quantity::CountingMode;

use super::labels::{OTHER_RATE, fault};
use super::seconds::EarlySeconds;
use super::sequence::{Change, Event, Sequence, Source};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const SHARE: ThresholdInfo = ThresholdInfo {
    check: "timecode-rate-mismatch",
    name: "repeated-share",
    default: 0.3,
    unit: "of all frames",
    why: "labels that stand on two frames each repeat on half of them; stray repeats stay far below",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "timecode-rate-mismatch",
        title: "Timecode does not go with the frame rate or the counting mode",
        severity: Severity::Error,
        family: Family::Time,
        since: "0.1.0",
        explanation: include_str!("timecode_rate_mismatch.md"),
        thresholds: &[SHARE],
    },
    lens: None,
    take: Some(|take| take.take.frame_rate.map(|_| Box::new(RateMismatch::default()) as Box<dyn Watch>)),
};

/// Fewer frames say nothing about a share.
const FEWEST_FRAMES: u64 = 24;

struct RateMismatch {
    /// Labels the rate does not have; remembers the first.
    runs: Runs<String>,
    modes: Option<(Span, CountingMode)>,
    sequence: Sequence,
    early: EarlySeconds,
    /// The first frame of the take with timecode.
    first: Option<Span>,
    frames: u64,
    repeated: u64,
}

impl Default for RateMismatch {
    fn default() -> Self {
        Self {
            runs: Runs::default(),
            modes: None,
            sequence: Sequence::new(Source::Timecode),
            early: EarlySeconds::default(),
            first: None,
            frames: 0,
            repeated: 0,
        }
    }
}

impl Watch for RateMismatch {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Some(texts) = batch.batch.texts(Channel::Timecode) else { return };
        let counts = &batch.labels.counts;
        self.frames += counts.len() as u64;
        if self.first.is_none() {
            self.first = Some(Span::at(batch.mark_at(0)));
        }
        let begin = |at: usize| texts.get(at).unwrap_or_default().to_owned();
        let done = |span, text| report_label(span, text, take, out);
        self.runs.scan(batch, |at| counts.get(at) == Some(&OTHER_RATE), begin, |_, _| {}, done);
        self.modes(batch);
        let Self { sequence, early, repeated, .. } = self;
        sequence.scan(batch, &mut |event| count(event, early, repeated, take));
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        self.runs.end(|span, text| report_label(span, text, take, out));
        if let Some((span, mode)) = self.modes.take() {
            report_mode(span, mode, take, out);
        }
        let Self { sequence, early, repeated, .. } = self;
        sequence.end(take.tail.last.as_ref(), &mut |event| count(event, early, repeated, take));
        let Some(mut span) = self.first.take() else { return };
        if let Some(last) = take.tail.last.as_ref() {
            span.reach(last.index);
            span.seal_with(Some(last));
        }
        if let Some(labels) = self.early.labels_a_second() {
            report_early(span, labels, take, out);
        } else if self.frames >= FEWEST_FRAMES && self.repeated as f64 > take.value(SHARE) * self.frames as f64 {
            report_held(span, self.repeated, self.frames, take, out);
        }
    }
}

impl RateMismatch {
    fn modes(&mut self, batch: &BatchView<'_>) {
        let (Some((first, last, frames)), Some(mode)) = (batch.labels.other_mode, batch.labels.mode) else { return };
        let (span, _) = self.modes.get_or_insert_with(|| (Span::at(batch.mark_at(first)), mode));
        let known = u64::from(span.first_frame() == batch.frame(first));
        span.extend_by(frames - known, batch.frame(last));
        span.seal(batch);
    }
}

fn count(event: Event, early: &mut EarlySeconds, repeated: &mut u64, take: &TakeView<'_>) {
    if event.change == Change::Repeated {
        *repeated += event.missing.unsigned_abs();
    }
    // What is no end of a second is for the check of gaps.
    early.sift(event, take.take.frame_rate.map(|rate| rate.nominal()));
}

fn report_label(span: Span, text: String, take: &TakeView<'_>, out: &mut Report<'_>) {
    let Some(error) = take.take.frame_rate.and_then(|rate| fault(&text, rate)) else { return };
    out.add(Severity::Error, take.subject(), |finding| {
        span.put(finding.says(error.to_string()).help("correct the frame rate of the take, or say at which rate the timecode ran"))
    });
}

fn report_mode(span: Span, mode: CountingMode, take: &TakeView<'_>, out: &mut Report<'_>) {
    let (counted, written) = match mode {
        CountingMode::DropFrame => ("drop-frame", "non-drop"),
        CountingMode::NonDrop => ("non-drop", "drop-frame"),
    };
    let declared = if take.take.counting.is_some() { "is declared" } else { "starts as" };
    out.add(Severity::Error, take.subject(), |finding| {
        let label = span.first_label().unwrap_or_default().to_owned();
        let message = format!("timecode {declared} {counted}, but {label} is written as {written} ({})", words::frames(span.count()));
        let help = "semicolon or full stop before the frames means drop-frame, colon non-drop: correct the declaration or the labels";
        span.put(finding.says(message).help(help))
    });
}

fn report_early(span: Span, labels: u32, take: &TakeView<'_>, out: &mut Report<'_>) {
    let Some(rate) = take.take.frame_rate else { return };
    out.add(Severity::Error, take.subject(), |finding| {
        let message = format!(
            "every second ends after frame {:02}: the labels count {labels} frames a second, the take runs at {rate} fps, which has {}",
            labels.saturating_sub(1),
            rate.nominal()
        );
        let finding = finding
            .says(message)
            .value("labels a second", f64::from(labels), "fps")
            .value("frame rate", rate.as_f64(), "fps")
            .help("correct the frame rate of the take, or the rate of the timecode generator");
        span.put(finding)
    });
}

fn report_held(span: Span, repeated: u64, frames: u64, take: &TakeView<'_>, out: &mut Report<'_>) {
    let Some(rate) = take.take.frame_rate else { return };
    out.add(Severity::Warning, take.subject(), |finding| {
        let per_frame = 1.0 - repeated as f64 / frames as f64;
        let message = format!("labels advance {per_frame:.3} a frame at {rate} fps: {repeated} of {frames} frames repeat the label before");
        let finding = finding
            .says(message)
            .value("advance", (per_frame * 1e3).round() / 1e3, "labels a frame")
            .help("the frames were probably captured faster than the timecode ran: give the rate of the timecode as frame rate");
        span.put(finding)
    });
}
