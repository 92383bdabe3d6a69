#![allow(clippy::unwrap_used, missing_docs)]
use proptest::prelude::*;

use super::*;

const MARKED: [f64; 5] = [28.0, 35.0, 46.0, 60.0, 76.0];
const DISTANCES: [f64; 9] = [0.8, 1.0, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0, f64::INFINITY];

/// A thin front group of 90 mm on a linear helicoid of 12 mm, whose back focus wanders with the zoom: the ring makes up for
/// it by a shift that is smooth in ln(focal length).
fn truth(distance: f64, mm: f64) -> f64 {
    let f = 0.09;
    let extension = f * f / (distance - f);
    let wander = 0.04 * (1.7 * (mm / 28.0).ln()).sin();
    0.9 - extension / 0.012 + wander
}

/// Fitted once for all tests.
fn scale() -> &'static ZoomScale {
    static SCALE: std::sync::OnceLock<ZoomScale> = std::sync::OnceLock::new();
    SCALE.get_or_init(fitted)
}

fn fitted() -> ZoomScale {
    let mut columns = (Vec::new(), Vec::new(), Vec::new());
    // Zoomed out and in again: the rows stand in no order.
    for mm in [46.0, 28.0, 76.0, 35.0, 60.0] {
        for distance in DISTANCES {
            columns.0.push(truth(distance, mm));
            columns.1.push(mm);
            columns.2.push(distance);
        }
    }
    ZoomScale::new(&columns.0, &columns.1, &columns.2).unwrap()
}

#[test]
fn marks_are_met() {
    let scale = scale();
    for mm in MARKED {
        for distance in DISTANCES {
            let found = scale.distance(truth(distance, mm), mm);
            let off = (1.0 / found - 1.0 / distance).abs();
            assert!(off < 2e-5, "{distance} m at {mm} mm: {found}");
        }
    }
    let (near, far) = scale.reach();
    assert!((near - 0.8).abs() < 1e-12 && far.is_infinite());
}

proptest! {
    /// Half a depth of field of this lens at 76 mm and f/2.8 is 0.006 dioptres (f² m / N c from memory of the thin-lens form).
    #[test]
    fn between_the_marks_the_ring_is_where_the_lens_has_it(mm in 28.0..76.0f64, dioptres in 0.001..1.24f64) {
        let (scale, distance) = (scale(), 1.0 / dioptres);
        let position = truth(distance, mm);
        prop_assert!((scale.position(distance, mm) - position).abs() < 1.5e-3, "{}", scale.position(distance, mm) - position);
        let found = scale.distance(scale.position(distance, mm), mm);
        prop_assert!((1.0 / found - dioptres).abs() < 1e-9, "{found}");
    }
}

#[test]
fn one_ring_position_is_another_distance_at_each_focal_length() {
    let scale = scale();
    let wide = scale.distance(truth(2.0, 28.0), 28.0);
    let long = scale.distance(truth(2.0, 28.0), 76.0);
    assert!(
        (wide - 2.0).abs() < 1e-3 && (long - 2.0).abs() > 0.05,
        "{wide} {long}"
    );
}

#[test]
fn beyond_the_marks_there_is_infinity_or_nothing() {
    let scale = scale();
    assert_eq!(
        scale.distance(truth(f64::INFINITY, 40.0) + 0.05, 40.0),
        f64::INFINITY
    );
    for (position, mm) in [
        (truth(0.8, 40.0) - 0.05, 40.0),
        (0.5, 27.0),
        (0.5, 80.0),
        (0.5, f64::NAN),
        (f64::NAN, 40.0),
    ] {
        assert!(
            scale.distance(position, mm).is_nan(),
            "{position} at {mm} mm"
        );
    }
    assert!(scale.position(0.5, 40.0).is_nan() && scale.position(2.0, 20.0).is_nan());
}

#[test]
fn one_focal_length_is_a_scale_of_its_own() {
    let positions: Vec<f64> = DISTANCES
        .iter()
        .map(|metres| truth(*metres, 40.0))
        .collect();
    let scale = ZoomScale::new(&positions, &[40.0; 9], &DISTANCES).unwrap();
    assert!((scale.distance(truth(2.0, 40.0), 40.0) - 2.0).abs() < 1e-4);
    assert!(scale.distance(0.5, 41.0).is_nan());
}

#[test]
fn what_is_wrong_is_said() {
    let wrong = |p: &[f64], f: &[f64], d: &[f64]| ZoomScale::new(p, f, d).unwrap_err().to_string();
    for (told, expected) in [
        (wrong(&[0.0], &[], &[]), "the columns have 1, 0 and 0 rows"),
        (
            wrong(&[0.0, 1.0], &[28.0, 0.0], &[1.0, 2.0]),
            "row 2: focal length 0 mm",
        ),
        (
            wrong(&[0.0, 1.0], &[28.0, 50.0], &[1.0, 2.0]),
            "at 28 mm: 1 marks",
        ),
        (
            wrong(
                &[0.0, 1.0, 0.0, 1.0],
                &[28.0, 28.0, 50.0, 50.0],
                &[1.0, 2.0, 3.0, 5.0],
            ),
            "no focus distance is within the marks of every focal length",
        ),
        (wrong(&[], &[], &[]), "no focus distance"),
    ] {
        assert!(told.contains(expected), "{told}");
    }
}
