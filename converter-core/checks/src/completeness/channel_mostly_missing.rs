//! A channel that is recorded in few frames.

use ringmark_model::{Channel, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, FrameMark, TakeView};
use crate::words::Fill;

const SHARE: ThresholdInfo = ThresholdInfo {
    check: "channel-mostly-missing",
    name: "missing-share",
    default: 0.5,
    unit: "of the frames",
    why: "a link that drops out now and then loses a few per cent",
};
const FRAMES: ThresholdInfo = ThresholdInfo {
    check: "channel-mostly-missing",
    name: "least-frames",
    default: 24.0,
    unit: "frames",
    why: "a shorter take says little about a link",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "channel-mostly-missing",
        title: "A channel is not recorded in most frames",
        severity: Severity::Warning,
        family: Family::Completeness,
        since: "0.1.0",
        explanation: include_str!("channel_mostly_missing.md"),
        thresholds: &[SHARE, FRAMES],
    },
    lens: None,
    take: Some(|_| Some(Box::<Missing>::default())),
};

/// Channels that hold a value in every frame or in none. A rangefinder, and what is kept when it changes, may be silent.
const CHANNELS: [Channel; 11] = [
    Channel::Frame,
    Channel::FocusRing,
    Channel::IrisRing,
    Channel::ZoomRing,
    Channel::FocusDistance,
    Channel::TStop,
    Channel::FNumber,
    Channel::NominalFocalLength,
    Channel::PinholeFocalLength,
    Channel::EffectiveFocalLength,
    Channel::EntrancePupilOffset,
];

#[derive(Default)]
struct Missing {
    frames: u64,
    channels: [Count; CHANNELS.len()],
}

#[derive(Default)]
struct Count {
    recorded: u64,
    /// The first frame without a value.
    first_missing: Option<FrameMark>,
}

impl Watch for Missing {
    fn frames(&mut self, _take: &TakeView<'_>, batch: &BatchView<'_>, _out: &mut Report<'_>) {
        self.frames += batch.count() as u64;
        for (channel, count) in CHANNELS.into_iter().zip(&mut self.channels) {
            let Some(values) = batch.numbers(channel) else { continue };
            let recorded = values.iter().filter(|value| !value.is_nan()).count() as u64;
            if recorded < values.len() as u64 && count.first_missing.is_none() {
                count.first_missing = values.iter().position(|value| value.is_nan()).map(|at| batch.mark_at(at));
            }
            count.recorded += recorded;
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let frames = self.frames as f64;
        if frames < take.value(FRAMES) {
            return;
        }
        for (channel, count) in CHANNELS.into_iter().zip(&mut self.channels) {
            let missing = self.frames.saturating_sub(count.recorded);
            // Recorded nowhere, it is an empty column: then nothing depends on it.
            if count.recorded == 0 || missing as f64 <= frames * take.value(SHARE) {
                continue;
            }
            let Some(first) = count.first_missing.take() else { continue };
            out.add(Severity::Warning, take.subject(), |finding| {
                let share = missing as f64 / frames;
                let message = format!("{} is not recorded in {missing} of {} frames ({:.0} %)", channel.info().title, self.frames, share * 100.0);
                let mut span = Span::at(first);
                if let Some(last) = take.tail.last.as_ref() {
                    span.reach(last.index);
                    span.seal_with(Some(last));
                }
                let finding = finding
                    .says(message)
                    .value("missing", missing as f64, "frames")
                    .help("look for a link that was lost, a device that was switched off, or a column filled where it changes only");
                span.put(finding)
            });
        }
    }
}
