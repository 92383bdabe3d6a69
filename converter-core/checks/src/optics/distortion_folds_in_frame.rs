//! Distortion coefficients with which two points of the scene fall on one point of the picture.

use ringmark_model::{Channel, Severity};
use ringmark_optics::{Coefficients, Direction, Distortion, Normalisation};

use crate::by_frame::{ByFrame, FrameRule, value};
use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::Check;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "distortion-folds-in-frame",
        title: "The distortion formula folds the picture inside the frame",
        severity: Severity::Error,
        family: Family::Optics,
        since: "0.1.0",
        explanation: include_str!("distortion_folds_in_frame.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| {
        let stated = Distortion::stated_in(take.take.distortion_model.as_deref()?);
        let (direction, normalisation) = stated.direction.zip(stated.normalisation)?;
        let size = match normalisation {
            Normalisation::Pixel => take.take.resolution.map(|(width, height)| (f64::from(width), f64::from(height)))?,
            _ => take.take.sensor_mm?,
        };
        stated.is_brown_conrady.then(|| ByFrame::watch(Folds { direction, normalisation, size }))
    }),
};

struct Folds {
    direction: Direction,
    normalisation: Normalisation,
    /// Width and height of the picture: pixels where they are the unit, else mm.
    size: (f64, f64),
}

/// Radius at which it folds and radius of the corner, in the unit of the coefficients.
type Seen = (f64, f64);

impl Folds {
    /// The corner of the picture in the unit of the coefficients.
    fn corner(&self, pinhole_mm: f64) -> [f64; 2] {
        let (width, height) = self.size;
        let unit = match self.normalisation {
            Normalisation::FocalLength => pinhole_mm,
            Normalisation::HalfWidth => width / 2.0,
            Normalisation::HalfDiagonal => width.hypot(height) / 2.0,
            Normalisation::Millimetre | Normalisation::Pixel => 1.0,
        };
        [width / 2.0 / unit, height / 2.0 / unit]
    }

    fn judge(&self, coefficients: Coefficients, corner: [f64; 2]) -> (f64, Seen) {
        let radius = corner[0].hypot(corner[1]);
        let fine = (0.0, (f64::INFINITY, radius));
        // What cannot fold even if every term pulled the same way needs no polynomial solved.
        let r2 = 4.0 * radius * radius;
        let Coefficients { k1, k2, k3, p1, p2 } = coefficients;
        let most = r2 * (3.0 * k1.abs() + r2 * (5.0 * k2.abs() + r2 * 7.0 * k3.abs())) + 6.0 * p1.hypot(p2) * r2.sqrt();
        if most < 0.5 || !radius.is_finite() {
            return fine;
        }
        let Ok(distortion) = Distortion::new(coefficients, self.direction, self.normalisation) else { return fine };
        // Both signs of each side: tangential terms are not the same in the four corners.
        let corners = [[1.0, 1.0], [-1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]];
        let folds = corners.into_iter().any(|[x, y]| distortion.undistort([x * corner[0], y * corner[1]]).is_err());
        (if folds { 2.0 } else { 0.0 }, (distortion.fold_radius(), radius))
    }
}

impl FrameRule for Folds {
    type Seen = Seen;

    fn look<'a>(&'a self, _take: &'a TakeView<'_>, batch: &'a BatchView<'_>) -> Option<impl Fn(usize) -> (f64, Seen) + 'a> {
        let k1 = batch.numbers(Channel::DistortionK1)?;
        let rest = [Channel::DistortionK2, Channel::DistortionK3, Channel::DistortionP1, Channel::DistortionP2].map(|channel| batch.numbers(channel));
        let pinhole = batch.numbers(Channel::PinholeFocalLength);
        if pinhole.is_none() && self.normalisation == Normalisation::FocalLength {
            return None;
        }
        // Most takes have one set of coefficients: the last one judged is kept.
        let last = std::cell::Cell::new(None::<(Coefficients, u64, (f64, Seen))>);
        Some(move |i: usize| {
            // A coefficient that is not recorded is none.
            let or_zero = |column: Option<&[f64]>| Some(value(column, i)).filter(|value| value.is_finite()).unwrap_or(0.0);
            let [k2, k3, p1, p2] = rest.map(or_zero);
            let coefficients = Coefficients { k1: or_zero(Some(k1)), k2, k3, p1, p2 };
            let mm = value(pinhole, i);
            if let Some((known, of, judged)) = last.get()
                && known == coefficients
                && of == mm.to_bits()
            {
                return judged;
            }
            let judged = self.judge(coefficients, self.corner(mm));
            last.set(Some((coefficients, mm.to_bits(), judged)));
            judged
        })
    }

    fn report(&self, span: Span, (fold, radius): Seen, take: &TakeView<'_>, out: &mut Report<'_>) {
        out.add(Severity::Error, take.subject(), |finding| {
            let unit = self.normalisation.unit();
            let message = format!(
                "the distortion formula folds at a radius of {} {unit}; the corner of the picture is at {}",
                words::short(fold),
                words::short(radius)
            );
            let finding = finding
                .says(message)
                .value("folds at", fold, unit)
                .value("corner", radius, unit)
                .help("look for coefficients of another normalisation or direction, of another sensor mode, or fitted to marks near the centre only");
            span.put(finding)
        });
    }
}
