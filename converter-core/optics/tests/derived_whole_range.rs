//! Over 1 mm to 2000 mm, T0.7 to T64 and 0.05 m to infinity every result is finite (or infinity where that is a distance), or
//! an error; and what must hold between results holds.
#![allow(clippy::unwrap_used, missing_docs)]

use proptest::prelude::*;
use ringmark_optics::{
    CircleOfConfusion, Coefficients, DepthColumns, Direction, Distortion, FieldOfView, FocusedLens,
    Normalisation, OpticsError, Transmittance, hyperfocal, magnification, stops,
};
use ringmark_quantity::{
    DistanceReference, EffectiveFocalLength, FNumber, FocusDistance, Length, PinholeFocalLength,
    TStop,
};

/// As many small ones as large ones.
fn log(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (low.ln()..=high.ln()).prop_map(move |x| x.exp().clamp(low, high))
}

fn focus() -> impl Strategy<Value = FocusDistance> {
    let metres = prop_oneof![9 => log(0.05, 1e4), 1 => Just(f64::INFINITY), 1 => log(1e4, 1e300)];
    let reference = prop_oneof![
        4 => Just(DistanceReference::ImagePlane),
        4 => Just(DistanceReference::EntrancePupil),
        1 => Just(DistanceReference::FrontVertex),
        1 => Just(DistanceReference::Unstated),
    ];
    (metres, reference)
        .prop_map(|(metres, reference)| FocusDistance::new(metres, reference).unwrap())
}

fn coefficients() -> impl Strategy<Value = Coefficients> {
    let k = || prop_oneof![-1.0..1.0_f64, -0.01..0.01_f64, Just(0.0)];
    let p = || prop_oneof![2 => -0.02..0.02_f64, 1 => Just(0.0)];
    (k(), k(), k(), p(), p()).prop_map(|(k1, k2, k3, p1, p2)| Coefficients { k1, k2, k3, p1, p2 })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn depth_of_field(
        f in log(1.0, 2000.0),
        t in log(0.7, 64.0),
        part in 0.3..=1.0_f64,
        circle in log(0.001, 0.1),
        focus in focus(),
        pinhole in proptest::option::of(0.8..1.5_f64),
        pupil in proptest::option::of(-1000.0..1500.0_f64),
    ) {
        let focal = EffectiveFocalLength::from_mm(f).unwrap();
        let stop = Transmittance::new(part).unwrap().f_number(TStop::new(t).unwrap()).unwrap();
        prop_assert!(stop.value() <= t);
        let circle = CircleOfConfusion::from_mm(circle).unwrap();
        let offset = pupil.map(Length::from_mm);
        let pinhole = pinhole.map(|ratio| PinholeFocalLength::from_mm(ratio * f).unwrap());
        let depth = FocusedLens::known(focal, focus, pinhole, offset)
            .and_then(|lens| {
                prop_assert_finite(lens.magnification());
                lens.depth_of_field(stop, circle)
            });
        let far_focus = hyperfocal(focal, stop, circle, offset, focus.reference());
        match focus.reference() {
            DistanceReference::ImagePlane | DistanceReference::EntrancePupil => {
                // A pupil behind the image plane may lie further off than a very short hyperfocal distance.
                if let Ok(far_focus) = far_focus {
                    prop_assert!(far_focus.metres().is_finite());
                } else {
                    prop_assert!(pupil.is_some_and(|offset| offset < 0.0));
                }
            }
            reference => {
                let refused = OpticsError::Reference { found: reference };
                prop_assert_eq!(depth.clone(), Err(refused.clone()));
                prop_assert_eq!(far_focus, Err(refused));
            }
        }
        if let Ok(depth) = &depth {
            prop_assert!(depth.near.metres().is_finite());
            prop_assert!(depth.near.metres() <= focus.metres() * (1.0 + 1e-12));
            prop_assert!(depth.far.metres() >= focus.metres() * (1.0 - 1e-12));
        }
        // Far enough from any lens there is always a result.
        if focus.metres() > 4.0 * f / 1000.0 + 1.6 && focus.reference() == DistanceReference::ImagePlane && pupil.is_none_or(|offset| offset >= 0.0) {
            prop_assert!(depth.is_ok(), "{depth:?}");
        }
        // The same by columns.
        let columns = DepthColumns {
            focus_m: &[focus.metres()],
            reference: focus.reference(),
            focal_length_mm: &[f],
            f_number: &[stop.value()],
            pinhole_mm: pinhole.as_ref().map(|p| p.mm()).as_ref().map(std::slice::from_ref),
            pupil_offset_mm: pupil.as_ref().map(std::slice::from_ref),
        }
        .depths_of_field(circle);
        match (depth, columns) {
            (Ok(depth), Ok(columns)) => {
                prop_assert_eq!(columns.impossible, 0);
                prop_assert!((columns.near_m[0] / depth.near.metres() - 1.0).abs() < 1e-9);
                prop_assert!(columns.far_m[0] == depth.far.metres()
                    || (columns.far_m[0] / depth.far.metres() - 1.0).abs() < 1e-6);
            }
            (Err(_), Ok(columns)) => {
                prop_assert_eq!(columns.impossible, 1);
                prop_assert!(columns.near_m[0].is_nan() && columns.far_m[0].is_nan());
            }
            (depth, columns) => prop_assert_eq!(depth.map(drop), columns.map(drop)),
        }
    }

    #[test]
    fn field_of_view(
        f in log(1.0, 2000.0),
        width in log(1.0, 100.0),
        height in log(1.0, 100.0),
        squeeze in 0.5..=2.0_f64,
    ) {
        let field = FieldOfView::new(PinholeFocalLength::from_mm(f).unwrap(), width, height, squeeze).unwrap();
        for angle in [field.horizontal, field.vertical, field.diagonal] {
            prop_assert!(angle.degrees() > 0.0 && angle.degrees() < 180.0);
            prop_assert!(angle <= field.diagonal);
        }
        let back = 2.0 * f * (field.horizontal.radians() / 2.0).tan();
        prop_assert!((back / (width * squeeze) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn magnification_and_effective_f_number(
        f in log(1.0, 2000.0),
        n in log(0.7, 64.0),
        hiatus in -0.5..0.5_f64,
        ratio in log(0.3, 3.0),
        focus in focus(),
    ) {
        let focal = EffectiveFocalLength::from_mm(f).unwrap();
        let Ok(m) = magnification::magnification(focal, Length::from_mm(hiatus * f), focus) else {
            return Ok(());
        };
        prop_assert!(m.is_finite() && m >= 0.0);
        let stop = stops::effective_f_number(FNumber::new(n).unwrap(), m, ratio).unwrap();
        prop_assert!(stop.value() >= n && stop.value().is_finite());
        prop_assert!(magnification::pinhole_focal_length(focal, m, ratio).unwrap() >= f);
        if focus.reference() == DistanceReference::ImagePlane && m > 0.0 {
            prop_assert!(m <= 1.0);
            let back = magnification::object_distance(focal, m) + f + magnification::extension(focal, m) + hiatus * f;
            prop_assert!((back / 1000.0 / focus.metres() - 1.0).abs() < 1e-9);
        }
    }

    /// There and back to 1e-9 everywhere inside the fold, and an error with the radius outside.
    #[test]
    fn distortion_there_and_back(
        coefficients in coefficients(),
        direction in prop_oneof![Just(Direction::UndistortedToDistorted), Just(Direction::DistortedToUndistorted)],
        radius in prop_oneof![4 => 0.0..1.5_f64, 1 => 0.999..1.001_f64],
        turn in 0.0..std::f64::consts::TAU,
    ) {
        let distortion = Distortion::new(coefficients, direction, Normalisation::HalfDiagonal).unwrap();
        let fold = distortion.fold_radius();
        let forward = |point| match direction {
            Direction::UndistortedToDistorted => distortion.distort(point),
            Direction::DistortedToUndistorted => distortion.undistort(point),
        };
        let inverse = |point| match direction {
            Direction::UndistortedToDistorted => distortion.undistort(point),
            Direction::DistortedToUndistorted => distortion.distort(point),
        };
        let point = [radius * turn.cos(), radius * turn.sin()];
        match forward(point) {
            Ok(there) => {
                prop_assert!(radius < fold * (1.0 + 1e-12));
                prop_assert!(there[0].is_finite() && there[1].is_finite());
                let back = inverse(there);
                if radius < 0.999 * fold {
                    let back = back.unwrap();
                    let off = (back[0] - point[0]).hypot(back[1] - point[1]);
                    prop_assert!(off <= 1e-9, "{off:e} at {radius} of {fold}");
                } else if let Ok(back) = back {
                    // At the fold itself the way back is flat: what it gives still leads there.
                    let again = forward(back).unwrap();
                    prop_assert!((again[0] - there[0]).hypot(again[1] - there[1]) <= 1e-9);
                }
            }
            Err(OpticsError::Folds { fold: named, radius: r, .. }) => {
                prop_assert_eq!(named, fold);
                prop_assert!(r >= fold);
            }
            Err(other) => prop_assert!(false, "{other}"),
        }
        // Any point at all: a result that leads back to it, or an error.
        if let Ok(ideal) = inverse(point) {
            let again = forward(ideal).unwrap();
            prop_assert!((again[0] - point[0]).hypot(again[1] - point[1]) <= 1e-9);
        }
    }
}

fn prop_assert_finite(value: f64) {
    assert!(value.is_finite() && value >= 0.0, "{value}");
}
