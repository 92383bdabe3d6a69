//! The hyperfocal distance against focal length, stop, and the near limit.

use ringmark_model::{Channel, Severity};

use super::depth_of_field_impossible::same_point;
use crate::agreement::lens_columns::{LensColumns, LensFacts};
use crate::by_frame::{ByFrame, FrameRule, value};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const SMALLEST: ThresholdInfo = ThresholdInfo {
    check: "hyperfocal-mismatch",
    name: "smallest-circle",
    default: 0.003,
    unit: "mm",
    why: "a pixel of the finest sensors: nobody asks for a smaller circle of confusion",
};
const LARGEST: ThresholdInfo = ThresholdInfo {
    check: "hyperfocal-mismatch",
    name: "largest-circle",
    default: 0.1,
    unit: "mm",
    why: "twice that of a 65 mm picture",
};
const NEAR: ThresholdInfo = ThresholdInfo {
    check: "hyperfocal-mismatch",
    name: "near-limit-factor",
    default: 1.6,
    unit: "",
    why: "counted from the image plane instead of the pupil the relation is off by up to a quarter at ten focal lengths",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "hyperfocal-mismatch",
        title: "The hyperfocal distance does not go with focal length, stop or near limit",
        severity: Severity::Warning,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("hyperfocal_mismatch.md"),
        thresholds: &[SMALLEST, LARGEST, NEAR],
    },
    lens: None,
    take: Some(|take| Some(ByFrame::watch(Hyperfocal { facts: LensFacts::of(take) }))),
};

struct Hyperfocal {
    facts: LensFacts,
}

#[derive(Clone, Copy)]
struct Seen {
    hyperfocal: f64,
    /// Circle of confusion that gives it, in mm.
    circle: f64,
    /// Hyperfocal distance that focus and near limit give, in m.
    by_near: f64,
}

impl FrameRule for Hyperfocal {
    type Seen = Seen;

    fn look<'a>(&'a self, take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, Seen) + 'a> {
        let hyperfocal = batch.numbers(Channel::Hyperfocal)?;
        let column = |channel| batch.batch.number_column(channel);
        let both = column(Channel::FocusDistance).zip(column(Channel::NearLimit));
        let both = both.filter(|(focus, near)| same_point(focus, near));
        let (focus, near) = both.map(|(focus, near)| (focus.values.as_slice(), near.values.as_slice())).unzip();
        let lens = LensColumns::of(&self.facts, batch.batch);
        let (smallest, largest, factor) = (take.value(SMALLEST), take.value(LARGEST), take.value(NEAR));
        Some(move |i: usize| {
            let h = value(Some(hyperfocal), i);
            let (focal_length, f_number) = lens.at(i);
            let circle = focal_length * focal_length / (f_number * (h * 1000.0 - focal_length));
            let (focus, near) = (value(focus, i), value(near, i));
            // Nearer than ten focal lengths it matters which point distances are counted from.
            let far_enough = focus * 1000.0 > 10.0 * focal_length;
            let by_near = if far_enough { 1.0 / (1.0 / near - 1.0 / focus) } else { f64::NAN };
            let ratio = h / by_near;
            let by_near_off = if by_near > 0.0 { ratio.max(1.0 / ratio) / factor } else { f64::NAN };
            let excess = (smallest / circle).max(circle / largest).max(by_near_off);
            let possible = h > 0.0 && h < f64::INFINITY;
            (if possible { excess } else { f64::NAN }, Seen { hyperfocal: h, circle, by_near })
        })
    }

    fn report(&self, span: Span, seen: Seen, take: &TakeView<'_>, out: &mut Report<'_>) {
        out.add(Severity::Warning, take.subject(), |finding| {
            let circle_off = seen.circle < take.value(SMALLEST) || seen.circle > take.value(LARGEST);
            let message = if circle_off {
                format!(
                    "hyperfocal distance {} follows from no usable circle of confusion: it would be {} mm",
                    words::distance(seen.hyperfocal),
                    words::short(seen.circle)
                )
            } else {
                format!("hyperfocal distance {} where focus and near limit give {}", words::distance(seen.hyperfocal), words::distance(seen.by_near))
            };
            let mut finding = finding.says(message).value("recorded", seen.hyperfocal, "m");
            for (name, number, unit) in [("circle of confusion", seen.circle, "mm"), ("from the near limit", seen.by_near, "m")] {
                if number.is_finite() {
                    finding = finding.value(name, number, unit);
                }
            }
            span.put(finding.help("look for another unit, another stop, or the focal length of another lens; it can be computed anew (--derive dof)"))
        });
    }
}
