//! Channels in which zero stands for nothing.

use ringmark_model::{Axis, Channel, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, FrameMark, TakeView};
use crate::words::{self, Fill};

const FRAMES: ThresholdInfo = ThresholdInfo {
    check: "channel-all-zero",
    name: "least-frames",
    default: 12.0,
    unit: "frames",
    why: "for a moment all rings of a lens may stand at an end stop",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "channel-all-zero",
        title: "A channel is zero in all frames",
        severity: Severity::Warning,
        family: Family::Completeness,
        since: "0.1.0",
        explanation: include_str!("channel_all_zero.md"),
        thresholds: &[FRAMES],
    },
    lens: None,
    take: Some(|_| Some(Box::<AllZero>::default())),
};

/// The rings, and what no lens has at exactly zero.
const CHANNELS: [Channel; 4] = [Channel::FocusRing, Channel::IrisRing, Channel::ZoomRing, Channel::EntrancePupilOffset];

#[derive(Default)]
struct AllZero {
    first: Option<FrameMark>,
    frames: u64,
    /// Of each channel: frames recorded, and whether all were zero so far.
    channels: [Option<bool>; CHANNELS.len()],
}

impl Watch for AllZero {
    fn frames(&mut self, _take: &TakeView<'_>, batch: &BatchView<'_>, _out: &mut Report<'_>) {
        self.first.get_or_insert_with(|| batch.mark_at(0));
        self.frames += batch.count() as u64;
        for (channel, zero) in CHANNELS.into_iter().zip(&mut self.channels) {
            if *zero == Some(false) {
                continue;
            }
            if let Some(values) = batch.numbers(channel) {
                *zero = Some(values.iter().all(|value| *value == 0.0));
            }
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        if (self.frames as f64) < take.value(FRAMES) {
            return;
        }
        let [rings @ .., pupil] = self.channels;
        let named: Vec<&str> = Axis::ALL.into_iter().zip(rings).filter(|(_, zero)| *zero == Some(true)).map(|(axis, _)| axis.name()).collect();
        // One ring may rest at its end stop all through a take.
        let recorded = rings.iter().flatten().count();
        if named.len() >= 2 && named.len() == recorded {
            self.report(format!("{} ring positions are 0 in all frames", named.join(", ")), take, out);
        }
        if pupil == Some(true) {
            self.report("entrance pupil offset is 0 in all frames: no lens has its pupil in the image plane".to_owned(), take, out);
        }
    }
}

impl AllZero {
    fn report(&self, message: String, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some(first) = self.first.clone() else { return };
        out.add(Severity::Warning, take.subject(), |finding| {
            let frames = words::frames(self.frames);
            let mut span = Span::at(first);
            if let Some(last) = take.tail.last.as_ref() {
                span.reach(last.index);
                span.seal_with(Some(last));
            }
            let help = "zero is often written for 'no data': leave these values empty, and look whether the motors or the link were on";
            span.put(finding.says(format!("{message} ({frames})")).help(help))
        });
    }
}
