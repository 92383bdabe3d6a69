//! Depths of field of many frames at once.

use ringmark_quantity::DistanceReference;

use super::{Seen, hyperfocal_metres};
use crate::circle_of_confusion::CircleOfConfusion;
use crate::error::{OpticsError, same_length};

/// What a depth of field needs, one value a frame; `NaN` is 'not recorded'.
#[derive(Debug, Clone, Copy)]
pub struct DepthColumns<'a> {
    /// Focus distances in metres; `+inf` is infinity.
    pub focus_m: &'a [f64],
    /// What they are measured from.
    pub reference: DistanceReference,
    /// Focal lengths in millimetres.
    pub focal_length_mm: &'a [f64],
    /// f-numbers.
    pub f_number: &'a [f64],
    /// Pinhole focal lengths in millimetres, where recorded.
    pub pinhole_mm: Option<&'a [f64]>,
    /// Entrance pupil from the image plane in millimetres, where recorded.
    pub pupil_offset_mm: Option<&'a [f64]>,
}

/// Depths of field of a table; `NaN` where something is not recorded or has no result.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Depths {
    /// Near limits in metres, from the reference of the focus distances.
    pub near_m: Vec<f64>,
    /// Far limits in metres; `+inf` is infinity.
    pub far_m: Vec<f64>,
    /// Hyperfocal distances in metres.
    pub hyperfocal_m: Vec<f64>,
    /// Frames in which all is recorded and that have no depth of field all the same: a value is impossible, or
    /// focus is nearer than the lens can.
    pub impossible: usize,
}

impl DepthColumns<'_> {
    /// Near limit, far limit and hyperfocal distance of every frame, as [`FocusedLens::known`](super::FocusedLens::known) and [`hyperfocal`](super::hyperfocal) give them
    /// one by one. A missing pinhole focal length or pupil offset is not recorded in that frame only.
    pub fn depths_of_field(&self, circle: CircleOfConfusion) -> Result<Depths, OpticsError> {
        let frames = self.focus_m.len();
        same_length(
            "column of focal lengths",
            self.focal_length_mm.len(),
            frames,
        )?;
        same_length("column of f-numbers", self.f_number.len(), frames)?;
        for (what, column) in [
            ("column of pinhole focal lengths", self.pinhole_mm),
            ("column of entrance pupil offsets", self.pupil_offset_mm),
        ] {
            if let Some(column) = column {
                same_length(what, column.len(), frames)?;
            }
        }
        let mut out = Depths {
            near_m: Vec::with_capacity(frames),
            far_m: Vec::with_capacity(frames),
            hyperfocal_m: Vec::with_capacity(frames),
            impossible: 0,
        };
        let optional = |column: Option<&[f64]>, frame: usize| {
            column
                .and_then(|column| column.get(frame))
                .copied()
                .filter(|value| value.is_finite())
        };
        let known = self.focus_m.iter().zip(self.focal_length_mm);
        for (frame, ((&focus, &focal_length), &f_number)) in known.zip(self.f_number).enumerate() {
            let pinhole = optional(self.pinhole_mm, frame).filter(|&pinhole| pinhole > 0.0);
            let pupil = optional(self.pupil_offset_mm, frame);
            let possible = focal_length > 0.0
                && focal_length.is_finite()
                && f_number > 0.0
                && f_number.is_finite();
            let none = (f64::NAN, f64::NAN);
            let (near, far) = if possible && focus > 0.0 {
                match Seen::new(focal_length, focus, self.reference, pinhole, pupil) {
                    Ok(seen) => seen.limits(f_number, circle.mm()),
                    Err(error @ OpticsError::Reference { .. }) => return Err(error),
                    Err(_) => none,
                }
            } else {
                none
            };
            // From the image plane a near limit may lie behind it where the pupil does.
            let (near, far) = if near > 0.0 { (near, far) } else { none };
            let recorded = !(focus.is_nan() || focal_length.is_nan() || f_number.is_nan());
            out.impossible += usize::from(recorded && near.is_nan());
            out.near_m.push(near);
            out.far_m.push(far);
            out.hyperfocal_m.push(if possible {
                hyperfocal_metres(focal_length, f_number, circle.mm(), pupil, self.reference)?
            } else {
                f64::NAN
            });
        }
        Ok(out)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::super::FocusedLens;
    use super::*;
    use ringmark_quantity::{
        EffectiveFocalLength, FNumber, FocusDistance, Length, PinholeFocalLength,
    };

    fn n(value: f64) -> FNumber {
        FNumber::new(value).unwrap()
    }

    fn c(mm: f64) -> CircleOfConfusion {
        CircleOfConfusion::from_mm(mm).unwrap()
    }

    #[test]
    fn columns_say_the_same_as_one_by_one() {
        let focus = [1.0, f64::INFINITY, f64::NAN, 0.1, 3.0, 3.0, 0.0];
        let focal = [50.0, 50.0, 50.0, 50.0, f64::NAN, 35.0, 50.0];
        let stop = [2.0, 2.0, 2.0, 2.0, 2.0, 5.6, 2.0];
        let pinhole = [56.0, f64::NAN, 56.0, f64::NAN, 56.0, f64::NAN, 56.0];
        let pupil = [f64::NAN, 60.0, 60.0, f64::NAN, 60.0, 60.0, 60.0];
        let columns = DepthColumns {
            focus_m: &focus,
            reference: DistanceReference::ImagePlane,
            focal_length_mm: &focal,
            f_number: &stop,
            pinhole_mm: Some(&pinhole),
            pupil_offset_mm: Some(&pupil),
        };
        let out = columns.depths_of_field(c(0.025)).unwrap();
        // 0.1 m is nearer than 4 f, 0 m is no distance.
        assert_eq!(out.impossible, 2);
        for k in 0..focus.len() {
            let one = EffectiveFocalLength::from_mm(focal[k])
                .ok()
                .zip(FocusDistance::new(focus[k], DistanceReference::ImagePlane).ok())
                .and_then(|(focal, focus)| {
                    let pinhole = PinholeFocalLength::from_mm(pinhole[k]).ok();
                    let pupil = pupil[k].is_finite().then(|| Length::from_mm(pupil[k]));
                    FocusedLens::known(focal, focus, pinhole, pupil).ok()
                })
                .map(|lens| lens.depth_of_field(n(stop[k]), c(0.025)).unwrap());
            match one {
                Some(depth) => {
                    assert!((depth.near.metres() - out.near_m[k]).abs() < 1e-12);
                    assert!(
                        depth.far.metres() == out.far_m[k]
                            || (depth.far.metres() - out.far_m[k]).abs() < 1e-12
                    );
                }
                None => assert!(out.near_m[k].is_nan() && out.far_m[k].is_nan(), "{k}"),
            }
        }
        // The hyperfocal distance does not need focus.
        assert!(out.hyperfocal_m[2] > 40.0 && out.hyperfocal_m[4].is_nan());
        let short = DepthColumns {
            f_number: &stop[1..],
            ..columns
        };
        assert!(matches!(
            short.depths_of_field(c(0.025)),
            Err(OpticsError::Lengths {
                found: 6,
                expected: 7,
                ..
            })
        ));
    }
}
