//! Focal length and f-number of every frame, as far as they are known.

use ringmark_model::{Axis, Batch, Channel, Lens, ScaleQuantity};
use ringmark_optics::{CircleOfConfusion, ImageFormat, RingCurve, Transmittance};

use crate::view::TakeView;

/// What a lens says for all frames.
#[derive(Debug, Clone)]
pub(crate) struct LensFacts {
    /// f-number over T-stop. Without transmittance the T-stop is taken: it is the larger, so no depth is judged too small.
    stop_factor: f64,
    /// Of a prime, in millimetres.
    focal_length: f64,
    iris: Option<(RingCurve, bool)>,
    pub circle: CircleOfConfusion,
}

impl LensFacts {
    pub fn of(take: &TakeView<'_>) -> Self {
        let widest = take.fact(|lens| lens.widest_f.zip(lens.widest_t));
        let transmittance = widest.and_then(|(f, t)| Transmittance::of_stops(f, t).ok());
        let range = take.fact(|lens| lens.focal_length);
        let sensor = take.take.sensor_mm;
        let circle =
            sensor.and_then(|(width, height)| CircleOfConfusion::of_sensor(width, height).ok());
        Self {
            stop_factor: transmittance.map_or(1.0, |part| part.part().sqrt()),
            focal_length: range
                .filter(|(min, max)| min == max)
                .map_or(f64::NAN, |(min, _)| min.mm()),
            iris: [take.calibration, take.lens]
                .into_iter()
                .flatten()
                .find_map(iris),
            circle: circle.unwrap_or(CircleOfConfusion::of_format(ImageFormat::Cine35)),
        }
    }
}

/// The iris scale of a lens, and whether it is in T-stops.
fn iris(lens: &Lens) -> Option<(RingCurve, bool)> {
    let ring = lens.ring(Axis::Iris)?;
    Some((
        RingCurve::new(ring).ok()?,
        ring.quantity == ScaleQuantity::TStop,
    ))
}

/// The columns of a batch that focal length and f-number are in.
pub(crate) struct LensColumns<'a> {
    facts: &'a LensFacts,
    focal_lengths: Option<&'a [f64]>,
    f_numbers: Option<&'a [f64]>,
    t_stops: Option<&'a [f64]>,
    iris: Option<&'a [f64]>,
}

impl<'a> LensColumns<'a> {
    pub fn of(facts: &'a LensFacts, batch: &'a Batch) -> Self {
        let focal_lengths = [Channel::EffectiveFocalLength, Channel::NominalFocalLength];
        Self {
            facts,
            focal_lengths: focal_lengths
                .into_iter()
                .find_map(|channel| batch.numbers(channel)),
            f_numbers: batch.numbers(Channel::FNumber),
            t_stops: batch.numbers(Channel::TStop),
            iris: batch.numbers(Channel::IrisRing),
        }
    }

    /// Focal length in millimetres and f-number of a frame; NaN where not known.
    pub fn at(&self, frame: usize) -> (f64, f64) {
        let of = |column: Option<&[f64]>| column.and_then(|values| values.get(frame)).copied();
        let focal_length = of(self.focal_lengths).unwrap_or(self.facts.focal_length);
        let factor = self.facts.stop_factor;
        let f_number = of(self.f_numbers)
            .or_else(|| of(self.t_stops).map(|t_stop| t_stop * factor))
            .or_else(|| {
                let (curve, is_t) = self.facts.iris.as_ref()?;
                let value = curve.value_at(of(self.iris)?);
                Some(if *is_t { value * factor } else { value })
            });
        (focal_length, f_number.unwrap_or(f64::NAN))
    }
}
