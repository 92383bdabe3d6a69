//! A constant offset that would bring rangefinder and ring together.

use ringmark_model::Severity;
use ringmark_quantity::print;

use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

const TYPICAL: ThresholdInfo = ThresholdInfo {
    check: "rangefinder-offset-likely",
    name: "typical-misfocus",
    default: 0.25,
    unit: "depths of field",
    why: "half of what is left on either side of focus; less is lost in the scatter of readings",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "rangefinder-offset-likely",
        title: "A constant offset explains why rangefinder and ring disagree",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("rangefinder_offset_likely.md"),
        thresholds: &[TYPICAL],
    },
    lens: None,
    take: Some(|_| Some(Box::new(OffsetLikely))),
};

struct OffsetLikely;

impl Watch for OffsetLikely {
    fn frames(&mut self, _take: &TakeView<'_>, _batch: &BatchView<'_>, _out: &mut Report<'_>) {}

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some(finder) = take.finder else { return };
        let (Some((agreement, span)), Some(stated)) = (finder.whole(), finder.offset()) else { return };
        let Some(found) = agreement.distance.filter(|_| agreement.distance_explains) else { return };
        if agreement.typical < take.value(TYPICAL) {
            return;
        }
        // An offset that nobody stated is missing, not wrong.
        let severity = if stated.known && agreement.typical > 1.0 { Severity::Warning } else { Severity::Note };
        out.add(severity, take.subject(), |finding| {
            let offset = stated.metres + found.metres;
            let by = format!("{:.0} mm ({})", found.metres.abs() * 1000.0, print::imperial(found.metres.abs()));
            let way = if found.metres > 0.0 { "short" } else { "long" };
            let known = if stated.known {
                format!("with the offset of {:.0} mm", stated.metres * 1000.0)
            } else {
                "no offset is stated".to_owned()
            };
            let half = 1000.0 * found.error;
            let finding = finding
                .says(format!("the rangefinder reads {by} short or long of the ring's distances all along; {known}").replace("short or long", way))
                .value("missing", found.metres, "m")
                .value("missing, 95 % interval, half", found.error, "m")
                .value("typical misfocus", agreement.typical, "depths of field")
                .value("typical misfocus with it", found.typical, "depths of field")
                .help("measure from the image plane mark to the front of the rangefinder; check the focus scale too")
                .repair(
                    format!("state --rangefinder-offset {:.0}mm", offset * 1000.0),
                    format!(
                        "so, ring and rangefinder are typically {:.2} depths of field apart instead of {:.2} (offset ± {half:.0} mm)",
                        found.typical, agreement.typical
                    ),
                );
            span.put(finding)
        });
    }
}
