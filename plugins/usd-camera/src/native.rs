//! Numbers as the standard's attributes hold them, for writing and for knowing what was written.

use crate::fields::Field;
use crate::units::Scene;

/// What `value`, in the unit of the manifest, is in the attribute; `None` where it cannot be
/// there.
pub fn of(field: &Field, scene: Scene, value: f64) -> Option<f32> {
    if !field.allowed.has(value) {
        return None;
    }
    let number = field.measure.asked(scene).write(value) as f32;
    // What is too small for a normal 32-bit float is rounded by more than the others.
    let normal = number.is_normal() || number == 0.0 && value == 0.0 || value.is_infinite();
    let fits =
        normal && field.allowed.has(f64::from(number)) && number.is_finite() == value.is_finite();
    fits.then_some(number)
}

/// The value that reading gives for a number of the attribute, in the unit of the manifest.
pub fn back(field: &Field, scene: Scene, number: f32) -> f64 {
    field.measure.asked(scene).read(f64::from(number))
}

/// The shutter angle in degrees between two times. `step` is how many time codes a frame is.
pub fn angle(open: f64, close: f64, step: f64) -> f64 {
    360.0 * (close - open) / step
}

/// Part of an angle by which it may differ from what the times of the shutter tell.
const SAME_ANGLE: f64 = 1e-9;

/// Whether `angle`, told by the times of the shutter, is `value`.
pub fn is_same_angle(angle: f64, value: f64) -> bool {
    (angle - value).abs() <= SAME_ANGLE * value
}

/// When a shutter of this angle opens and closes, in frames, if these times can tell it; `open`
/// where that is known, else half of the time lies before the frame.
pub fn opening(value: f64, open: Option<f64>) -> Option<(f64, f64)> {
    let times = match open {
        Some(open) => (open, open + value / 360.0),
        None => (-value / 720.0, value / 720.0),
    };
    let tells = value > 0.0 && value.is_finite();
    let angle = angle(times.0, times.1, 1.0);
    (tells && angle > 0.0 && is_same_angle(angle, value)).then_some(times)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fields::by_channel;

    #[test]
    fn what_does_not_fit_is_not_written() {
        let scene = Scene::new(0.01);
        let number = |channel: &str, value: f64| {
            by_channel(channel)
                .zip(scene)
                .and_then(|(field, scene)| of(field, scene, value))
        };
        assert_eq!(number("focus-distance", 90.0), Some(90.0));
        assert_eq!(number("focus-distance", f64::INFINITY), Some(f32::INFINITY));
        for wrong in [0.0, -1.0, 1e39, 1e-60, f64::NEG_INFINITY, f64::NAN] {
            assert_eq!(number("focus-distance", wrong), None, "{wrong}");
        }
        assert_eq!(number("f-number", f64::INFINITY), None);
        assert_eq!(number("extra/exposure", -1.5), Some(-1.5));
    }

    #[test]
    fn shutter_angles() {
        // Source: `360 * (close - open)` where one time code is one frame.
        assert_eq!(angle(-0.25, 0.25, 1.0), 180.0);
        assert_eq!(angle(0.0, 1.0, 2.0), 180.0);
        assert_eq!(opening(180.0, None), Some((-0.25, 0.25)));
        assert_eq!(opening(90.0, Some(0.0)), Some((0.0, 0.25)));
        for wrong in [0.0, -1.0, f64::NAN, f64::INFINITY, 5e-324] {
            assert_eq!(opening(wrong, None), None, "{wrong}");
        }
        assert_eq!(opening(180.0, Some(1e300)), None);
    }
}
