//! The field of view against focal length and sensor.

use ringmark_model::{Channel, Severity};

use crate::by_frame::{ByFrame, FrameRule, value};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

const PINHOLE: ThresholdInfo = ThresholdInfo {
    check: "field-of-view-mismatch",
    name: "pinhole-tolerance",
    default: 0.05,
    unit: "of the width seen",
    why: "exact but for distortion, which widens the edge of the picture by a few per cent",
};
const OTHER: ThresholdInfo = ThresholdInfo {
    check: "field-of-view-mismatch",
    name: "focal-length-tolerance",
    default: 0.2,
    unit: "of the width seen",
    why: "breathing and rounded nominal focal lengths come on top",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "field-of-view-mismatch",
        title: "Field of view, focal length and sensor do not go together",
        severity: Severity::Warning,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("field_of_view_mismatch.md"),
        thresholds: &[PINHOLE, OTHER],
    },
    lens: None,
    take: Some(|take| {
        let (width, height) = take.take.sensor_mm?;
        let squeeze = take.fact(|lens| lens.squeeze).unwrap_or(1.0);
        Some(ByFrame::watch(FieldOfView { width: width * squeeze, height }))
    }),
};

/// The sensor in mm, as wide as it is once desqueezed.
struct FieldOfView {
    width: f64,
    height: f64,
}

#[derive(Clone, Copy)]
struct Seen {
    degrees: f64,
    focal_length: f64,
}

impl FrameRule for FieldOfView {
    type Seen = Seen;

    fn look<'a>(&'a self, take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, Seen) + 'a> {
        let degrees = batch.numbers(Channel::FieldOfView)?;
        let column = |channel, tolerance| batch.numbers(channel).map(|values| (values, take.value(tolerance)));
        let (focal_length, tolerance) = column(Channel::PinholeFocalLength, PINHOLE)
            .or_else(|| column(Channel::EffectiveFocalLength, OTHER))
            .or_else(|| column(Channel::NominalFocalLength, OTHER))?;
        Some(move |i: usize| {
            let seen = Seen { degrees: value(Some(degrees), i), focal_length: value(Some(focal_length), i) };
            let ratio = half_tangent(seen.degrees) / (self.width / 2.0 / seen.focal_length);
            // 0 degrees and 180 degrees are no fields of view: another check speaks about them.
            let off = if ratio > 0.0 && ratio < f64::INFINITY { ratio.max(1.0 / ratio) - 1.0 } else { f64::NAN };
            (off / tolerance, seen)
        })
    }

    fn report(&self, span: Span, seen: Seen, take: &TakeView<'_>, out: &mut Report<'_>) {
        out.add(Severity::Warning, take.subject(), |finding| {
            let expected = across(self.width, seen.focal_length);
            let message = format!(
                "field of view {} with {} on {} mm of sensor, which gives {}",
                words::value(Channel::FieldOfView, seen.degrees),
                words::value(Channel::PinholeFocalLength, seen.focal_length),
                words::short(self.width),
                words::value(Channel::FieldOfView, expected)
            );
            let finding = finding
                .says(message)
                .value("recorded", seen.degrees, "deg")
                .value("from focal length and sensor", expected, "deg")
                .value("focal length", seen.focal_length, "mm")
                .value("sensor width", self.width, "mm")
                .help("look for the field of another side, another sensor mode, or the focal length of an equivalent format");
            let story = self.story(seen, expected);
            let finding = match story {
                Some((story, evidence)) => finding.repair(story, evidence),
                None => finding,
            };
            span.put(finding)
        });
    }
}

impl FieldOfView {
    /// What else the number may be.
    fn story(&self, seen: Seen, expected: f64) -> Option<(String, String)> {
        let near = |degrees: f64| (half_tangent(seen.degrees) / half_tangent(degrees) - 1.0).abs() < 0.03;
        let diagonal = self.width.hypot(self.height);
        let others = [("vertical", self.height), ("diagonal", diagonal)];
        if (seen.degrees.to_degrees() / expected - 1.0).abs() < 0.03 {
            return Some(("read the field of view as radians".to_owned(), "as degrees they are what focal length and sensor give".to_owned()));
        }
        others.into_iter().find(|(_, side)| near(across(*side, seen.focal_length))).map(|(name, _)| {
            (format!("the {name} field of view was taken for the horizontal one"), format!("the {name} one is {}", words::value(Channel::FieldOfView, across(if name == "vertical" { self.height } else { diagonal }, seen.focal_length))))
        })
    }
}

fn half_tangent(degrees: f64) -> f64 {
    (degrees.to_radians() / 2.0).tan()
}

/// Degrees across `size` at a distance.
fn across(size: f64, focal_length: f64) -> f64 {
    2.0 * (size / 2.0).atan2(focal_length).to_degrees()
}
