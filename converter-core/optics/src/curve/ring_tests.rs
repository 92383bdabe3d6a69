#![allow(clippy::unwrap_used, missing_docs)]
use super::*;
use proptest::prelude::*;

const FOCUS: [(f64, f64); 6] = [
    (0.05, 0.5),
    (0.25, 0.7),
    (0.50, 1.2),
    (0.70, 2.0),
    (0.90, 6.0),
    (0.98, f64::INFINITY),
];

type Change<'a> = &'a dyn Fn(&mut Vec<(f64, f64)>);

fn focus() -> RingCurve {
    RingCurve::from_marks(ScaleQuantity::FocusDistance, &FOCUS).unwrap()
}

#[test]
fn marks_are_met_exactly_infinity_too() {
    for (position, value) in FOCUS {
        assert_eq!(focus().value_at(position), value);
        assert_eq!(focus().position_of(value), position);
    }
}

#[test]
fn order_and_direction_of_the_scale_do_not_matter() {
    let mut shuffled = FOCUS.to_vec();
    shuffled.swap(0, 4);
    shuffled.swap(1, 3);
    assert_eq!(
        RingCurve::from_marks(ScaleQuantity::FocusDistance, &shuffled).unwrap(),
        focus()
    );
    let reversed: Vec<(f64, f64)> = FOCUS
        .iter()
        .map(|(position, value)| (1.0 - position, *value))
        .collect();
    let reversed = RingCurve::from_marks(ScaleQuantity::FocusDistance, &reversed).unwrap();
    for k in 2..=95 {
        let position = f64::from(k) / 100.0;
        let (a, b) = (
            reversed.value_at(position),
            focus().value_at(1.0 - position),
        );
        assert!(
            (1.0 / a - 1.0 / b).abs() < 1e-12 || (a.is_nan() && b.is_nan()),
            "{position}: {a} {b}"
        );
        assert!((reversed.position_of(a) - position).abs() < 1e-12 || a.is_nan());
    }
}

#[test]
fn ends_have_a_tolerance_and_no_extrapolation() {
    let curve = focus();
    assert_eq!(curve.value_at(0.98 + 0.004), f64::INFINITY);
    assert_eq!(curve.value_at(0.05 - 0.004), 0.5);
    for position in [
        0.98 + 0.006,
        0.05 - 0.006,
        -1.0,
        2.0,
        f64::NAN,
        f64::INFINITY,
    ] {
        assert!(curve.value_at(position).is_nan(), "{position}");
    }
    assert_eq!(curve.position_of(0.499), 0.05);
    for value in [0.4, 0.0, -1.0, f64::NAN] {
        assert!(curve.position_of(value).is_nan(), "{value}");
    }
}

#[test]
fn iris_is_read_in_stops_and_zoom_in_log_focal_length() {
    let iris =
        RingCurve::from_marks(ScaleQuantity::TStop, &[(0.0, 2.0), (0.5, 4.0), (1.0, 8.0)]).unwrap();
    assert!((iris.value_at(0.25) - 8f64.sqrt()).abs() < 1e-12);
    assert!((iris.position_of(8f64.sqrt()) - 0.25).abs() < 1e-12);
    let zoom =
        RingCurve::from_marks(ScaleQuantity::FocalLength, &[(0.0, 25.0), (1.0, 100.0)]).unwrap();
    assert!((zoom.value_at(0.5) - 50.0).abs() < 1e-12);
}

#[test]
fn errors_name_the_marks() {
    let with = |change: Change<'_>| {
        let mut marks = FOCUS.to_vec();
        change(&mut marks);
        RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks).unwrap_err()
    };
    assert_eq!(with(&|m| m.truncate(1)), CurveError::TooFew { found: 1 });
    assert_eq!(
        with(&|m| m[3].0 = 0.5),
        CurveError::Repeated {
            first: 2,
            second: 3,
            position: 0.5
        }
    );
    assert_eq!(
        with(&|m| m[3].1 = 0.9),
        CurveError::NotMonotone {
            first: 2,
            second: 3,
            first_value: 1.2,
            second_value: 0.9
        }
    );
    assert_eq!(
        with(&|m| m[1].1 = 0.5),
        CurveError::NotMonotone {
            first: 0,
            second: 1,
            first_value: 0.5,
            second_value: 0.5
        }
    );
    assert_eq!(
        with(&|m| m[2].1 = 0.0),
        CurveError::Mark {
            mark: 2,
            position: 0.5,
            value: 0.0
        }
    );
    assert!(matches!(
        with(&|m| m[2].0 = f64::NAN),
        CurveError::Mark { mark: 2, .. }
    ));
}

#[test]
fn a_slice_is_the_single_values() {
    let positions: Vec<f64> = (0..200)
        .map(|k| f64::from((k * 83) % 200) / 199.0)
        .collect();
    let mut values = vec![0.0; 200];
    focus().evaluate(&positions, &mut values);
    for (position, value) in positions.iter().zip(&values) {
        assert_eq!(focus().value_at(*position).to_bits(), value.to_bits());
    }
}

fn scale() -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((0.002..0.2f64, 0.02..0.5f64), 2..20).prop_map(|steps| {
        let (mut position, mut dioptres) = (0.0, 0.0);
        steps
            .into_iter()
            .map(|(a, b)| {
                let mark = (1.0 - position, 1.0 / dioptres);
                position += a;
                dioptres += b;
                mark
            })
            .collect()
    })
}

proptest! {
    #[test]
    fn inverse_leads_back(marks in scale(), t in 0.0..1.0f64) {
        let curve = RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks).unwrap();
        let (first, last) = (curve.positions()[0], *curve.positions().last().unwrap());
        let position = first + t * (last - first);
        let value = curve.value_at(position);
        let back = curve.position_of(value);
        // Where the curve is flat, a rounding error of the value moves the position: judge in the value.
        let off = (1.0 / curve.value_at(back) - 1.0 / value).abs();
        prop_assert!((back - position).abs() < 1e-11 || off < 1e-14, "{position} {value} {back}");
    }

    #[test]
    fn values_never_turn_round(marks in scale(), mut ts in prop::collection::vec(0.0..1.0f64, 2..40)) {
        let curve = RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks).unwrap();
        let (first, last) = (curve.positions()[0], *curve.positions().last().unwrap());
        ts.sort_by(f64::total_cmp);
        let values: Vec<f64> = ts.iter().map(|t| curve.value_at(first + t * (last - first))).collect();
        for pair in values.windows(2) {
            prop_assert!(pair[0] <= pair[1] * (1.0 + 1e-13));
        }
    }
}
