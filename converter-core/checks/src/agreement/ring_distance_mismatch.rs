//! The recorded focus distance against what the ring position gives.

use ringmark_model::{Channel, NumberColumn, Severity};
use ringmark_optics::reconcile::depths_between;

use super::distance_jumps::{DistanceJump, DistanceJumps};
use super::lens_columns::{LensColumns, LensFacts};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::optics::CLOSE_FOCUS_ERROR;
use crate::ranges::{Runs, Span};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::units::factor_between;
use crate::view::{BatchView, FocusScale, TakeView};
use crate::words::{self, Fill};

pub(crate) const LIMIT: ThresholdInfo = ThresholdInfo {
    check: "ring-distance-mismatch",
    name: "ring-travel",
    default: 0.005,
    unit: "of travel",
    why: "rounding a distance to 1 mm moves the ring by no more than 0.0014; marks are read to 0.001",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "ring-distance-mismatch",
        title: "The recorded distance is not what the ring position gives",
        severity: Severity::Error,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("ring_distance_mismatch.md"),
        thresholds: &[LIMIT],
    },
    lens: None,
    take: Some(|_| Some(Box::<Mismatch>::default())),
};

#[derive(Default)]
struct Mismatch {
    /// Remembers ring and distance where they differ most, and by how much.
    runs: Runs<Worst>,
    jumps: DistanceJumps,
    facts: Option<LensFacts>,
}

#[derive(Clone, Copy)]
struct Worst {
    ring: f64,
    distance: f64,
    off: f64,
    /// The same in full depths of field; NaN where focal length or stop are not known.
    depths: f64,
}

impl Watch for Mismatch {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Some(column) = batch.batch.number_column(Channel::FocusDistance) else { return };
        match take.focus.filter(|focus| comparable(focus, column)) {
            Some(focus) => self.compare(focus, &column.values, take, batch, out),
            None => self.jumps.scan(batch, nearest(take), &mut |jump| report_jump(jump, take, out)),
        }
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        if let Some(focus) = take.focus {
            self.runs.end(|span, worst| report(span, worst, focus, take, out));
        }
        self.jumps.end(take.tail, &mut |jump| report_jump(jump, take, out));
    }
}

impl Mismatch {
    fn compare(&mut self, focus: &FocusScale, distances: &[f64], take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Some(ring) = batch.numbers(Channel::FocusRing) else { return };
        let at = |i: usize| {
            let (ring, distance) = (ring.get(i).copied().unwrap_or(f64::NAN), distances.get(i).copied().unwrap_or(f64::NAN));
            Worst { ring, distance, off: 0.0, depths: f64::NAN }
        };
        let hint = std::cell::Cell::new(0);
        let limit = take.value(LIMIT);
        let facts = self.facts.get_or_insert_with(|| LensFacts::of(take));
        let lens = LensColumns::of(facts, batch.batch);
        let measured = |i: usize| {
            let frame = at(i);
            let (focal_length, f_number) = lens.at(i);
            let given = focus.curve.value_at(frame.ring);
            let depths = depths_between(focal_length, f_number, facts.circle, given, frame.distance);
            Worst { off: travel_off(focus, frame.ring, frame.distance), depths, ..frame }
        };
        self.runs.scan(
            batch,
            |i| {
                let frame = at(i);
                far_off(focus, frame.ring, frame.distance, limit, &hint)
            },
            measured,
            |worst, i| {
                let here = measured(i);
                if here.off > worst.off {
                    *worst = here;
                }
            },
            |span, worst| report(span, worst, focus, take, out),
        );
    }
}

/// A distance that is computed from the ring says nothing about it, and one from another point is another distance.
pub(crate) fn comparable(focus: &FocusScale, column: &NumberColumn) -> bool {
    use ringmark_model::Origin;
    let recorded = matches!(column.head.origin, Origin::Recorded | Origin::Converted);
    let same = match (focus.reference, column.head.reference) {
        (Some(a), Some(b)) => a == b || [a, b].contains(&ringmark_quantity::DistanceReference::Unstated),
        _ => true,
    };
    recorded && same
}

fn from_image_plane(focus: &FocusScale) -> bool {
    use ringmark_quantity::DistanceReference::{ImagePlane, Unstated};
    matches!(focus.reference, None | Some(ImagePlane | Unstated))
}

/// Distances far below close focus are reported there, not here.
fn nearest(take: &TakeView<'_>) -> f64 {
    take.fact(|lens| lens.close_focus).map_or(0.0, |close| close.metres() * take.value(CLOSE_FOCUS_ERROR))
}

/// Whether ring and distance differ by more than the limit. A first look by the slope of the curve passes almost all
/// frames; the rest is computed.
#[inline]
fn far_off(focus: &FocusScale, ring: f64, distance: f64, limit: f64, hint: &std::cell::Cell<usize>) -> bool {
    let mut interval = hint.get();
    let (dioptres, slope) = focus.curve.coordinate_and_slope(ring, &mut interval);
    hint.set(interval);
    let miss = (1.0 / distance - dioptres).abs();
    // Not recorded, or outside the marks: nothing to compare.
    if miss <= 0.5 * limit * slope.abs() || miss.is_nan() || distance <= 0.0 {
        return false;
    }
    // Written so that NaN, a distance off the scale, counts as far off only beyond doubt.
    let off = travel_off(focus, ring, distance);
    off > limit && factor_between(focus, ring, distance, limit).is_none()
}

/// How far the ring is from where it should be for the distance, in travel. For a distance off the scale, how far it is
/// from the end of the scale.
pub(crate) fn travel_off(focus: &FocusScale, ring: f64, distance: f64) -> f64 {
    let expected = focus.curve.position_of(distance);
    if !expected.is_nan() {
        return (expected - ring).abs();
    }
    let ends = focus.curve.positions().first().zip(focus.curve.positions().last());
    let values = focus.curve.values().first().zip(focus.curve.values().last());
    match (ends, values) {
        (Some((low, high)), Some((at_low, at_high))) => {
            let nearer_low = (1.0 / distance - 1.0 / at_low).abs() < (1.0 / distance - 1.0 / at_high).abs();
            (if nearer_low { low } else { high } - ring).abs()
        }
        _ => f64::NAN,
    }
}

fn report(span: Span, worst: Worst, focus: &FocusScale, take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(Severity::Error, take.subject(), |finding| {
        let given = focus.curve.value_at(worst.ring);
        let depths = worst.depths.abs();
        // Where the distances count from another point the pupil is not known.
        let depths = Some(depths).filter(|depths| depths.is_finite() && from_image_plane(focus));
        let in_depths = depths.map_or(String::new(), |depths| format!(", {depths:.1} depths of field"));
        let message = format!(
            "recorded focus distance {}; ring position {} gives {} on the scale of {} ({} off{in_depths})",
            words::distance(worst.distance),
            ringmark_quantity::print::position(worst.ring),
            words::distance(given),
            focus.lens,
            words::travel(worst.off)
        );
        let finding = finding
            .says(message)
            .value("recorded", worst.distance, "m")
            .value("from the ring", given, "m")
            .value("ring", worst.ring, "0..1")
            .value("off by", worst.off, "of travel")
            .help("look for another lens, a ring that slipped on its gear, or distances from another source in these frames");
        let finding = match depths {
            Some(depths) => finding.value("out of focus by", depths, "depths of field"),
            None => finding,
        };
        span.put(finding)
    });
}

fn report_jump(jump: DistanceJump, take: &TakeView<'_>, out: &mut Report<'_>) {
    if crate::units::unit_factor(jump.after / jump.before, take.value(crate::units::FACTOR_TOLERANCE)).is_some() {
        return;
    }
    let excursion = jump.excursion;
    // A jump that stays says that something changed, not which side is right.
    let severity = if excursion.returned { Severity::Error } else { Severity::Warning };
    out.add(severity, take.subject(), |finding| {
        let back = if excursion.returned { format!(", and back after {}", words::frames(excursion.span.count())) } else { String::new() };
        let message = format!(
            "focus distance jumps from {} to {} in one frame while the ring moves {}{back}",
            words::distance(jump.before),
            words::distance(jump.after),
            words::travel(jump.ring_step)
        );
        let finding = finding
            .says(message)
            .value("before", jump.before, "m")
            .value("after", jump.after, "m")
            .help("ring and distance do not agree on one side of the jump: check with the calibration of the lens (--lens) which one");
        excursion.span.put(finding)
    });
}
