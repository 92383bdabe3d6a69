//! The entrance pupil in another unit, or on the wrong side.

use ringmark_model::{Channel, Severity};

use crate::by_frame::{ByFrame, FrameRule, value};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const SMALL: ThresholdInfo = ThresholdInfo {
    check: "entrance-pupil-implausible",
    name: "metres-below",
    default: 2.0,
    unit: "mm",
    why: "the pupil of a lens is not in the image plane; in metres, offsets of 0.01 to 0.5 are usual",
};
const LONGEST: ThresholdInfo = ThresholdInfo {
    check: "entrance-pupil-implausible",
    name: "in-front-up-to",
    default: 85.0,
    unit: "mm of focal length",
    why: "only telephoto constructions have their pupil behind the image plane",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "entrance-pupil-implausible",
        title: "The entrance pupil is where no lens of this focal length has it",
        severity: Severity::Warning,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("entrance_pupil_implausible.md"),
        thresholds: &[SMALL, LONGEST],
    },
    lens: None,
    take: Some(|take| {
        let stated = take.fact(|lens| lens.focal_length).map_or(f64::NAN, |(_, max)| max.mm());
        Some(ByFrame::watch(Pupil { stated }))
    }),
};

struct Pupil {
    /// The longest focal length of the lens in mm; NaN if not known.
    stated: f64,
}

/// Offset and focal length in mm.
type Seen = (f64, f64);

impl FrameRule for Pupil {
    type Seen = Seen;

    fn look<'a>(&'a self, take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, Seen) + 'a> {
        let offsets = batch.numbers(Channel::EntrancePupilOffset)?;
        let focal_lengths = [Channel::NominalFocalLength, Channel::PinholeFocalLength, Channel::EffectiveFocalLength]
            .into_iter()
            .find_map(|channel| batch.numbers(channel));
        let (small, longest) = (take.value(SMALL), take.value(LONGEST));
        Some(move |i: usize| {
            let offset = value(Some(offsets), i);
            let focal_length = focal_lengths.map_or(self.stated, |values| value(Some(values), i));
            let metres = offset != 0.0 && offset.abs() < small;
            let behind = offset < 0.0 && focal_length < longest;
            (if metres || behind { 2.0 } else { 0.0 }, (offset, focal_length))
        })
    }

    fn report(&self, span: Span, (offset, focal_length): Seen, take: &TakeView<'_>, out: &mut Report<'_>) {
        out.add(Severity::Warning, take.subject(), |finding| {
            let name = words::value(Channel::EntrancePupilOffset, offset);
            let finding = finding.value("recorded", offset, "mm");
            let finding = if offset.abs() < take.value(SMALL) {
                finding
                    .says(format!("entrance pupil offset {name}: in the image plane, where no lens has it"))
                    .repair("read the offset as metres", format!("it is then {} mm", words::short(offset * 1000.0)))
            } else {
                finding
                    .says(format!("entrance pupil offset {name} on a lens of {} mm: behind the image plane", words::short(focal_length)))
                    .value("focal length", focal_length, "mm")
                    .repair("turn the sign: positive is towards the object", format!("turned, the pupil is {} mm in front of the image plane, inside the lens", words::short(-offset)))
            };
            span.put(finding.help("the offset is counted from the image plane, positive towards the object, in mm: compare with the data of the lens"))
        });
    }
}
