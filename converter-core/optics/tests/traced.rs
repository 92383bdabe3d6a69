//! How well few marks give the scales of traced lenses, and of others that nothing was fitted to, back.
#![allow(clippy::unwrap_used, missing_docs, dead_code)]

#[path = "../examples/reconstruction/lens.rs"]
mod lens;
#[path = "../examples/reconstruction/measure.rs"]
mod measure;
#[path = "../examples/reconstruction/plain.rs"]
mod plain;
#[path = "../examples/reconstruction/synthetic.rs"]
mod synthetic;

use std::path::Path;

use lens::Truth;
use measure::{draws, even_marks, of_curve};

fn traced() -> Vec<Truth> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/standards/traced");
    let lenses = lens::traced(Path::new(folder)).unwrap();
    assert_eq!(lenses.len(), 4);
    assert!(lenses.iter().all(|lens| lens.rows.len() == 240));
    lenses
}

fn has_cam(lens: &Truth) -> bool {
    lens.name.contains("cam")
}

fn exact(lens: &Truth, count: usize) -> f64 {
    let marks = even_marks(lens, count);
    of_curve(lens, &marks, &marks).0
}

#[test]
fn exact_marks() {
    for lens in traced() {
        let (count, limit) = if has_cam(&lens) {
            (12, 0.05)
        } else {
            (6, 0.01)
        };
        let error = exact(&lens, count);
        assert!(
            error <= limit,
            "{}: {error:.5} of the depth of field",
            lens.name
        );
        assert!(
            error > 1e-7,
            "{}: {error:e} is too good for {count} marks",
            lens.name
        );
    }
    for lens in synthetic::even() {
        let error = exact(&lens, 6);
        // The law itself does not fit every inner group: then the curve is to be twice as good.
        let marks = even_marks(&lens, 6);
        let limit = 0.01f64.max(0.5 * plain::bare_law(&lens, &marks, &marks));
        assert!(
            error <= limit,
            "{}: {error:.5} of the depth of field",
            lens.name
        );
    }
}

#[test]
fn reading_errors_are_averaged_and_the_band_is_honest() {
    let with = |lenses: Vec<Truth>, limit: f64| lenses.into_iter().map(move |lens| (lens, limit));
    let (cam, linear): (Vec<Truth>, Vec<Truth>) = traced().into_iter().partition(has_cam);
    // Bare least squares of the law reaches 0.73 on the worst of the other even ones that move as a whole. An inner group
    // may need a law far from that of a whole lens. A drive of infinite slope at infinity is the cubic's luck.
    let (inner, whole): (Vec<Truth>, Vec<Truth>) = synthetic::even()
        .into_iter()
        .partition(|lens| lens.name.starts_with("inner"));
    let all = with(linear, 0.65)
        .chain(with(cam, 1.0))
        .chain(with(whole, 0.75))
        .chain(with(inner, 0.85))
        .chain(with(synthetic::cams(), 1.15))
        .chain(with(synthetic::bent(), 1.0));
    for (lens, limit) in all {
        let found = draws(&lens, &even_marks(&lens, 12), 0.001, 100, 0);
        let (name, ratio) = (&lens.name, found.curve / found.pchip);
        assert!(ratio <= limit, "{name}: {ratio:.3} of the monotone cubic");
        // A slope without end, or of 0, at infinity is no drive of a barrel: nothing is promised of the band there.
        let smooth = !name.contains("Power");
        let covered = found.covered;
        assert!(
            !smooth || (0.90..=0.98).contains(&covered),
            "{name}: {covered:.3} inside the band"
        );
    }
}
