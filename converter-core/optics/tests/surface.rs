//! Tables over focus and zoom: against scipy, and against ray-traced lenses of which few rows are known.
#![allow(clippy::unwrap_used, missing_docs)]

use ringmark_optics::Surface;

const SCIPY: &str = include_str!("../../../tests/standards/pchip/grid.csv");

/// `scipy.interpolate.RegularGridInterpolator(method="pchip")` of scipy 1.17.1: see `tests/standards/pchip/README.md`.
#[test]
fn equals_scipy_on_a_full_grid() {
    let (mut distances, mut focal_lengths, mut values, mut asked) =
        (vec![], vec![], vec![], vec![]);
    for line in SCIPY.lines().skip(1) {
        let (kind, rest) = line.split_once(',').unwrap();
        let cells: Vec<f64> = rest.split(',').map(|cell| cell.parse().unwrap()).collect();
        if kind == "knot" {
            distances.push(cells[0]);
            focal_lengths.push(cells[1]);
            values.push(cells[2]);
        } else {
            asked.push(cells);
        }
    }
    assert_eq!((values.len(), asked.len()), (30, 200));
    let surface = Surface::new(Some(&distances), Some(&focal_lengths), &values).unwrap();
    for cells in asked {
        let found = surface.value(cells[0], cells[1]);
        assert!((found / cells[2] - 1.0).abs() < 1e-12, "{cells:?}: {found}");
    }
}

/// Distance in m, entrance pupil in mm, pinhole focal length in mm: `tests/standards/traced/README.md`.
fn traced(text: &str) -> Vec<[f64; 3]> {
    let rows = text.lines().skip(1).map(|line| {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        [cells[3], cells[5], cells[6]]
    });
    rows.collect()
}

/// Largest error in mm of the table of `count` rows, nearly even in dioptres, over all traced rows.
fn error(rows: &[[f64; 3]], column: usize, count: usize) -> f64 {
    let (near, far) = (1.0 / rows[0][0], 1.0 / rows[rows.len() - 1][0]);
    let known: Vec<&[f64; 3]> = (0..count)
        .map(|k| {
            let wanted = near + (far - near) * k as f64 / (count - 1) as f64;
            rows.iter()
                .min_by(|a, b| {
                    (1.0 / a[0] - wanted)
                        .abs()
                        .total_cmp(&(1.0 / b[0] - wanted).abs())
                })
                .unwrap()
        })
        .collect();
    let of = |column: usize| known.iter().map(|row| row[column]).collect::<Vec<f64>>();
    let surface = Surface::new(Some(&of(0)), None, &of(column)).unwrap();
    rows.iter()
        .map(|row| (surface.value(row[0], 0.0) - row[column]).abs())
        .fold(0.0, f64::max)
}

#[test]
fn eight_rows_give_breathing_and_pupil_of_traced_lenses() {
    for (name, text) in [
        (
            "unit-25",
            include_str!("../../../tests/standards/traced/unit-25.csv"),
        ),
        (
            "unit-50",
            include_str!("../../../tests/standards/traced/unit-50.csv"),
        ),
        (
            "internal-85",
            include_str!("../../../tests/standards/traced/internal-85.csv"),
        ),
    ] {
        let rows = traced(text);
        assert_eq!(rows.len(), 240);
        let (pupil, pinhole) = (error(&rows, 1, 8), error(&rows, 2, 8));
        println!("{name}: entrance pupil {pupil:.5} mm, pinhole focal length {pinhole:.5} mm");
        assert!(
            pupil < 0.01 && pinhole < 0.005,
            "{name}: pupil {pupil} mm, pinhole {pinhole} mm"
        );
        assert!(
            pinhole > 1e-6,
            "{name}: {pinhole} mm is too good for eight rows"
        );
    }
}
