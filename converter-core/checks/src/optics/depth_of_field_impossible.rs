//! Near and far limit on the wrong side of the focus.

use ringmark_model::{Channel, NumberColumn, Severity};
use ringmark_quantity::DistanceReference;

use crate::by_frame::{ByFrame, FrameRule, value};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const ROUNDING: ThresholdInfo = ThresholdInfo {
    check: "depth-of-field-impossible",
    name: "rounding",
    default: 0.01,
    unit: "of the distance",
    why: "limits and focus are rounded apart: at a shallow depth they may meet",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "depth-of-field-impossible",
        title: "The focus distance lies outside its depth of field",
        severity: Severity::Error,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("depth_of_field_impossible.md"),
        thresholds: &[ROUNDING],
    },
    lens: None,
    take: Some(|_| Some(ByFrame::watch(Outside))),
};

struct Outside;

/// Near limit, focus, far limit in metres; NaN where not recorded.
type Seen = (f64, f64, f64);

impl FrameRule for Outside {
    type Seen = Seen;

    fn look<'a>(&'a self, take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, Seen) + 'a> {
        let column = |channel| batch.batch.number_column(channel);
        let (near, far) = (column(Channel::NearLimit), column(Channel::FarLimit));
        let limit = near.or(far)?;
        let focus = column(Channel::FocusDistance).filter(|focus| same_point(focus, limit));
        let values = |column: Option<&'a NumberColumn>| column.map(|column| column.values.as_slice());
        let (near, focus, far) = (values(near), values(focus), values(far));
        let slack = 1.0 + take.value(ROUNDING);
        Some(move |i: usize| {
            let (near, focus, far) = (value(near, i), value(focus, i), value(far, i));
            // Ratios above 1 in the wrong order; NaN, where one is not recorded or both are infinite, counts as none.
            let worst = (near / focus).max(focus / far).max(near / far);
            (worst / slack, (near, focus, far))
        })
    }

    fn report(&self, span: Span, (near, focus, far): Seen, take: &TakeView<'_>, out: &mut Report<'_>) {
        out.add(Severity::Error, take.subject(), |finding| {
            let distance = words::distance;
            let message = if near > focus {
                format!("near limit {} is beyond the focus at {}", distance(near), distance(focus))
            } else if far < focus {
                format!("far limit {} is nearer than the focus at {}", distance(far), distance(focus))
            } else {
                format!("near limit {} is beyond the far limit {}", distance(near), distance(far))
            };
            let mut finding = finding.says(message);
            for (name, metres) in [("near limit", near), ("focus", focus), ("far limit", far)] {
                if !metres.is_nan() {
                    finding = finding.value(name, metres, "m");
                }
            }
            span.put(finding.help("look for near and far exchanged, for another unit, or for limits of another moment; they follow from focus, stop and focal length and can be computed anew"))
        });
    }
}

/// Distances from different points differ by the length of the lens.
pub(super) fn same_point(a: &NumberColumn, b: &NumberColumn) -> bool {
    let plain = |column: &NumberColumn| column.head.reference.filter(|point| *point != DistanceReference::Unstated);
    plain(a).zip(plain(b)).is_none_or(|(a, b)| a == b)
}
