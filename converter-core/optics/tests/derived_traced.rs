//! Depth of field and pinhole focal length against ray-traced lenses: see `tests/standards/traced/README.md`.
#![allow(clippy::unwrap_used, missing_docs)]

use ringmark_optics::{
    CircleOfConfusion, FocusedLens, magnification::magnification,
    magnification::pinhole_focal_length,
};
use ringmark_quantity::{
    DistanceReference, EffectiveFocalLength, FNumber, FocusDistance, Length, PinholeFocalLength,
};

/// Distance in m, entrance pupil in mm, magnification; of the rows up to `farthest` metres.
fn rows(text: &str, farthest: f64) -> Vec<[f64; 3]> {
    text.lines()
        .skip(1)
        .map(|line| {
            let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            [cells[3], cells[5], cells[7].abs()]
        })
        .filter(|row| row[0] <= farthest)
        .collect()
}

const UNIT: [(&str, f64); 2] = [
    (
        include_str!("../../../tests/standards/traced/unit-25.csv"),
        25.0,
    ),
    (
        include_str!("../../../tests/standards/traced/unit-50.csv"),
        50.0,
    ),
];

fn f(mm: f64) -> EffectiveFocalLength {
    EffectiveFocalLength::from_mm(mm).unwrap()
}

/// Blur on the sensor of a point at `object`, by similar triangles at the entrance pupil, all in mm.
fn blur(object: f64, [distance, pupil, m]: [f64; 3], aperture: f64) -> f64 {
    let focus = distance * 1000.0 - pupil;
    m * aperture * (focus / (object - pupil) - 1.0).abs()
}

#[test]
fn with_pupil_and_pinhole_focal_length_the_blur_at_both_limits_is_the_circle() {
    let (stop, circle) = (FNumber::new(2.0).unwrap(), 0.025);
    let mut infinite = 0;
    for (text, focal) in UNIT {
        let rows = rows(text, 50.0);
        assert!(rows.len() > 30);
        for row in rows {
            let [distance, pupil, m] = row;
            let pinhole = PinholeFocalLength::from_mm(m * (distance * 1000.0 - pupil)).unwrap();
            let focus = FocusDistance::new(distance, DistanceReference::ImagePlane).unwrap();
            let lens =
                FocusedLens::known(f(focal), focus, Some(pinhole), Some(Length::from_mm(pupil)))
                    .unwrap();
            assert!((lens.magnification() / m - 1.0).abs() < 1e-12);
            let depth = lens
                .depth_of_field(stop, CircleOfConfusion::from_mm(circle).unwrap())
                .unwrap();
            let near = blur(depth.near.metres() * 1000.0, row, focal / 2.0);
            assert!((near / circle - 1.0).abs() < 1e-9, "{distance}: {near}");
            if depth.far.is_infinite() {
                assert!(m * focal / 2.0 <= circle, "infinity is not sharp");
                infinite += 1;
            } else {
                let far = blur(depth.far.metres() * 1000.0, row, focal / 2.0);
                assert!((far / circle - 1.0).abs() < 1e-9, "{distance}: {far}");
            }
        }
    }
    assert!(infinite > 0);
}

#[test]
fn the_thin_lens_is_near_the_traced_one() {
    let circle = CircleOfConfusion::from_mm(0.025).unwrap();
    let (mut largest, mut from_one_metre) = (0.0_f64, 0.0_f64);
    for (text, focal) in UNIT {
        for [distance, pupil, m] in rows(text, 5.0) {
            let focus = FocusDistance::new(distance, DistanceReference::ImagePlane).unwrap();
            let pinhole = PinholeFocalLength::from_mm(m * (distance * 1000.0 - pupil)).unwrap();
            let dioptres = |lens: FocusedLens| {
                let depth = lens
                    .depth_of_field(FNumber::new(2.0).unwrap(), circle)
                    .unwrap();
                depth.near.dioptres() - depth.far.dioptres()
            };
            let exact = dioptres(
                FocusedLens::known(f(focal), focus, Some(pinhole), Some(Length::from_mm(pupil)))
                    .unwrap(),
            );
            let thin = dioptres(FocusedLens::thin(f(focal), focus).unwrap());
            let off = (thin / exact - 1.0).abs();
            largest = largest.max(off);
            if distance >= 1.0 {
                from_one_metre = from_one_metre.max(off);
            }
        }
    }
    assert!(largest < 0.17, "{largest}");
    assert!(from_one_metre < 0.045, "{from_one_metre}");
    assert!(largest > 1e-4, "the traced lenses are not thin: {largest}");
}

#[test]
fn magnification_and_breathing_of_a_lens_that_moves_as_a_whole() {
    for (text, focal) in UNIT {
        let rows = rows(text, 5.0);
        // The hiatus follows from one row: D = 2f + hiatus + f/m + f m; the others must agree.
        let [distance, pupil, m] = rows[0];
        let hiatus = distance * 1000.0 - focal * (2.0 + 1.0 / m + m);
        // So does the pupil ratio: f_p = f (1 + m/P).
        let ratio = m / (m * (distance * 1000.0 - pupil) / focal - 1.0);
        for [distance, pupil, m] in rows {
            let focus = FocusDistance::new(distance, DistanceReference::ImagePlane).unwrap();
            let found = magnification(f(focal), Length::from_mm(hiatus), focus).unwrap();
            assert!((found / m - 1.0).abs() < 1e-4, "{distance}: {found} {m}");
            let pinhole = pinhole_focal_length(f(focal), m, ratio).unwrap();
            let traced = m * (distance * 1000.0 - pupil);
            assert!(
                (pinhole / traced - 1.0).abs() < 1e-4,
                "{distance}: {pinhole} {traced}"
            );
        }
    }
}
