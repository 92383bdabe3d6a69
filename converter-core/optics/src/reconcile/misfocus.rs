//! How far a subject is out of focus.

use crate::circle_of_confusion::CircleOfConfusion;
use crate::magnification::from_image_plane;

/// The full depth of field at a focus distance, near limit to far limit, in dioptres from the entrance pupil:
/// `2 N c / (f f_p)`, with the pinhole focal length of the thin lens, `f_p = f (1 + m)`.
///
/// `focus_m` is from the image plane, in metres, `focal_length_mm` in millimetres. `NaN` where a value is missing or the lens
/// forms no image that near. Source: [`depth_of_field`](crate::depth_of_field), whose limits are half of it either way.
pub fn full_depth(
    focal_length_mm: f64,
    f_number: f64,
    circle: CircleOfConfusion,
    focus_m: f64,
) -> f64 {
    match pinhole(focal_length_mm, focus_m) {
        Some(pinhole) if f_number > 0.0 && f_number.is_finite() => {
            2000.0 * f_number * circle.mm() / focal_length_mm / pinhole
        }
        _ => f64::NAN,
    }
}

/// How far a subject at `subject_m` is out of focus at `focus_m`, in full depths of field: 0.5 is the far limit, -0.5 the near
/// one. Blur is linear in it.
///
/// Both distances are from the image plane, in metres, and may be infinite; the pupil is that of the thin lens. `NaN` as for
/// [`full_depth`], and for a subject inside the lens.
pub fn depths_between(
    focal_length_mm: f64,
    f_number: f64,
    circle: CircleOfConfusion,
    focus_m: f64,
    subject_m: f64,
) -> f64 {
    let Some(pupil) = pinhole(focal_length_mm, focus_m).map(|mm| mm / 1000.0) else {
        return f64::NAN;
    };
    let (focus, subject) = (focus_m - pupil, subject_m - pupil);
    if focus > 0.0 && subject > 0.0 {
        (1.0 / focus - 1.0 / subject) / full_depth(focal_length_mm, f_number, circle, focus_m)
    } else {
        f64::NAN
    }
}

/// Pinhole focal length of the thin lens, in millimetres; its pupil is as far in front of the image plane.
fn pinhole(focal_length_mm: f64, focus_m: f64) -> Option<f64> {
    let known = focal_length_mm > 0.0 && focal_length_mm.is_finite() && focus_m > 0.0;
    let m = from_image_plane(focal_length_mm, 0.0, focus_m)
        .ok()
        .filter(|_| known)?;
    Some(focal_length_mm * (1.0 + m))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::FocusedLens;
    use ringmark_quantity::{DistanceReference, EffectiveFocalLength, FNumber, FocusDistance};

    #[test]
    fn the_limits_of_the_depth_of_field_are_half_a_depth_away() {
        let circle = CircleOfConfusion::from_mm(0.025).unwrap();
        for (f, n, d) in [(50.0, 2.0, 2.0), (85.0, 1.4, 0.9), (25.0, 5.6, 1.0)] {
            let focus = FocusDistance::new(d, DistanceReference::ImagePlane).unwrap();
            let lens = FocusedLens::thin(EffectiveFocalLength::from_mm(f).unwrap(), focus).unwrap();
            let limits = lens
                .depth_of_field(FNumber::new(n).unwrap(), circle)
                .unwrap();
            let off = |subject| depths_between(f, n, circle, d, subject);
            assert!((off(limits.near.metres()) + 0.5).abs() < 1e-9);
            assert!((off(limits.far.metres()) - 0.5).abs() < 1e-9);
            assert_eq!(off(d), 0.0);
        }
    }

    #[test]
    fn what_is_missing_or_impossible_gives_no_number() {
        let circle = CircleOfConfusion::from_mm(0.025).unwrap();
        assert!(depths_between(50.0, 2.0, circle, 0.1, 2.0).is_nan());
        assert!(depths_between(50.0, 2.0, circle, 2.0, 0.03).is_nan());
        assert!(depths_between(f64::NAN, 2.0, circle, 2.0, 3.0).is_nan());
        assert!(depths_between(50.0, 0.0, circle, 2.0, 3.0).is_nan());
        // Focused at infinity, 2 N c / f² = 0.04 dioptres; a subject 25 m from the pupil is one depth off.
        let off = depths_between(50.0, 2.0, circle, f64::INFINITY, 25.05);
        assert!((off + 1.0).abs() < 1e-12, "{off}");
        assert_eq!(
            depths_between(50.0, 2.0, circle, f64::INFINITY, f64::INFINITY),
            0.0
        );
    }
}
