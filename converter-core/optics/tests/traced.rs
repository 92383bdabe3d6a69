//! How well twelve exact marks give the scale of traced lenses: see `tests/data/README.md`.
#![allow(clippy::unwrap_used, missing_docs)]

use ringmark_model::ScaleQuantity;
use ringmark_optics::RingCurve;

struct Row {
    ring: f64,
    distance: f64,
    pupil: f64,
    magnification: f64,
}

fn rows(text: &str) -> Vec<Row> {
    let row = |line: &str| {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        Row {
            ring: cells[0],
            distance: cells[1],
            pupil: cells[2] / 1000.0,
            magnification: cells[3].abs(),
        }
    };
    text.lines().skip(1).map(row).collect()
}

/// Depth of field in dioptres at full aperture, circle of confusion 0.025 mm: similar triangles at the entrance pupil,
/// `k = c / (m A)`, limits `s / (1 ± k)` from the pupil.
fn depth_of_field(row: &Row, aperture: f64) -> f64 {
    let k = 0.025e-3 / (row.magnification * aperture);
    let from_pupil = row.distance - row.pupil;
    let near = from_pupil / (1.0 + k) + row.pupil;
    let far = if k < 1.0 {
        from_pupil / (1.0 - k) + row.pupil
    } else {
        f64::INFINITY
    };
    1.0 / near - 1.0 / far
}

/// Largest error, in depths of field, of a curve through marks at the rows nearest to `k / 11` of travel.
fn largest_error(text: &str, focal_mm: f64, f_number: f64) -> f64 {
    let rows = rows(text);
    let mut marks: Vec<(f64, f64)> = (0..11)
        .map(|k| {
            let wanted = f64::from(k) / 11.0;
            let near =
                |a: &&Row, b: &&Row| (a.ring - wanted).abs().total_cmp(&(b.ring - wanted).abs());
            let row = rows.iter().min_by(near).unwrap();
            (row.ring, row.distance)
        })
        .collect();
    marks.push((1.0, f64::INFINITY));
    let curve = RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks).unwrap();
    let aperture = focal_mm / 1000.0 / f_number;
    let error = |row: &Row| {
        (1.0 / curve.value_at(row.ring) - 1.0 / row.distance).abs() / depth_of_field(row, aperture)
    };
    rows.iter().map(error).fold(0.0, f64::max)
}

#[test]
fn twelve_marks_stay_well_inside_the_depth_of_field() {
    for (name, text, focal, f_number) in [
        ("unit-25", include_str!("data/unit-25.csv"), 25.0, 2.8),
        ("unit-50", include_str!("data/unit-50.csv"), 50.0, 2.0),
        (
            "internal-85",
            include_str!("data/internal-85.csv"),
            85.0,
            2.5,
        ),
    ] {
        let error = largest_error(text, focal, f_number);
        assert!(error < 0.05, "{name}: {error:.4} of the depth of field");
        assert!(
            error > 1e-6,
            "{name}: an error of {error:e} is too good for twelve marks"
        );
    }
}
