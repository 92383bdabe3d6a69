#![allow(clippy::unwrap_used, missing_docs)]
use super::*;

const INF: f64 = f64::INFINITY;

fn zoom() -> Surface {
    // Rows in no order, and another set of distances at the long end.
    Surface::new(
        Some(&[INF, 1.0, 2.0, 1.0, INF, 3.0]),
        Some(&[30.0, 30.0, 30.0, 90.0, 90.0, 90.0]),
        &[30.0, 33.0, 31.2, 99.0, 90.0, 92.0],
    )
    .unwrap()
}

#[test]
fn every_row_is_met() {
    let surface = zoom();
    assert!(surface.goes_by_distance() && surface.goes_by_focal_length());
    assert_eq!(surface.value(INF, 30.0), 30.0);
    assert_eq!(surface.value(2.0, 30.0), 31.2);
    assert_eq!(surface.value(3.0, 90.0), 92.0);
    assert_eq!(surface.value(1.0, 90.0), 99.0);
}

#[test]
fn between_two_focal_lengths_it_is_straight_over_their_logarithm() {
    let middle = (30f64 * 90.0).sqrt();
    assert!((zoom().value(INF, middle) - 60.0).abs() < 1e-12);
}

#[test]
fn beyond_the_table_there_is_nothing_but_rounding() {
    let surface = zoom();
    assert_eq!(surface.value(0.9995, 30.0), 33.0);
    assert_eq!(surface.value(INF, 29.99), 30.0);
    for (distance, mm) in [
        (0.99, 30.0),
        (2.0, 29.0),
        (2.0, 91.0),
        (f64::NAN, 40.0),
        (2.0, f64::NAN),
        (0.0, 30.0),
        (-1.0, 30.0),
    ] {
        assert!(
            surface.value(distance, mm).is_nan(),
            "{distance} m, {mm} mm"
        );
    }
}

#[test]
fn one_axis_is_enough() {
    let breathing = Surface::new(Some(&[INF, 1.0]), None, &[50.0, 52.0]).unwrap();
    assert!(!breathing.goes_by_focal_length());
    assert_eq!(breathing.value(2.0, f64::NAN), 51.0);
    assert_eq!(
        (breathing.distances(), zoom().distances()),
        (Some((1.0, INF)), None)
    );
    let widest = Surface::new(None, Some(&[28.0, 76.0, 60.0]), &[2.9, 3.4, 2.9]).unwrap();
    assert!(!widest.goes_by_distance());
    assert_eq!(widest.value(f64::NAN, 76.0), 3.4);
    assert_eq!(widest.value(f64::NAN, 40.0), 2.9);
    let mut stops = [0.0; 2];
    widest
        .evaluate(None, Some(&[60.0, f64::NAN]), &mut stops)
        .unwrap();
    assert!(stops[0] == 2.9 && stops[1].is_nan());
    assert!(widest.evaluate(None, Some(&[60.0]), &mut stops).is_err());
}

#[test]
fn rows_without_a_value_are_left_out() {
    let surface = Surface::new(Some(&[INF, 2.0, 1.0]), None, &[50.0, f64::NAN, 52.0]).unwrap();
    assert_eq!(surface.value(2.0, 0.0), 51.0);
}

#[test]
fn what_is_wrong_is_said() {
    let wrong = |distances: Option<&[f64]>, mm: Option<&[f64]>, values: &[f64]| {
        Surface::new(distances, mm, values).unwrap_err().to_string()
    };
    for (told, expected) in [
        (
            wrong(None, None, &[1.0]),
            "neither focus distances nor focal lengths",
        ),
        (
            wrong(Some(&[1.0]), None, &[1.0]),
            "there is one focus distance: expected two or more",
        ),
        (
            wrong(Some(&[1.0, 2.0, 1.0]), Some(&[40.0, 40.0, 50.0]), &[1.0; 3]),
            "at 50 mm there is one focus distance",
        ),
        (
            wrong(Some(&[1.0, 0.0]), None, &[1.0; 2]),
            "row 2: focus distance in metres 0: expected a number above 0, or infinity",
        ),
        (
            wrong(None, Some(&[40.0, INF]), &[1.0; 2]),
            "row 2: focal length in millimetres inf: expected a number above 0",
        ),
        (
            wrong(Some(&[1.0, 2.0, 1.0]), None, &[1.0; 3]),
            "rows 1 and 3 are of one focus distance",
        ),
        (
            wrong(Some(&[1.0, 2.0]), None, &[1.0, INF]),
            "row 2: inf: expected a finite number",
        ),
        (
            wrong(Some(&[1.0, 2.0]), None, &[f64::NAN; 2]),
            "no row has a value",
        ),
        (
            wrong(Some(&[1.0]), None, &[1.0; 2]),
            "focus distance has 1 values: expected 2",
        ),
    ] {
        assert!(told.contains(expected), "{told}");
    }
}
