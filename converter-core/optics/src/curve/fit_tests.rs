#![allow(clippy::unwrap_used, missing_docs)]
use super::super::scale::scale;
use super::*;

const LENS: FocusLaw = FocusLaw {
    offset: 0.13,
    product: 0.0025,
};

/// Marks at even steps of dioptres, 0.5 m to infinity, read with an error of `error` times a fixed pattern whose mean
/// square is about 1/2.
fn points(count: usize, error: f64) -> Points {
    let coordinate: Vec<f64> = (0..count)
        .map(|k| 2.0 * k as f64 / (count - 1) as f64)
        .collect();
    let read = |(k, y): (usize, &f64)| {
        0.9 - 0.4 * LENS.extension(*y) / LENS.extension(2.0) + error * (1.7 * (k * k) as f64).sin()
    };
    Points {
        position: coordinate.iter().enumerate().map(read).collect(),
        coordinate,
        focus: true,
    }
}

fn even(points: &Points) -> Fit {
    fit(points, &cam::smooth()[0], None, None).unwrap()
}

#[test]
fn the_law_is_found_from_exact_marks() {
    let fit = even(&points(8, 0.0));
    assert!((fit.law.offset - LENS.offset).abs() < 2e-3, "{:?}", fit.law);
    assert!(
        (fit.law.product - LENS.product).abs() < 5e-4,
        "{:?}",
        fit.law
    );
}

#[test]
fn gradient_and_slope_are_those_of_the_position() {
    let points = points(8, 0.01);
    let all = cam::smooth()
        .into_iter()
        .chain(cam::corners().into_iter().skip(5));
    for candidate in all.take(22) {
        let Some(fit) = fit(&points, &candidate, None, None) else {
            continue;
        };
        let y = 1.3;
        let model = fit.at(y);
        let slope = (fit.at(y + 1e-6).position - fit.at(y - 1e-6).position) / 2e-6;
        assert!((model.slope - slope).abs() < 1e-6, "{candidate:?}");
        for k in 0..SIZE {
            let moved = |by: f64| {
                let mut parameters = fit.parameters;
                parameters[k] += by;
                let frame = Frame::new(&points, &candidate, &parameters).unwrap();
                frame.model(&parameters, y).position
            };
            let found = (moved(1e-6) - moved(-1e-6)) / 2e-6;
            let off = model.gradient[k] - found;
            assert!(
                off.abs() < 1e-6,
                "{candidate:?} {k}: {} {found}",
                model.gradient[k]
            );
        }
    }
}

#[test]
fn reading_error_is_that_of_the_marks() {
    for error in [0.0005, 0.001, 0.003] {
        let found = even(&points(30, error)).error;
        let root_mean_square = error * 0.5f64.sqrt();
        assert!(
            (found / root_mean_square - 1.0).abs() < 0.2,
            "{error}: {found}"
        );
    }
}

#[test]
fn left_out_is_what_a_fit_without_the_mark_predicts() {
    let all = points(14, 0.001);
    let mut rest = all.clone();
    rest.coordinate.remove(6);
    rest.position.remove(6);
    let predicted = all.position[6] - even(&rest).at(all.coordinate[6]).position;
    let found = even(&all).left_out(&all)[6];
    assert!((found - predicted).abs() < 1e-4, "{found} {predicted}");
}

#[test]
fn a_cam_has_the_evidence_when_there_is_one() {
    let mut bent = points(14, 0.001);
    for position in &mut bent.position {
        *position += 0.02 * (2.0 * std::f64::consts::PI * (*position - 0.5) / 0.4).sin();
    }
    assert!(!scale(&bent).unwrap().even);
    assert!(scale(&points(14, 0.001)).unwrap().even);
}
