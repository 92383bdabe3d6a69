//! The blur that still counts as sharp.
//!
//! It is a convention, never a property of the lens: whoever quotes a depth of field has to say it.

use crate::error::{OpticsError, positive};

/// Formats that have a customary circle of confusion. Common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ImageFormat {
    /// 16 mm film and sensors of its size: 0.015 mm.
    Cine16,
    /// 35 mm cine frames: 0.025 mm (0.001 in).
    Cine35,
    /// 36 x 24 mm: 0.030 mm.
    FullFrame,
}

impl ImageFormat {
    /// Every format.
    pub const ALL: [Self; 3] = [Self::Cine16, Self::Cine35, Self::FullFrame];

    /// Its name in options.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Cine16 => "cine-16",
            Self::Cine35 => "cine-35",
            Self::FullFrame => "full-frame",
        }
    }

    /// The format called `name`.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| format.name() == name)
    }
}

/// Diameter of the largest blur on the sensor that counts as sharp, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct CircleOfConfusion(f64);

impl CircleOfConfusion {
    /// A diameter in millimetres, above 0 and finite.
    pub fn from_mm(mm: f64) -> Result<Self, OpticsError> {
        positive("circle of confusion", mm, " mm").map(Self)
    }

    /// The customary one of a format, see [`ImageFormat`].
    pub const fn of_format(format: ImageFormat) -> Self {
        Self(match format {
            ImageFormat::Cine16 => 0.015,
            ImageFormat::Cine35 => 0.025,
            ImageFormat::FullFrame => 0.030,
        })
    }

    /// `sqrt(w² + h²) / 1500` of a sensor `width_mm` by `height_mm`, each above 0. Common practice, no source.
    pub fn of_sensor(width_mm: f64, height_mm: f64) -> Result<Self, OpticsError> {
        let width = positive("sensor width", width_mm, " mm")?;
        let height = positive("sensor height", height_mm, " mm")?;
        Self::from_mm(width.hypot(height) / 1500.0)
    }

    /// In millimetres.
    pub const fn mm(self) -> f64 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn names_read_back() {
        for format in ImageFormat::ALL {
            assert_eq!(ImageFormat::from_name(format.name()), Some(format));
        }
        assert_eq!(ImageFormat::from_name("35"), None);
    }

    #[test]
    fn full_frame_diagonal() {
        // 43.2666 mm / 1500, by hand.
        let circle = CircleOfConfusion::of_sensor(36.0, 24.0).unwrap();
        assert!((circle.mm() - 0.028844).abs() < 1e-6, "{}", circle.mm());
    }

    #[test]
    fn refuses_what_is_no_diameter() {
        for mm in [0.0, -0.025, f64::NAN, f64::INFINITY] {
            assert!(CircleOfConfusion::from_mm(mm).is_err(), "{mm}");
            assert!(CircleOfConfusion::of_sensor(mm, 24.0).is_err(), "{mm}");
            assert!(CircleOfConfusion::of_sensor(36.0, mm).is_err(), "{mm}");
        }
    }
}
