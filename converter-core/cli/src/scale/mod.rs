//! The scales of a lens as curves, in plain numbers for whoever shows them.

mod depth;
mod question;

use anyhow::{Context, Result, anyhow};
use ringmark_model::{Axis, Lens, Mark, Ring, ScaleQuantity};
use ringmark_optics::{CurveError, Reading, Region, RingCurve, Shape, coordinate};
use ringmark_outputs::{
    Drive, InfinityPlace, MarkResidual, ScalePoint, ScaleReport, Standing, System, round_values,
    spaced,
};
use ringmark_quantity::print;

pub use depth::{Depth, Sharpness};
pub use question::{Question, answers};

/// Places of a curve: more than a wide terminal has dots.
const PLACES: u32 = 500;

/// Positions from here to there are shown, so that the travel past infinity is seen.
const SHOWN: (f64, f64) = (0.0, 1.0);

/// Round values of the table stand this far apart on the ring at least, as engraved ones do.
const APART: f64 = 0.04;

/// The curve of each ring of a lens, or why its marks give none.
pub fn reports(lens: &Lens, sharpness: Sharpness) -> Vec<Result<ScaleReport, String>> {
    let one = |ring| Ok(Scale::of(lens, ring, sharpness)?.report());
    lens.rings.iter().map(one).collect()
}

/// The focus ring of a lens; `name` is the file it comes from.
pub fn focus_ring<'l>(lens: &'l Lens, name: &str) -> Result<&'l Ring> {
    lens.ring(Axis::Focus)
        .filter(|ring| ring.quantity == ScaleQuantity::FocusDistance)
        .with_context(|| format!("{name}: holds no focus ring with marks in distances"))
}

/// The curve of a focus ring.
pub fn focus_curve(ring: &Ring, name: &str) -> Result<RingCurve> {
    RingCurve::new(ring).map_err(|error| {
        anyhow!(
            "{name}: the focus marks give no curve: {}",
            in_words(ring, &error)
        )
    })
}

/// A ring with its curve and what its depth of field rests on.
struct Scale<'l> {
    ring: &'l Ring,
    curve: RingCurve,
    depth: Option<Result<Depth, String>>,
}

impl<'l> Scale<'l> {
    fn of(lens: &Lens, ring: &'l Ring, sharpness: Sharpness) -> Result<Self, String> {
        let curve = RingCurve::new(ring).map_err(|error| in_words(ring, &error))?;
        let focus = ring.quantity == ScaleQuantity::FocusDistance;
        let depth = focus.then(|| Depth::of(lens, ring.reference.unwrap_or_default(), sharpness));
        Ok(Scale { ring, curve, depth })
    }

    fn report(&self) -> ScaleReport {
        let shown = self.curve.positions().iter().copied();
        let (first, last) = shown.fold(SHOWN, |(low, high), p| (low.min(p), high.max(p)));
        let step = (last - first) / f64::from(PLACES);
        let curve = (0..=PLACES).map(|k| self.point(first + step * f64::from(k)));
        ScaleReport {
            drive: match self.curve.shape() {
                Shape::Even => Drive::Even,
                Shape::Cam => Drive::Cam,
                Shape::Marks => Drive::Marks,
            },
            reading_error: self.curve.reading_error(),
            infinity: self.curve.infinity().map(|infinity| InfinityPlace {
                position: infinity.position,
                band: infinity.band,
                extrapolated: infinity.extrapolated,
            }),
            depth: self
                .depth
                .as_ref()
                .map(|depth| depth.as_ref().map(Depth::words).map_err(String::clone)),
            curve: curve.collect(),
            marks: self
                .ring
                .marks
                .iter()
                .map(|mark| self.residual(mark))
                .collect(),
            metric: self.rounds(System::Metric),
            imperial: match self.ring.quantity {
                ScaleQuantity::FocusDistance => self.rounds(System::Imperial),
                _ => Vec::new(),
            },
        }
    }

    /// What the curve says at a ring position.
    fn point(&self, position: f64) -> ScalePoint {
        let Reading {
            value,
            low,
            high,
            region,
        } = self.curve.reading_at(position);
        let depth = self.depth.as_ref().and_then(|depth| depth.as_ref().ok());
        ScalePoint {
            position,
            value,
            low,
            high,
            standing: match region {
                Region::PastInfinity => Standing::PastInfinity,
                Region::Marked => Standing::Marked,
                Region::Extrapolated | Region::Outside => Standing::Extrapolated,
            },
            sharp: depth.and_then(|depth| depth.limits(value)),
        }
    }

    /// What the curve says to a value: the place is that of the value, which is kept as asked.
    fn place_of(&self, value: f64) -> Option<ScalePoint> {
        let position = self.curve.position_of(value);
        position.is_finite().then(|| {
            let point = self.point(position);
            // Infinity itself is on the scale; where no mark says so, it is extrapolated.
            let standing = match point.standing {
                Standing::PastInfinity => Standing::Extrapolated,
                other => other,
            };
            ScalePoint {
                value,
                standing,
                ..point
            }
        })
    }

    fn residual(&self, mark: &Mark) -> MarkResidual {
        let value = self.curve.value_at(mark.position);
        let off =
            coordinate(self.ring.quantity, value) - coordinate(self.ring.quantity, mark.value);
        let depth = self.depth.as_ref().and_then(|depth| depth.as_ref().ok());
        MarkResidual {
            travel: mark.position - self.curve.position_of(mark.value),
            depths: depth
                .and_then(|depth| depth.dioptres(mark.value))
                .map_or(f64::NAN, |whole| off / whole),
        }
    }

    fn rounds(&self, system: System) -> Vec<ScalePoint> {
        let place = |value| self.place_of(value).map(|point| point.position);
        spaced(round_values(self.ring.quantity, system), APART, place)
            .into_iter()
            .filter_map(|value| self.place_of(value))
            .collect()
    }
}

/// Why marks give no curve, naming them as they are engraved.
fn in_words(ring: &Ring, error: &CurveError) -> String {
    let named = |index: usize| match ring.marks.get(index) {
        Some(mark) => {
            let text = mark.engraved.clone();
            let text = text.unwrap_or_else(|| print::value(mark.value, ring.quantity.unit()));
            format!("{text} at {}", print::position(mark.position))
        }
        None => format!("mark {index}"),
    };
    match error {
        CurveError::TooFew { .. } => "a scale needs 2 marks or more".to_owned(),
        CurveError::Mark { mark, .. } => format!(
            "mark {}: expected a finite position and a value above 0; correct it or leave it out",
            named(*mark)
        ),
        CurveError::Repeated { first, second, .. } => format!(
            "marks {} and {} share a ring position; leave one out",
            named(*first),
            named(*second)
        ),
        CurveError::NotMonotone { first, second, .. } => format!(
            "marks {} and {} run against the rest of the scale; correct one of them",
            named(*first),
            named(*second)
        ),
        other => other.to_string(),
    }
}
