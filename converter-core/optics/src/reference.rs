//! One focus distance from another point of the lens.
//!
//! A point `z` in front of the image plane is `z` nearer to the subject: `D(to) = D(from) + z(from) - z(to)`, all along the
//! axis (ISO 517 counts photographic distances from the image plane, from memory). Infinity is infinity from everywhere.

use ringmark_quantity::{DistanceReference, FocusDistance, Length};

use crate::OpticsError;

/// Where the points are that distances are measured from, in front of the image plane; negative behind it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ReferencePoints {
    /// The entrance pupil at the focus distance and focal length in question, if it is known.
    pub entrance_pupil: Option<Length>,
    /// The front vertex, if it is known.
    pub front_vertex: Option<Length>,
}

impl ReferencePoints {
    /// The same subject, measured from `to`. Fails when one of the two points is not known, and when the subject would lie
    /// behind `to`.
    pub fn convert(
        self,
        distance: FocusDistance,
        to: DistanceReference,
    ) -> Result<FocusDistance, OpticsError> {
        let from = distance.reference();
        if from == to {
            return Ok(distance);
        }
        if distance.is_infinite() && from != DistanceReference::Unstated {
            return Ok(FocusDistance::infinity(to));
        }
        let metres = distance.metres() + self.metres(from)? - self.metres(to)?;
        FocusDistance::new(metres, to).map_err(|_| OpticsError::Behind {
            metres: distance.metres(),
            from,
            to,
        })
    }

    /// Metres in front of the image plane.
    fn metres(self, point: DistanceReference) -> Result<f64, OpticsError> {
        let place = match point {
            DistanceReference::ImagePlane => Some(0.0),
            DistanceReference::EntrancePupil => self.entrance_pupil.map(Length::metres),
            DistanceReference::FrontVertex => self.front_vertex.map(Length::metres),
            DistanceReference::Unstated => None,
        };
        place
            .filter(|metres| metres.is_finite())
            .ok_or(OpticsError::PointUnknown { point })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use DistanceReference::{EntrancePupil, FrontVertex, ImagePlane, Unstated};

    const POINTS: ReferencePoints = ReferencePoints {
        entrance_pupil: Some(Length::from_metres(0.0469)),
        front_vertex: Some(Length::from_metres(0.12)),
    };

    fn convert(metres: f64, from: DistanceReference, to: DistanceReference) -> f64 {
        let distance = FocusDistance::new(metres, from).unwrap();
        POINTS.convert(distance, to).unwrap().metres()
    }

    #[test]
    fn nearer_points_measure_less() {
        assert!((convert(0.5, ImagePlane, EntrancePupil) - 0.4531).abs() < 1e-15);
        assert!((convert(0.38, FrontVertex, ImagePlane) - 0.5).abs() < 1e-15);
        assert!((convert(0.38, FrontVertex, EntrancePupil) - 0.4531).abs() < 1e-15);
        assert_eq!(
            convert(f64::INFINITY, FrontVertex, EntrancePupil),
            f64::INFINITY
        );
        assert_eq!(convert(0.3, Unstated, Unstated), 0.3);
    }

    #[test]
    fn there_and_back_is_where_it_was() {
        for from in [ImagePlane, EntrancePupil, FrontVertex] {
            for to in [ImagePlane, EntrancePupil, FrontVertex] {
                let back = convert(convert(1.7, from, to), to, from);
                assert!((back - 1.7).abs() < 1e-15, "{from:?} {to:?}");
            }
        }
    }

    #[test]
    fn nothing_is_guessed() {
        let distance = |reference| FocusDistance::new(0.1, reference).unwrap();
        let wrong = |points: ReferencePoints, from, to| {
            points.convert(distance(from), to).unwrap_err().to_string()
        };
        let none = ReferencePoints::default();
        assert!(wrong(none, ImagePlane, EntrancePupil).contains("how far the entrance-pupil is"));
        assert!(wrong(POINTS, Unstated, ImagePlane).contains("does not say"));
        assert!(wrong(POINTS, ImagePlane, FrontVertex).contains("0.1 m from image-plane"));
    }
}
