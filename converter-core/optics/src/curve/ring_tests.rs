#![allow(clippy::unwrap_used, missing_docs)]
use super::*;

const FOCUS: [(f64, f64); 6] = [
    (0.05, 0.5),
    (0.25, 0.7),
    (0.50, 1.2),
    (0.70, 2.0),
    (0.90, 6.0),
    (0.98, f64::INFINITY),
];

type Change<'a> = &'a dyn Fn(&mut Vec<(f64, f64)>);

/// Marks of a lens that moves as a whole on an even helicoid, 50 mm, close focus 0.5 m, infinity at 0.98.
fn helicoid() -> Vec<(f64, f64)> {
    let extension = |d: f64| LENS.extension(1.0 / d);
    let position = |d: f64| 0.98 - 0.93 * extension(d) / extension(0.5);
    [0.5, 0.6, 0.8, 1.0, 1.5, 2.5, 5.0, f64::INFINITY]
        .map(|d| (position(d), d))
        .to_vec()
}

const LENS: FocusLaw = FocusLaw {
    offset: 0.104,
    product: 0.0025,
};

fn of(marks: &[(f64, f64)]) -> RingCurve {
    RingCurve::from_marks(ScaleQuantity::FocusDistance, marks).unwrap()
}

#[test]
fn an_even_helicoid_is_found_again() {
    let curve = of(&helicoid());
    assert_eq!(curve.shape(), Shape::Even);
    let law = curve.law().unwrap();
    assert!((law.offset - LENS.offset).abs() < 0.01, "{law:?}");
    for (position, value) in helicoid() {
        let off = 1.0 / curve.value_at(position) - 1.0 / value;
        assert!(off.abs() < 1e-5, "{position}: {off}");
        assert!((curve.position_of(value) - position).abs() < 1e-5);
    }
    let infinity = curve.infinity().unwrap();
    assert!((infinity.position - 0.98).abs() < 1e-5 && !infinity.extrapolated);
    assert!(infinity.band > 0.0 && infinity.band < 2e-3, "{infinity:?}");
}

#[test]
fn order_and_direction_of_the_scale_do_not_matter() {
    let mut shuffled = helicoid();
    shuffled.swap(0, 4);
    shuffled.swap(1, 3);
    assert_eq!(of(&shuffled), of(&helicoid()));
    let turned: Vec<(f64, f64)> = helicoid().iter().map(|(p, d)| (1.0 - p, *d)).collect();
    let (turned, straight) = (of(&turned), of(&helicoid()));
    for k in 0..=100 {
        let position = f64::from(k) / 100.0;
        let (a, b) = (
            turned.reading_at(position),
            straight.reading_at(1.0 - position),
        );
        assert_eq!(a.region, b.region, "{position}");
        assert!(a.value.is_nan() == b.value.is_nan());
        assert!((1.0 / a.value - 1.0 / b.value).abs() < 1e-9 || a.value.is_nan());
        assert!((1.0 / a.low - 1.0 / b.low).abs() < 1e-6 || a.value.is_nan());
    }
    let reversed: Vec<f64> = turned.left_out().iter().rev().map(|off| -off).collect();
    for (a, b) in reversed.iter().zip(straight.left_out()) {
        assert!((a - b).abs() < 1e-9);
    }
}

#[test]
fn past_infinity_is_infinity_and_before_close_focus_is_nothing() {
    let curve = of(&helicoid());
    for position in [0.982, 0.99, 1.0, 1.02] {
        assert_eq!(curve.value_at(position), f64::INFINITY, "{position}");
    }
    assert_eq!(curve.reading_at(1.0).region, Region::PastInfinity);
    assert!(curve.value_at(0.05 - 0.004) < 0.5);
    assert_eq!(curve.reading_at(0.05 - 0.004).region, Region::Marked);
    for position in [1.04, 0.04, -1.0, 2.0, f64::NAN, f64::INFINITY] {
        let reading = curve.reading_at(position);
        assert!(
            curve.value_at(position).is_nan() && reading.low.is_nan(),
            "{position}"
        );
        assert_eq!(reading.region, Region::Outside);
    }
    for value in [0.4, 0.05, 0.0, -1.0, f64::NAN] {
        assert!(curve.position_of(value).is_nan(), "{value}");
    }
    let (dioptres, slope) = curve.coordinate_and_slope(1.0, &mut 0);
    assert!(dioptres.is_nan() && slope.is_nan());
}

#[test]
fn infinity_without_a_mark_is_extrapolated_and_said_to_be() {
    let mut marks = helicoid();
    marks.pop();
    let curve = of(&marks);
    let infinity = curve.infinity().unwrap();
    assert!(infinity.extrapolated);
    assert!(
        (infinity.position - 0.98).abs() < infinity.band,
        "{infinity:?}"
    );
    let beyond = curve.reading_at(0.95);
    assert_eq!(beyond.region, Region::Extrapolated);
    let truth = 1.0 / LENS.dioptres(LENS.extension(2.0) * (0.98 - 0.95) / 0.93);
    assert!(
        beyond.low < truth && truth < beyond.high,
        "{truth} {beyond:?}"
    );
}

#[test]
fn few_marks_give_a_wide_band_around_the_truth() {
    let all = helicoid();
    let mut before = f64::INFINITY;
    for kept in [&[0, 7][..], &[0, 3, 7], &[0, 2, 5, 7]] {
        let marks: Vec<(f64, f64)> = kept.iter().map(|k| all[*k]).collect();
        let curve = of(&marks);
        let reading = curve.reading_at(all[4].0);
        assert!(
            reading.low < 1.5 && 1.5 < reading.high,
            "{kept:?}: {reading:?}"
        );
        let width = 1.0 / reading.low - 1.0 / reading.high;
        assert!(width < before, "{kept:?}: {width} after {before}");
        before = width;
    }
    let two = of(&[all[1], all[2]]);
    assert!(two.value_at(0.5 * (all[1].0 + all[2].0)) > 0.6);
}

#[test]
fn a_mark_read_wrongly_is_averaged_not_met() {
    let mut marks = helicoid();
    marks[3].0 += 0.002;
    let curve = of(&marks);
    let miss = curve.position_of(1.0) - marks[3].0;
    assert!((-0.002..-0.001).contains(&miss), "{miss}");
    assert!(curve.reading_error() > 5e-4 && curve.reading_error() < 2e-3);
    assert!(
        (curve.left_out()[3] - 0.002).abs() < 6e-4,
        "{:?}",
        curve.left_out()
    );
}

#[test]
fn one_mistyped_mark_does_not_drag_the_curve() {
    let turned =
        |marks: &[(f64, f64)]| marks.iter().map(|(p, d)| (1.0 - p, *d)).collect::<Vec<_>>();
    let mut marks = helicoid();
    // 1.5 m entered as 1.2 m.
    marks[4].1 = 1.2;
    let off = marks[4].0 - (0.98 - 0.93 * LENS.extension(1.0 / 1.2) / LENS.extension(2.0));
    for (curve, aside, sign) in [(of(&marks), 4, 1.0), (of(&turned(&marks)), 3, -1.0)] {
        assert_eq!(
            (curve.set_aside(), curve.shape()),
            (Some(aside), Shape::Even)
        );
        assert!(
            (curve.left_out()[aside] - sign * off).abs() < 1e-3,
            "{:?}",
            curve.left_out()
        );
        assert!(curve.reading_error() < 5e-4);
    }
    for (position, value) in helicoid() {
        assert!((1.0 / of(&marks).value_at(position) - 1.0 / value).abs() < 1e-3);
    }
    assert_eq!(of(&helicoid()).set_aside(), None);
}

#[test]
fn steps_that_no_drive_explains_keep_their_marks() {
    let marks = [
        (0.0, 0.5),
        (0.05, 0.9),
        (0.4, 0.95),
        (0.5, 3.0),
        (0.9, 3.2),
        (1.0, f64::INFINITY),
    ];
    let curve = of(&marks);
    assert_eq!((curve.shape(), curve.law()), (Shape::Marks, None));
    for (position, value) in marks {
        assert!((1.0 / curve.value_at(position) - 1.0 / value).abs() < 1e-15);
    }
    assert_eq!(curve.value_at(1.03), f64::INFINITY);
    assert_eq!(curve.value_at(-0.004), 0.5);
    assert!(curve.value_at(-0.006).is_nan());
}

#[test]
fn every_encoder_step_comes_back() {
    let sine = |(p, d): &(f64, f64)| (p + 0.05 * (std::f64::consts::PI * p).sin(), *d);
    let cam: Vec<(f64, f64)> = helicoid().iter().map(sine).collect();
    for curve in [of(&helicoid()), of(&cam)] {
        let last = curve.infinity().unwrap().position;
        for step in 0..=65535u32 {
            let position = f64::from(step) / 65535.0;
            let value = curve.value_at(position);
            if value.is_finite() || (position - last).abs() < HALF_STEP {
                let back = curve.position_of(value) * 65535.0;
                assert_eq!(back.round(), f64::from(step), "{position}: {value}");
            }
        }
    }
}

#[test]
fn iris_is_read_in_stops_and_zoom_in_log_focal_length() {
    let iris =
        RingCurve::from_marks(ScaleQuantity::TStop, &[(0.0, 2.0), (0.5, 4.0), (1.0, 8.0)]).unwrap();
    assert!((iris.value_at(0.25) - 8f64.sqrt()).abs() < 1e-9);
    assert!((iris.position_of(8f64.sqrt()) - 0.25).abs() < 1e-9);
    let zoom =
        RingCurve::from_marks(ScaleQuantity::FocalLength, &[(0.0, 25.0), (1.0, 100.0)]).unwrap();
    assert!((zoom.value_at(0.5) - 50.0).abs() < 1e-9);
}

#[test]
fn a_bent_iris_is_bent_and_its_reading_errors_averaged() {
    // Whole stops from T2 to T22, the open end stretched, read to about 0.1 % of travel.
    let ring = |t: f64| t + 0.04 * (std::f64::consts::PI * t).sin();
    let marks: Vec<(f64, f64)> = (0..8)
        .map(|k| {
            let read = 0.001 * (1.7 * f64::from(k * k)).sin();
            (
                ring(f64::from(k) / 7.0) + read,
                2f64.powf(1.0 + 0.5 * f64::from(k)),
            )
        })
        .collect();
    let curve = RingCurve::from_marks(ScaleQuantity::TStop, &marks).unwrap();
    assert_eq!(
        (curve.shape(), curve.law(), curve.infinity()),
        (Shape::Cam, None, None)
    );
    for k in 0..70 {
        let t = f64::from(k) / 70.0 + 0.005;
        let reading = curve.reading_at(ring(t));
        let truth = 2f64.powf(1.0 + 3.5 * t);
        let stops = 2.0 * (reading.value / truth).log2();
        assert!(stops.abs() < 0.012, "{t}: {stops} stops off");
        assert!(
            reading.low < truth && truth < reading.high,
            "{t}: {reading:?}"
        );
    }
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
    let curve = of(&helicoid());
    curve.evaluate(&positions, &mut values);
    let mut readings = vec![Reading::NONE; 200];
    curve.evaluate_with_band(&positions, &mut readings);
    for ((position, value), reading) in positions.iter().zip(&values).zip(&readings) {
        assert_eq!(curve.value_at(*position).to_bits(), value.to_bits());
        assert_eq!(reading.value.to_bits(), value.to_bits());
        assert_eq!(
            curve.reading_at(*position).high.to_bits(),
            reading.high.to_bits()
        );
    }
}
