//! How well few marks give the scales of traced lenses, and of others that nothing was fitted to, back.
#![allow(clippy::unwrap_used, missing_docs, dead_code)]

#[path = "../examples/reconstruction/lens.rs"]
mod lens;
#[path = "../examples/reconstruction/measure.rs"]
mod measure;
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
        assert!(
            error <= 0.01,
            "{}: {error:.5} of the depth of field",
            lens.name
        );
    }
}

#[test]
fn reading_errors_are_averaged_and_the_band_is_honest() {
    let with = |lenses: Vec<Truth>, limit: f64| lenses.into_iter().map(move |lens| (lens, limit));
    let (cam, linear): (Vec<Truth>, Vec<Truth>) = traced().into_iter().partition(has_cam);
    // Bare least squares of the law reaches 0.73 on the worst of the other even ones. A sine of 0.2 is steeper at one end
    // than at the other by 4.4: there the cubic is luckier.
    let all = with(linear, 0.65)
        .chain(with(cam, 1.0))
        .chain(with(synthetic::even(), 0.75))
        .chain(with(synthetic::cams(), 1.15));
    for (lens, limit) in all {
        let found = draws(&lens, &even_marks(&lens, 12), 0.001, 100, 0);
        let (name, ratio) = (&lens.name, found.curve / found.pchip);
        assert!(ratio <= limit, "{name}: {ratio:.3} of the monotone cubic");
        // A corner, or a slope without end at infinity, is no smooth drive: nothing is promised of the band there.
        let smooth = !name.contains("Bent") && !name.contains("Power");
        let covered = found.covered;
        assert!(
            !smooth || (0.90..=0.98).contains(&covered),
            "{name}: {covered:.3} inside the band"
        );
    }
}
