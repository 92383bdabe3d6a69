//! Scales of every kind: whatever the marks, values are ordered, inside their band, and lead back.
#![allow(clippy::unwrap_used, missing_docs)]

use proptest::prelude::*;
use ringmark_model::ScaleQuantity;
use ringmark_optics::{Reading, Region, RingCurve, Shape, coordinate};

/// What holds for every curve, looked at from well before the scale to well past it.
fn holds(curve: &RingCurve, rises: bool) -> Result<(), TestCaseError> {
    let (first, last) = (curve.positions()[0], *curve.positions().last().unwrap());
    let mut before: Option<Reading> = None;
    for k in -20..=220 {
        let position = first + (last - first) * f64::from(k) / 200.0;
        let reading = curve.reading_at(position);
        prop_assert_eq!(reading.value.to_bits(), curve.value_at(position).to_bits());
        if reading.region == Region::Outside {
            prop_assert!(reading.value.is_nan() && reading.low.is_nan() && reading.high.is_nan());
            continue;
        }
        prop_assert!(reading.value > 0.0, "{position}: {reading:?}");
        prop_assert!(
            reading.low >= 0.0 && reading.low <= reading.value && reading.value <= reading.high,
            "{position}: {reading:?}"
        );
        if let Some(before) = before {
            let (less, more) = if rises {
                (before.value, reading.value)
            } else {
                (reading.value, before.value)
            };
            prop_assert!(less <= more * (1.0 + 1e-12), "{position}: {less} {more}");
        }
        before = Some(reading);
        if reading.value.is_finite() {
            let back = curve.position_of(reading.value);
            // Where the curve is flat, a rounding error of the value moves the position: judge in the value.
            let y = |value: f64| coordinate(curve.quantity(), value);
            let off = (y(curve.value_at(back)) - y(reading.value)).abs();
            // Beyond the ends of a curve through the marks, a value is that of the end.
            let end = curve.shape() == Shape::Marks && !(first..=last).contains(&position);
            prop_assert!(
                end || (back - position).abs() < 1e-9
                    || off < 1e-12 * y(reading.value).abs().max(1.0),
                "{position}: {reading:?} {back}"
            );
        }
    }
    prop_assert!(curve.reading_error() > 0.0 && curve.reading_error().is_finite());
    prop_assert!(curve.left_out().iter().all(|off| off.is_finite()));
    if let Some(infinity) = curve.infinity() {
        prop_assert!(
            infinity.position.is_finite() && infinity.band >= 0.0 && infinity.band.is_finite()
        );
    }
    Ok(())
}

/// Steps in position and coordinate, each above 0, as a scale from one end.
fn steps(most: usize) -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((0.001..1.0f64, 0.01..1.0f64), 1..most)
}

/// Positions and coordinates that run from 0 to 1 by such steps.
fn run(steps: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let total = steps
        .iter()
        .fold((0.0, 0.0), |sum, step| (sum.0 + step.0, sum.1 + step.1));
    let mut at = (0.0, 0.0);
    let mut all = vec![at];
    for step in steps {
        at = (at.0 + step.0 / total.0, at.1 + step.1 / total.1);
        all.push(at);
    }
    all
}

proptest! {
    #[test]
    fn any_focus_scale(steps in steps(20), near in 0.05..100.0f64, farthest in prop::option::of(1.5..1e4f64), turned: bool) {
        let far = farthest.map_or(0.0, |times| 1.0 / (near * times));
        let marks: Vec<(f64, f64)> = run(&steps).iter().map(|(p, t)| {
            let y = far + (1.0 / near - far) * t;
            (if turned { 1.0 - p } else { *p }, if y == 0.0 { f64::INFINITY } else { 1.0 / y })
        }).collect();
        holds(&RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks).unwrap(), turned)?;
    }

    #[test]
    fn lenses_of_all_focal_lengths(
        focal in (0.0..1.0f64).prop_map(|t| 1e-3 * 2000f64.powf(t)),
        planes in -0.8..3.0f64,
        room in 0.001..10.0f64,
        bend in -0.2..0.25f64,
        error in 0.0..0.003f64,
        count in 2..24usize,
        infinity: bool,
    ) {
        let (a, q) = (focal * (2.0 + planes), focal * focal);
        // From just above a magnification of 1, or 0.05 m.
        let near = (a + 2.0 * focal * (1.0 + room)).max(0.05);
        let extension = |y: f64| 2.0 * y / ((1.0 - a * y) + ((1.0 - a * y).powi(2) - 4.0 * q * y * y).sqrt());
        let marks: Vec<(f64, f64)> = (0..count).map(|k| {
            let t = k as f64 / (count - 1) as f64;
            let y = if infinity { t } else { 0.05 + 0.95 * t } / near;
            let e = extension(y) / extension(1.0 / near);
            let wobble = error * (12.9898 * k as f64).sin();
            (1.0 - e - bend * (std::f64::consts::PI * e).sin() + wobble, if y == 0.0 { f64::INFINITY } else { 1.0 / y })
        }).collect();
        if let Ok(curve) = RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks) {
            holds(&curve, true)?;
        } else {
            // Only a reading error that changes the order of marks keeps them from being a scale.
            prop_assert!(marks.windows(2).any(|pair| pair[1].0 >= pair[0].0));
        }
    }

    #[test]
    fn any_iris_and_zoom(steps in steps(20), wide in 0.0..0.99f64, share in 0.01..1.0f64, turned: bool) {
        for (quantity, low, high) in [(ScaleQuantity::TStop, 0.7, 64.0f64), (ScaleQuantity::FNumber, 0.7, 64.0), (ScaleQuantity::FocalLength, 1.0, 2000.0)] {
            let at = |t: f64| low * (high / low).powf(wide + (1.0 - wide) * share * t);
            let marks: Vec<(f64, f64)> = run(&steps).iter().map(|(p, t)| (if turned { 1.0 - p } else { *p }, at(*t))).collect();
            holds(&RingCurve::from_marks(quantity, &marks).unwrap(), !turned)?;
        }
    }
}
