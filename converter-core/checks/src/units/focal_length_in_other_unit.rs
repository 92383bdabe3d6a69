//! Focal lengths in metres, centimetres or inches where millimetres are expected.

use ringmark_model::{Channel, Severity};

use crate::by_frame::{ByFrame, FrameRule, value};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const TOLERANCE: ThresholdInfo = ThresholdInfo {
    check: "focal-length-in-other-unit",
    name: "tolerance",
    default: 0.12,
    unit: "of the focal length",
    why: "breathing changes pinhole and effective focal length by up to 10 %",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "focal-length-in-other-unit",
        title: "A focal length is in another unit than millimetres",
        severity: Severity::Error,
        family: Family::Units,
        since: "0.1.0",
        explanation: include_str!("focal_length_in_other_unit.md"),
        thresholds: &[TOLERANCE],
    },
    lens: None,
    take: Some(|take| {
        let (min, max) = take.fact(|lens| lens.focal_length)?;
        let rule = |channel| ByFrame::watch(OtherUnit { channel, range: (min.mm(), max.mm()) });
        Some(Box::new(AllChannels(CHANNELS.map(rule))))
    }),
};

const CHANNELS: [Channel; 3] = [Channel::NominalFocalLength, Channel::PinholeFocalLength, Channel::EffectiveFocalLength];

/// What a focal length in millimetres is multiplied by when it is written in another unit and read as millimetres.
const FACTORS: [(f64, &str); 4] = [(0.001, "metres"), (1000.0, "micrometres"), (0.1, "centimetres"), (1.0 / 25.4, "inches")];

struct AllChannels([Box<dyn Watch>; 3]);

impl Watch for AllChannels {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        self.0.iter_mut().for_each(|watch| watch.frames(take, batch, out));
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        self.0.iter_mut().for_each(|watch| watch.end(take, out));
    }
}

struct OtherUnit {
    channel: Channel,
    /// Shortest and longest of the lens.
    range: (f64, f64),
}

impl OtherUnit {
    fn fits(&self, mm: f64, tolerance: f64) -> bool {
        mm >= self.range.0 * (1.0 - tolerance) && mm <= self.range.1 * (1.0 + tolerance)
    }

    fn unit(&self, mm: f64, tolerance: f64) -> Option<(f64, &'static str)> {
        FACTORS.into_iter().find(|(factor, _)| self.fits(mm / factor, tolerance))
    }
}

impl FrameRule for OtherUnit {
    type Seen = f64;

    fn look<'a>(&'a self, take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, f64) + 'a> {
        let values = batch.numbers(self.channel)?;
        let tolerance = take.value(TOLERANCE);
        Some(move |i: usize| {
            let mm = value(Some(values), i);
            let other = mm > 0.0 && !self.fits(mm, tolerance) && self.unit(mm, tolerance).is_some();
            (if other { 2.0 } else { 0.0 }, mm)
        })
    }

    fn report(&self, span: Span, mm: f64, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some((factor, unit)) = self.unit(mm, take.value(TOLERANCE)) else { return };
        out.add(Severity::Error, take.subject(), |finding| {
            let channel = self.channel.name().replace('-', " ");
            let own = |mm| words::value(self.channel, mm);
            let lens = if self.range.0 == self.range.1 { own(self.range.0) } else { format!("{} to {}", own(self.range.0), own(self.range.1)) };
            let finding = finding
                .says(format!("{channel} {} on a lens of {lens}: {unit} read as millimetres", own(mm)))
                .value("recorded", mm, "mm")
                .value("read anew", mm / factor, "mm")
                .help("correct the unit of the column, or of the tool that wrote it");
            let frames = words::frames(span.count());
            span.put(finding.repair(format!("divide the {channel} by {} in {frames}", words::short(factor)), format!("it is then {}, a focal length of the lens", own(mm / factor))))
        });
    }
}
