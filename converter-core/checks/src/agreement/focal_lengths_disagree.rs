//! Pinhole and effective focal length against the nominal one.

use ringmark_model::{Channel, Severity};

use crate::by_frame::{ByFrame, FrameRule, value};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const TOLERANCE: ThresholdInfo = ThresholdInfo {
    check: "focal-lengths-disagree",
    name: "tolerance",
    default: 0.25,
    unit: "of the nominal focal length",
    why: "breathing changes the pinhole one by about 10 %, close focus by as much again, rounding of the name by 5 %",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "focal-lengths-disagree",
        title: "Two focal lengths of one lens are far apart",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("focal_lengths_disagree.md"),
        thresholds: &[TOLERANCE],
    },
    lens: None,
    take: Some(|take| {
        let squeeze = take.fact(|lens| lens.squeeze).unwrap_or(1.0);
        let rule = |channel| ByFrame::watch(Disagree { channel, squeeze });
        Some(Box::new(Both([rule(Channel::PinholeFocalLength), rule(Channel::EffectiveFocalLength)])))
    }),
};

/// The channels, each against the nominal one.
struct Both([Box<dyn Watch>; 2]);

impl Watch for Both {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        self.0.iter_mut().for_each(|watch| watch.frames(take, batch, out));
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        self.0.iter_mut().for_each(|watch| watch.end(take, out));
    }
}

struct Disagree {
    channel: Channel,
    squeeze: f64,
}

/// Nominal and other focal length in mm.
type Seen = (f64, f64);

impl FrameRule for Disagree {
    type Seen = Seen;

    fn look<'a>(&'a self, take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, Seen) + 'a> {
        let (nominal, other) = (batch.numbers(Channel::NominalFocalLength)?, batch.numbers(self.channel)?);
        let tolerance = take.value(TOLERANCE);
        let squeeze = self.squeeze;
        Some(move |i: usize| {
            let (nominal, other) = (value(Some(nominal), i), value(Some(other), i));
            let off = |ratio: f64| ratio.max(1.0 / ratio) - 1.0;
            let ratio = other / nominal;
            let plain = nominal > 0.0 && other > 0.0;
            // Across the squeeze an anamorphic lens sees as one of that much shorter focal length.
            let off = off(ratio).min(off(ratio * squeeze));
            (if plain { off / tolerance } else { f64::NAN }, (nominal, other))
        })
    }

    fn report(&self, span: Span, (nominal, other): Seen, take: &TakeView<'_>, out: &mut Report<'_>) {
        out.add(Severity::Warning, take.subject(), |finding| {
            let name = self.channel.name().replace('-', " ");
            let message = format!(
                "{name} {} on a nominal focal length of {}: {} times",
                words::value(self.channel, other),
                words::value(Channel::NominalFocalLength, nominal),
                words::short(other / nominal)
            );
            let finding = finding
                .says(message)
                .value("recorded", other, "mm")
                .value("nominal", nominal, "mm")
                .help("look for the focal length of an equivalent format, for a squeeze or crop counted in, for an extender, or for another lens");
            span.put(finding)
        });
    }
}
