//! Magnification, and the extension and pinhole focal length that go with it.
//!
//! Gauss and Newton for a lens in air: with `u` the object distance from the front principal plane and `e` how far the
//! image lies behind the rear focal point, `e (u - f) = f²` and `m = e / f` (any textbook, e.g. Hecht, *Optics*, ch. 5-6,
//! from memory). Magnification is given without its sign.

use ringmark_quantity::{DistanceReference, EffectiveFocalLength, FocusDistance, Length};

use crate::error::{OpticsError, positive};

/// Magnification of an object at `focus`, by a lens with its principal planes `hiatus` apart.
///
/// From the image plane `D = u + hiatus + f + e`, so with `K = D - 2f - hiatus`, `e = 2f² / (K + sqrt(K² - 4f²))` is the
/// smaller root of `e + f²/e = K`, in the form that keeps its digits at long distances. A distance from the entrance pupil
/// is taken as one from the front principal plane: `m = f / (u - f)`.
///
/// Valid for `D >= 4f + hiatus` (magnification 1 at most), and `u > f`; 0 at infinity. `hiatus` may have either sign, and is
/// often not known: 0 is the thin lens.
pub fn magnification(
    focal_length: EffectiveFocalLength,
    hiatus: Length,
    focus: FocusDistance,
) -> Result<f64, OpticsError> {
    let f = focal_length.mm();
    match focus.reference() {
        DistanceReference::ImagePlane => from_image_plane(f, hiatus.mm(), focus.metres()),
        DistanceReference::EntrancePupil => from_principal_plane(f, focus.metres()),
        found => Err(OpticsError::Reference { found }),
    }
}

pub(crate) fn from_image_plane(f: f64, hiatus: f64, metres: f64) -> Result<f64, OpticsError> {
    let k = metres * 1000.0 - 2.0 * f - hiatus;
    if k >= 2.0 * f {
        // The root in two factors: K² may be too large for a float where K is not.
        let root = (k - 2.0 * f).sqrt() * (k + 2.0 * f).sqrt();
        Ok(2.0 * f / (k + root))
    } else {
        Err(OpticsError::TooNear {
            metres,
            reference: DistanceReference::ImagePlane,
            nearest: (4.0 * f + hiatus) / 1000.0,
        })
    }
}

pub(crate) fn from_principal_plane(f: f64, metres: f64) -> Result<f64, OpticsError> {
    let beyond = metres * 1000.0 - f;
    let m = f / beyond;
    if beyond > 0.0 && m.is_finite() {
        Ok(m)
    } else {
        Err(OpticsError::TooNear {
            metres,
            reference: DistanceReference::EntrancePupil,
            nearest: f / 1000.0,
        })
    }
}

/// How far the image lies behind the rear focal point, in millimetres: `e = m f` (Newton). For a lens that moves as a whole it
/// is the extension from the infinity position.
pub fn extension(focal_length: EffectiveFocalLength, magnification: f64) -> f64 {
    magnification * focal_length.mm()
}

/// Distance of the object from the front principal plane in millimetres: `u = f (1 + 1/m)` (Newton); infinite for
/// magnification 0.
pub fn object_distance(focal_length: EffectiveFocalLength, magnification: f64) -> f64 {
    focal_length.mm() * (1.0 + 1.0 / magnification)
}

/// Pinhole focal length at magnification `m` of a lens with pupil ratio `P` (exit over entrance pupil diameter):
/// `f (1 + m/P)`, in millimetres.
///
/// Exact where the effective focal length does not change with focus, which is so for a lens that moves as a whole; equal to
/// magnification times distance from object to entrance pupil (ray-traced lenses in `tests/standards/traced`).
pub fn pinhole_focal_length(
    focal_length: EffectiveFocalLength,
    magnification: f64,
    pupil_ratio: f64,
) -> Result<f64, OpticsError> {
    let ratio = positive("pupil ratio", pupil_ratio, "")?;
    positive(
        "pinhole focal length",
        focal_length.mm() * (1.0 + magnification / ratio),
        " mm",
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn f(mm: f64) -> EffectiveFocalLength {
        EffectiveFocalLength::from_mm(mm).unwrap()
    }

    const THIN: Length = Length::from_mm(0.0);

    #[test]
    fn one_to_one_is_four_focal_lengths_from_the_image_plane() {
        let at = |metres| FocusDistance::new(metres, DistanceReference::ImagePlane).unwrap();
        assert_eq!(magnification(f(50.0), THIN, at(0.2)).unwrap(), 1.0);
        let error = magnification(f(50.0), THIN, at(0.199)).unwrap_err();
        assert_eq!(
            error.to_string(),
            "focus distance 0.199 m from image-plane: no image is formed nearer than 0.200 m; check unit and focal length"
        );
        let thick = magnification(f(50.0), Length::from_mm(-20.0), at(0.18)).unwrap();
        assert!((thick - 1.0).abs() < 1e-6, "{thick}");
    }

    #[test]
    fn both_references_agree_on_a_thin_lens() {
        for u in [0.051, 0.12, 1.0, 40.0, 1e9] {
            let from_lens = FocusDistance::new(u, DistanceReference::EntrancePupil).unwrap();
            let m = magnification(f(50.0), THIN, from_lens).unwrap();
            if m <= 1.0 {
                let d = u + (50.0 + extension(f(50.0), m)) / 1000.0;
                let from_plane = FocusDistance::new(d, DistanceReference::ImagePlane).unwrap();
                let other = magnification(f(50.0), THIN, from_plane).unwrap();
                assert!((other / m - 1.0).abs() < 1e-9, "{u}: {other} {m}");
            }
            assert!((object_distance(f(50.0), m) / 1000.0 / u - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn infinity_has_none_and_other_references_are_refused() {
        for reference in DistanceReference::ALL {
            let found = magnification(f(35.0), THIN, FocusDistance::infinity(reference));
            match reference {
                DistanceReference::ImagePlane | DistanceReference::EntrancePupil => {
                    assert_eq!(found.unwrap(), 0.0);
                }
                found_reference => assert_eq!(
                    found.unwrap_err(),
                    OpticsError::Reference {
                        found: found_reference
                    }
                ),
            }
        }
    }

    #[test]
    fn pinhole_focal_length_by_hand() {
        assert_eq!(pinhole_focal_length(f(50.0), 0.5, 1.0).unwrap(), 75.0);
        assert_eq!(pinhole_focal_length(f(50.0), 0.5, 2.0).unwrap(), 62.5);
        for ratio in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(pinhole_focal_length(f(50.0), 0.1, ratio).is_err());
        }
    }
}
