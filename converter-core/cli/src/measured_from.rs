//! `--measured-from`: every focus distance of a document from one point of the lens.

use std::sync::Arc;

use anyhow::{Context, Result, anyhow, bail};
use ringmark_model::{
    Batch, Channel, ColumnHead, ColumnKey, Lens, Origin, Piece, Ring, ScaleQuantity,
};
use ringmark_optics::{OpticsError, ReferencePoints, Surface};
use ringmark_quantity::{DistanceReference, FocusDistance, Length};

use crate::calibrate::surface_of;

/// Channels that tell the same place as the focus distance; a rangefinder says itself where it begins.
const DISTANCES: [Channel; 4] = [
    Channel::FocusDistance,
    Channel::NearLimit,
    Channel::FarLimit,
    Channel::Hyperfocal,
];

/// Brings focus distances to one reference.
pub struct Reframer {
    to: DistanceReference,
    front_vertex: Option<Length>,
}

impl Reframer {
    /// Brings distances to `to`; `front_vertex` is in front of the image plane.
    pub fn new(to: DistanceReference, front_vertex: Option<Length>) -> Reframer {
        Reframer { to, front_vertex }
    }

    /// Converts what a piece has of distances. Fails when a point is not known: half a column would be worth nothing.
    pub fn piece(&self, piece: &mut Piece) -> Result<()> {
        match piece {
            Piece::Lens(lens) => self.lens(lens).with_context(|| lens.label()),
            Piece::Frames(batch) => self.frames(batch),
            Piece::Take(_) | Piece::Remark(_) | Piece::End(_) => Ok(()),
        }
    }

    fn lens(&self, lens: &mut Lens) -> Result<()> {
        let pupil = surface_of(lens, Channel::EntrancePupilOffset)?;
        let pupil = Pupil(pupil.as_ref());
        for ring in &mut lens.rings {
            if ring.quantity == ScaleQuantity::FocusDistance {
                self.ring(ring, pupil)?;
            }
        }
        if let (Some(length), Some(from)) = (lens.close_focus, lens.close_focus_reference)
            && from != self.to
        {
            let distance = FocusDistance::new(length.metres(), from).context("close focus")?;
            let converted = self.of_lens(distance, pupil).context("close focus")?;
            let metres = converted.length().map(Length::metres);
            lens.close_focus = metres.map(exact).map(Length::from_metres);
            lens.close_focus_reference = Some(self.to);
        }
        Ok(())
    }

    fn ring(&self, ring: &mut Ring, pupil: Pupil<'_>) -> Result<()> {
        let from = ring.reference.unwrap_or_default();
        if from == self.to {
            return Ok(());
        }
        for mark in &mut ring.marks {
            let told = || format!("focus mark {} m", mark.value);
            let distance = FocusDistance::new(mark.value, from).with_context(told)?;
            let converted = self.of_lens(distance, pupil).with_context(told)?;
            if !converted.is_infinite() {
                mark.value = exact(converted.metres());
                // The barrel says something else now.
                mark.engraved = None;
            }
        }
        ring.reference = Some(self.to);
        Ok(())
    }

    /// A distance of a lens, by the table of its entrance pupil, which stands over distances from the image plane.
    fn of_lens(&self, distance: FocusDistance, pupil: Pupil<'_>) -> Result<FocusDistance> {
        let from = distance.reference();
        let touches = [from, self.to].contains(&DistanceReference::EntrancePupil);
        let mut points = ReferencePoints {
            entrance_pupil: None,
            front_vertex: self.front_vertex,
        };
        if touches && !distance.is_infinite() {
            points.entrance_pupil = Some(pupil.at(distance, points)?);
        }
        points
            .convert(distance, self.to)
            .map_err(|error| explained(&error))
    }

    fn frames(&self, batch: &mut Batch) -> Result<()> {
        let (first, count) = (batch.first, batch.count);
        let number = batch.numbers(Channel::Frame).map(<[f64]>::to_vec);
        let pupils = batch
            .numbers(Channel::EntrancePupilOffset)
            .map(<[f64]>::to_vec);
        let points = |frame: usize| ReferencePoints {
            entrance_pupil: pupils
                .as_ref()
                .and_then(|pupils| pupils.get(frame))
                .filter(|mm| mm.is_finite())
                .map(|mm| Length::from_mm(*mm)),
            front_vertex: self.front_vertex,
        };
        let name = |frame: usize| {
            let recorded = number.as_ref().and_then(|number| number.get(frame));
            match recorded.filter(|number| number.is_finite()) {
                Some(number) => format!("frame {number}"),
                None => format!("frame {} of the take", first + frame as u64 + 1),
            }
        };
        for column in &mut batch.numbers {
            let ColumnKey::Channel(channel) = column.head.key else {
                continue;
            };
            let from = column.head.reference.unwrap_or_default();
            if !DISTANCES.contains(&channel) || from == self.to {
                continue;
            }
            for (frame, value) in column.values.iter_mut().enumerate().take(count) {
                if value.is_nan() {
                    continue;
                }
                let converted = FocusDistance::new(*value, from)
                    .map_err(OpticsError::from)
                    .and_then(|distance| points(frame).convert(distance, self.to));
                *value = converted
                    .map_err(|error| explained(&error))
                    .with_context(|| format!("{}, {}", name(frame), channel.name()))?
                    .metres();
            }
            column.head = Arc::new(ColumnHead {
                reference: Some(self.to),
                origin: match column.head.origin {
                    Origin::Recorded => Origin::Converted,
                    origin => origin,
                },
                ..ColumnHead::clone(&column.head)
            });
        }
        Ok(())
    }
}

/// Without what adding and taking away leaves behind: 0.65532 and not 0.6553199999999999. A picometre is nobody's.
fn exact(metres: f64) -> f64 {
    (metres * 1e12).round() / 1e12
}

/// The entrance pupil of a lens over focus distance.
#[derive(Clone, Copy)]
struct Pupil<'a>(Option<&'a Surface>);

impl Pupil<'_> {
    /// Where it is when the lens is focused at `distance`. The table stands over distances from the image plane; where the
    /// given one is from the pupil itself, each step comes nearer by the part that the pupil moves of what the focus does.
    fn at(self, distance: FocusDistance, points: ReferencePoints) -> Result<Length> {
        let Some(surface) = self.0 else {
            return Err(explained(&OpticsError::PointUnknown {
                point: DistanceReference::EntrancePupil,
            }));
        };
        if surface.goes_by_focal_length() {
            bail!("the entrance pupil moves with the zoom: no one scale can be measured from it");
        }
        let (nearest, farthest) = surface.distances().unwrap_or((0.0, f64::INFINITY));
        let mut pupil = Length::from_mm(surface.value(farthest, f64::NAN));
        for _ in 0..64 {
            let points = ReferencePoints {
                entrance_pupil: Some(pupil),
                ..points
            };
            let at = points
                .convert(distance, DistanceReference::ImagePlane)
                .map_err(|error| explained(&error))?;
            // On the way a step may leave the table by as much as the pupil moves.
            let mm = surface.value(at.metres().clamp(nearest, farthest), f64::NAN);
            let next = Length::from_mm(mm);
            if (next.metres() - pupil.metres()).abs() < 1e-12 {
                if surface.value(at.metres(), f64::NAN).is_nan() {
                    bail!(
                        "the table of the entrance pupil has no value at {} m",
                        at.metres()
                    );
                }
                return Ok(next);
            }
            pupil = next;
        }
        bail!("the table of the entrance pupil jumps: no one place belongs to this distance")
    }
}

fn explained(error: &OpticsError) -> anyhow::Error {
    let help = match error {
        OpticsError::PointUnknown {
            point: DistanceReference::EntrancePupil,
        } => ": record the entrance pupil offset, or give --lens with a table of it",
        OpticsError::PointUnknown {
            point: DistanceReference::FrontVertex,
        } => ": give --front-vertex, how far it is in front of the image plane",
        _ => "",
    };
    anyhow!("{error}{help}")
}
