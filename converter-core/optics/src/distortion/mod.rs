//! Radial and tangential distortion (Brown-Conrady, five coefficients), both ways.
//!
//! `x' = x R + 2 p1 x y + p2 (r² + 2x²)`, `y' = y R + p1 (r² + 2y²) + 2 p2 x y`, with `R = 1 + k1 r² + k2 r⁴ + k3 r⁶`, x to the
//! right and y **downwards** from the principal point. Source: OpenCV documentation, 'Camera Calibration and 3D
//! Reconstruction', where the formula goes from undistorted to distorted and lengths are in focal lengths. Other
//! sources use the same formula the other way round or with other lengths, and the numbers do not tell: so a
//! [`Distortion`] is never without its [`Direction`] and [`Normalisation`].

mod fold;
mod image;
mod inverse;
mod polynomial;
mod st_map;
mod statement;

pub use image::ImageGeometry;
pub use st_map::{Canvas, StMap, StMapKind};
pub use statement::{DIRECTIONS, NORMALISATIONS, StatedDistortion};

use crate::error::OpticsError;

/// A point: x to the right, y downwards from the principal point, in the unit of the normalisation.
pub type Point = [f64; 2];

/// What applying the formula to a point gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// The formula takes a point of the ideal picture to where the lens puts it: OpenCV's direction.
    UndistortedToDistorted,
    /// The formula takes a point of the recorded picture to where it ideally is.
    DistortedToUndistorted,
}

/// The length that is 1 in the formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Normalisation {
    /// The pinhole focal length: OpenCV's.
    FocalLength,
    /// Half the width of the sensor.
    HalfWidth,
    /// Half the diagonal of the sensor.
    HalfDiagonal,
    /// A millimetre on the sensor.
    Millimetre,
    /// A pixel: of its own width in x, of its own height in y.
    Pixel,
}

impl Normalisation {
    /// The unit in words, for many.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::FocalLength => "focal lengths",
            Self::HalfWidth => "half widths",
            Self::HalfDiagonal => "half diagonals",
            Self::Millimetre => "mm",
            Self::Pixel => "pixels",
        }
    }
}

/// Coefficients of the formula, see the [module](self); all 0 is no distortion.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Coefficients {
    /// First radial coefficient.
    pub k1: f64,
    /// Second radial coefficient.
    pub k2: f64,
    /// Third radial coefficient.
    pub k3: f64,
    /// First tangential coefficient.
    pub p1: f64,
    /// Second tangential coefficient.
    pub p2: f64,
}

impl Coefficients {
    /// The formula.
    #[inline]
    fn apply(&self, [x, y]: Point) -> Point {
        let (xx, xy, yy) = (x * x, x * y, y * y);
        let rr = xx + yy;
        let ratio = self.ratio(rr);
        [
            x * ratio + 2.0 * self.p1 * xy + self.p2 * (rr + 2.0 * xx),
            y * ratio + self.p1 * (rr + 2.0 * yy) + 2.0 * self.p2 * xy,
        ]
    }

    /// `1 + k1 r² + k2 r⁴ + k3 r⁶` of r².
    #[inline]
    fn ratio(&self, rr: f64) -> f64 {
        1.0 + rr * (self.k1 + rr * (self.k2 + rr * self.k3))
    }
}

/// A distortion of which direction and normalisation are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distortion {
    coefficients: Coefficients,
    direction: Direction,
    normalisation: Normalisation,
    fold: f64,
}

impl Distortion {
    /// A distortion; the coefficients must be finite.
    pub fn new(
        coefficients: Coefficients,
        direction: Direction,
        normalisation: Normalisation,
    ) -> Result<Self, OpticsError> {
        let Coefficients { k1, k2, k3, p1, p2 } = coefficients;
        for value in [k1, k2, k3, p1, p2] {
            // Beyond, powers of the radius would overflow.
            if value.is_nan() || value.abs() > 1e30 {
                return Err(OpticsError::Value {
                    quantity: "distortion coefficient",
                    value,
                    unit: "",
                    expected: "a number between -1e30 and 1e30",
                });
            }
        }
        Ok(Self {
            coefficients,
            direction,
            normalisation,
            fold: coefficients.fold_radius(),
        })
    }

    /// What the coefficients go from and to.
    pub const fn direction(&self) -> Direction {
        self.direction
    }

    /// The unit of points.
    pub const fn normalisation(&self) -> Normalisation {
        self.normalisation
    }

    /// The radius at which the formula folds, on the side it is applied to; infinite without distortion. Points at it and beyond
    /// are refused. For a distortion that does not fold it is a radius far outside any picture.
    pub const fn fold_radius(&self) -> f64 {
        self.fold
    }

    /// Where the lens puts a point of the ideal picture. The formula in its own direction; else its inverse, to rounding.
    pub fn distort(&self, point: Point) -> Result<Point, OpticsError> {
        match self.direction {
            Direction::UndistortedToDistorted => self.forward(point),
            Direction::DistortedToUndistorted => self.inverse(point),
        }
    }

    /// Where a point of the recorded picture ideally is: the inverse of [`distort`](Self::distort).
    pub fn undistort(&self, point: Point) -> Result<Point, OpticsError> {
        match self.direction {
            Direction::UndistortedToDistorted => self.inverse(point),
            Direction::DistortedToUndistorted => self.forward(point),
        }
    }

    fn forward(&self, point: Point) -> Result<Point, OpticsError> {
        let radius = self.radius(point)?;
        if radius < self.fold {
            Ok(self.coefficients.apply(point))
        } else {
            Err(self.folds(radius))
        }
    }

    fn inverse(&self, point: Point) -> Result<Point, OpticsError> {
        let radius = self.radius(point)?;
        inverse::solve(&self.coefficients, self.fold, point, radius)
            .ok_or_else(|| self.folds(radius))
    }

    fn radius(&self, [x, y]: Point) -> Result<f64, OpticsError> {
        let radius = x.hypot(y);
        if radius.is_finite() {
            Ok(radius)
        } else {
            Err(OpticsError::Value {
                quantity: "radius of a point",
                value: radius,
                unit: "",
                expected: "a finite number",
            })
        }
    }

    fn folds(&self, radius: f64) -> OpticsError {
        OpticsError::Folds {
            fold: self.fold,
            radius,
            unit: self.normalisation.unit(),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn barrel(direction: Direction) -> Distortion {
        let coefficients = Coefficients {
            k1: -0.12,
            k2: 0.01,
            p1: 0.002,
            p2: -0.001,
            ..Coefficients::default()
        };
        Distortion::new(coefficients, direction, Normalisation::HalfWidth).unwrap()
    }

    #[test]
    fn the_formula_by_hand() {
        let c = Coefficients {
            k1: 0.1,
            k2: 0.01,
            k3: 0.001,
            p1: 0.02,
            p2: 0.03,
        };
        // r² = 5, R = 1 + 0.5 + 0.25 + 0.125.
        let [x, y] = c.apply([1.0, 2.0]);
        assert!((x - (1.875 + 0.08 + 0.03 * 7.0)).abs() < 1e-15, "{x}");
        assert!((y - (3.75 + 0.02 * 13.0 + 0.12)).abs() < 1e-15, "{y}");
    }

    #[test]
    fn directions_are_inverses_of_each_other() {
        let (a, b) = (
            barrel(Direction::UndistortedToDistorted),
            barrel(Direction::DistortedToUndistorted),
        );
        let point = [0.8, -0.5];
        assert_eq!(a.distort(point).unwrap(), b.undistort(point).unwrap());
        assert_eq!(a.undistort(point).unwrap(), b.distort(point).unwrap());
        assert_ne!(a.distort(point).unwrap(), b.distort(point).unwrap());
    }

    #[test]
    fn folding_names_the_radius() {
        let strong = Coefficients {
            k1: -0.3,
            ..Coefficients::default()
        };
        let strong = Distortion::new(
            strong,
            Direction::UndistortedToDistorted,
            Normalisation::HalfDiagonal,
        )
        .unwrap();
        assert!(strong.distort([1.05, 0.0]).is_ok());
        let said = strong.distort([1.2, 0.0]).unwrap_err().to_string();
        assert!(
            said.starts_with("the distortion folds at radius 1.054093 half diagonals: radius 1.200000 lies beyond"),
            "{said}"
        );
        // Nothing ideal falls on 0.8: the largest image radius is 2/3 of the fold.
        assert!(strong.undistort([0.7, 0.0]).is_ok());
        assert!(matches!(
            strong.undistort([0.0, 0.8]),
            Err(OpticsError::Folds { radius: 0.8, .. })
        ));
    }

    #[test]
    fn refuses_what_is_no_number() {
        for value in [f64::NAN, f64::INFINITY, 1e31] {
            let coefficients = Coefficients {
                p1: value,
                ..Coefficients::default()
            };
            let made = Distortion::new(
                coefficients,
                Direction::UndistortedToDistorted,
                Normalisation::Pixel,
            );
            assert!(made.is_err(), "{value}");
        }
        let distortion = barrel(Direction::UndistortedToDistorted);
        for point in [[f64::NAN, 0.0], [0.0, f64::INFINITY]] {
            assert!(distortion.distort(point).is_err());
            assert!(distortion.undistort(point).is_err());
        }
    }
}
