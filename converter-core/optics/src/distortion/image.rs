//! Where pixels of a picture lie on the sensor, in the unit of a normalisation.

use ringmark_quantity::PinholeFocalLength;

use super::{Normalisation, Point};
use crate::error::{OpticsError, positive};

/// Pixels, sensor and lens of a picture.
///
/// Positions in pixels count from the outer corner at the top left, x to the right and y downwards: the centre of the first
/// pixel is at (0.5, 0.5). OpenCV counts from that centre: its coordinates are 0.5 less.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ImageGeometry {
    size_px: (u32, u32),
    sensor_mm: (f64, f64),
    pinhole_mm: f64,
    principal_px: (f64, f64),
}

/// Pixels on a side of the largest picture.
const LARGEST: u32 = 1 << 17;

impl ImageGeometry {
    /// A picture of `size_px` pixels on `sensor_mm` of sensor, behind a lens of this pinhole focal length whose axis
    /// meets the sensor `principal_mm` to the right of and below its centre. Sides are 1 to 131072 pixels.
    pub fn new(
        size_px: (u32, u32),
        sensor_mm: (f64, f64),
        focal_length: PinholeFocalLength,
        principal_mm: (f64, f64),
    ) -> Result<Self, OpticsError> {
        for side in [size_px.0, size_px.1] {
            side_of(u64::from(side))?;
        }
        let sensor = (
            positive("sensor width", sensor_mm.0, " mm")?,
            positive("sensor height", sensor_mm.1, " mm")?,
        );
        for offset in [principal_mm.0, principal_mm.1] {
            if !offset.is_finite() {
                return Err(OpticsError::Value {
                    quantity: "principal point offset",
                    value: offset,
                    unit: " mm",
                    expected: "a finite number",
                });
            }
        }
        let size = (f64::from(size_px.0), f64::from(size_px.1));
        Ok(Self {
            size_px,
            sensor_mm: sensor,
            pinhole_mm: focal_length.mm(),
            principal_px: (
                size.0 / 2.0 + principal_mm.0 / sensor.0 * size.0,
                size.1 / 2.0 + principal_mm.1 / sensor.1 * size.1,
            ),
        })
    }

    /// Width and height in pixels.
    pub const fn size_px(&self) -> (u32, u32) {
        self.size_px
    }

    /// Pixels that are 1 in a normalisation, across and down.
    fn scale(&self, normalisation: Normalisation) -> (f64, f64) {
        let mm = match normalisation {
            Normalisation::FocalLength => self.pinhole_mm,
            Normalisation::HalfWidth => self.sensor_mm.0 / 2.0,
            Normalisation::HalfDiagonal => self.sensor_mm.0.hypot(self.sensor_mm.1) / 2.0,
            Normalisation::Millimetre => 1.0,
            Normalisation::Pixel => return (1.0, 1.0),
        };
        (
            mm * f64::from(self.size_px.0) / self.sensor_mm.0,
            mm * f64::from(self.size_px.1) / self.sensor_mm.1,
        )
    }

    /// The point at a position in pixels.
    pub fn point(&self, normalisation: Normalisation, [x, y]: [f64; 2]) -> Point {
        let (across, down) = self.scale(normalisation);
        [
            (x - self.principal_px.0) / across,
            (y - self.principal_px.1) / down,
        ]
    }

    /// The position in pixels of a point.
    pub fn pixel(&self, normalisation: Normalisation, [x, y]: Point) -> [f64; 2] {
        let (across, down) = self.scale(normalisation);
        [
            self.principal_px.0 + x * across,
            self.principal_px.1 + y * down,
        ]
    }
}

/// Pixels on a side, if there can be so many.
pub(super) fn side_of(pixels: u64) -> Result<u32, OpticsError> {
    u32::try_from(pixels)
        .ok()
        .filter(|pixels| (1..=LARGEST).contains(pixels))
        .ok_or(OpticsError::Value {
            quantity: "side of a picture",
            value: pixels as f64,
            unit: " pixels",
            expected: "1 to 131072",
        })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn image() -> ImageGeometry {
        let f = PinholeFocalLength::from_mm(40.0).unwrap();
        ImageGeometry::new((3200, 1800), (32.0, 18.0), f, (0.5, -0.25)).unwrap()
    }

    #[test]
    fn edges_in_every_unit() {
        // The right edge is 15.5 mm from a principal point 0.5 mm right of the centre.
        let right = |normalisation| image().point(normalisation, [3200.0, 900.0])[0];
        assert_eq!(right(Normalisation::Millimetre), 15.5);
        assert_eq!(right(Normalisation::Pixel), 1550.0);
        assert_eq!(right(Normalisation::FocalLength), 15.5 / 40.0);
        assert_eq!(right(Normalisation::HalfWidth), 15.5 / 16.0);
        let half_diagonal = (32.0_f64 * 32.0 + 18.0 * 18.0).sqrt() / 2.0;
        assert!((right(Normalisation::HalfDiagonal) - 15.5 / half_diagonal).abs() < 1e-15);
        assert_eq!(
            image().point(Normalisation::Millimetre, [0.0, 900.0])[1],
            0.25
        );
    }

    #[test]
    fn there_and_back() {
        let unit = Normalisation::HalfDiagonal;
        let [x, y] = image().pixel(unit, image().point(unit, [12.5, 1799.5]));
        assert!((x - 12.5).abs() < 1e-10 && (y - 1799.5).abs() < 1e-10);
    }

    #[test]
    fn refuses_what_is_no_picture() {
        let f = PinholeFocalLength::from_mm(40.0).unwrap();
        for (size, sensor, principal) in [
            ((0, 1080), (32.0, 18.0), (0.0, 0.0)),
            ((1920, 200_000), (32.0, 18.0), (0.0, 0.0)),
            ((1920, 1080), (0.0, 18.0), (0.0, 0.0)),
            ((1920, 1080), (32.0, f64::NAN), (0.0, 0.0)),
            ((1920, 1080), (32.0, 18.0), (f64::INFINITY, 0.0)),
        ] {
            assert!(ImageGeometry::new(size, sensor, f, principal).is_err());
        }
    }
}
