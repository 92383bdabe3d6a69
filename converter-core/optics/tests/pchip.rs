//! The monotone cubic against scipy's `PchipInterpolator` (scipy 1.17.1): see `tests/standards/pchip/README.md`.
#![allow(clippy::unwrap_used, missing_docs)]

use std::collections::BTreeMap;

use ringmark_optics::Pchip;

const REFERENCE: &str = include_str!("../../../tests/standards/pchip/pchip.csv");

#[derive(Default)]
struct Set {
    knots: (Vec<f64>, Vec<f64>),
    values: Vec<(f64, f64)>,
}

#[test]
fn equals_scipy() {
    let mut sets: BTreeMap<&str, Set> = BTreeMap::new();
    for line in REFERENCE.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (x, y): (f64, f64) = (cells[2].parse().unwrap(), cells[3].parse().unwrap());
        let set = sets.entry(cells[0]).or_default();
        match cells[1] {
            "knot" => {
                set.knots.0.push(x);
                set.knots.1.push(y);
            }
            _ => set.values.push((x, y)),
        }
    }
    assert_eq!(sets.len(), 13);
    for (name, set) in sets {
        let curve = Pchip::new(set.knots.0, set.knots.1).unwrap();
        assert_eq!(set.values.len(), 21);
        for (x, y) in set.values {
            let found = curve.value(x);
            assert!(
                (found - y).abs() <= 1e-13 * y.abs().max(1.0),
                "{name} at {x}: {found}, scipy {y}"
            );
        }
    }
}
