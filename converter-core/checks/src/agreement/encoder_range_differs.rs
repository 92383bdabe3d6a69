//! The encoder range of a take against that of its calibration.

use ringmark_model::{Axis, EncoderRange, Severity};

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

const SHIFT: ThresholdInfo = ThresholdInfo {
    check: "encoder-range-differs",
    name: "ring-travel",
    default: 0.001,
    unit: "of travel",
    why: "marks are read to 0.001; a smaller shift is lost in that",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "encoder-range-differs",
        title: "Take and calibration count the ring over different ranges",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("encoder_range_differs.md"),
        thresholds: &[SHIFT],
    },
    lens: None,
    take: Some(|take| {
        let differs = Axis::ALL.iter().any(|axis| differing(take, *axis).is_some());
        differs.then(|| Box::new(Differs { told: false }) as Box<dyn Watch>)
    }),
};

struct Differs {
    told: bool,
}

impl Watch for Differs {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        if std::mem::replace(&mut self.told, true) {
            return;
        }
        let first = batch.mark_at(0).place;
        for axis in Axis::ALL {
            let Some(pair) = differing(take, axis) else { continue };
            let fact = format!("{}-encoder-low", axis.name());
            report(pair, axis, take.take.place_of(&fact).or_else(|| first.clone()), take, out);
        }
    }
}

/// Ranges of the take and of the marks, where one count is another position.
fn differing(take: &TakeView<'_>, axis: Axis) -> Option<(EncoderRange, EncoderRange)> {
    let own = take.take.encoder(axis)?;
    let marks = [take.calibration, take.lens].into_iter().flatten().find_map(|lens| lens.ring(axis)?.encoder)?;
    (shift(own, marks)? > take.value(SHIFT)).then_some((own, marks))
}

/// How far apart the positions of one count are at most, in travel of the calibration; `None` for a range of no width.
fn shift(own: EncoderRange, marks: EncoderRange) -> Option<f64> {
    let width = (marks.high - marks.low).abs();
    let far = (own.low - marks.low).abs().max((own.high - marks.high).abs()) / width;
    far.is_finite().then_some(far)
}

fn report((own, marks): (EncoderRange, EncoderRange), axis: Axis, place: Option<ringmark_model::Place>, take: &TakeView<'_>, out: &mut Report<'_>) {
    // Another number of bits: both count the whole ring, from 0 to a power of 2 less 1.
    let full = |range: EncoderRange| range.low == 0.0 && (range.high + 1.0).log2().fract() == 0.0;
    let reversed = (own.high - own.low).signum() != (marks.high - marks.low).signum();
    let severity = if full(own) && full(marks) { Severity::Note } else { Severity::Warning };
    out.add(severity, take.subject(), |finding| {
        let name = |range: EncoderRange| format!("{} to {}", range.low, range.high);
        let why = if reversed { ", the other way round" } else { "" };
        let finding = finding
            .says(format!("{} encoder runs from {} in the take and from {} in the calibration{why}", axis.name(), name(own), name(marks)))
            .value("take, low", own.low, "count")
            .value("take, high", own.high, "count")
            .value("calibration, low", marks.low, "count")
            .value("calibration, high", marks.high, "count")
            .help("0 to 1 means another part of the ring in each unless both cover the same travel: compare end stops, or mark again");
        finding.at(place)
    });
}
