//! Field of view of a pinhole camera.

use ringmark_quantity::{Angle, PinholeFocalLength};

use crate::error::{OpticsError, positive, same_length};

/// Angles across the picture, seen from the entrance pupil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldOfView {
    /// Across the width, desqueezed.
    pub horizontal: Angle,
    /// Across the height.
    pub vertical: Angle,
    /// From corner to corner of the desqueezed picture.
    pub diagonal: Angle,
}

impl FieldOfView {
    /// Field of view of a sensor `width_mm` by `height_mm`, with anamorphic squeeze `q` (1 is spherical).
    ///
    /// `2 atan(q w / 2f)`, `2 atan(h / 2f)` and `2 atan(sqrt((q w)² + h²) / 2f)` with `f` the pinhole focal length; for an
    /// anamorphic lens that of the height. The squeeze widens the picture, not the angle. Valid for a lens without
    /// distortion; every result is above 0° and below 180°. Sources: Wikipedia, 'Angle of view'; squeeze: common practice, no
    /// source.
    pub fn new(
        focal_length: PinholeFocalLength,
        width_mm: f64,
        height_mm: f64,
        squeeze: f64,
    ) -> Result<Self, OpticsError> {
        let width = desqueezed(width_mm, squeeze)?;
        let height = positive("sensor height", height_mm, " mm")?;
        let f = focal_length.mm();
        let angle = |size: f64| Angle::from_degrees(across(size, f));
        Ok(Self {
            horizontal: angle(width),
            vertical: angle(height),
            diagonal: angle(width.hypot(height)),
        })
    }
}

/// Horizontal fields of view in degrees, for a column of pinhole focal lengths in millimetres; see [`FieldOfView::new`].
/// `NaN` stays `NaN`, and a focal length that is not above 0 gives `NaN`.
pub fn horizontal_fields_of_view(
    focal_lengths_mm: &[f64],
    width_mm: f64,
    squeeze: f64,
    out: &mut [f64],
) -> Result<(), OpticsError> {
    let width = desqueezed(width_mm, squeeze)?;
    same_length(
        "column of fields of view",
        out.len(),
        focal_lengths_mm.len(),
    )?;
    for (angle, &f) in out.iter_mut().zip(focal_lengths_mm) {
        *angle = if f > 0.0 && f.is_finite() {
            across(width, f)
        } else {
            f64::NAN
        };
    }
    Ok(())
}

fn desqueezed(width_mm: f64, squeeze: f64) -> Result<f64, OpticsError> {
    let width = positive("sensor width", width_mm, " mm")?;
    let squeeze = positive("squeeze", squeeze, "")?;
    positive("desqueezed width", width * squeeze, " mm")
}

/// Degrees across `size` at distance `f`.
fn across(size: f64, f: f64) -> f64 {
    2.0 * (size / 2.0).atan2(f).to_degrees()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn f(mm: f64) -> PinholeFocalLength {
        PinholeFocalLength::from_mm(mm).unwrap()
    }

    #[test]
    fn right_angles() {
        // A size of twice the focal length is seen under 90°.
        let field = FieldOfView::new(f(18.0), 36.0, 24.0, 1.0).unwrap();
        assert!((field.horizontal.degrees() - 90.0).abs() < 1e-12);
        let field = FieldOfView::new(f(36.0), 36.0, 24.0, 2.0).unwrap();
        assert!((field.horizontal.degrees() - 90.0).abs() < 1e-12);
        assert!(field.vertical < field.horizontal && field.horizontal < field.diagonal);
    }

    #[test]
    fn columns_say_the_same() {
        let focal = [50.0, f64::NAN, 0.0, 14.0, f64::INFINITY];
        let mut out = [0.0; 5];
        horizontal_fields_of_view(&focal, 24.89, 1.8, &mut out).unwrap();
        for (focal, angle) in focal.into_iter().zip(out) {
            match PinholeFocalLength::from_mm(focal) {
                Ok(focal) => {
                    let one = FieldOfView::new(focal, 24.89, 18.66, 1.8).unwrap();
                    assert_eq!(one.horizontal.degrees(), angle);
                }
                Err(_) => assert!(angle.is_nan()),
            }
        }
        assert!(horizontal_fields_of_view(&focal, 24.89, 1.0, &mut out[1..]).is_err());
    }

    #[test]
    fn refuses_what_is_no_size() {
        for wrong in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(FieldOfView::new(f(50.0), wrong, 24.0, 1.0).is_err());
            assert!(FieldOfView::new(f(50.0), 36.0, wrong, 1.0).is_err());
            assert!(FieldOfView::new(f(50.0), 36.0, 24.0, wrong).is_err());
        }
    }
}
