//! Round values as scales carry them, the roundest first, and how many of them fit.

use ringmark_model::ScaleQuantity;

/// Which system round values are round in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum System {
    /// Metres, and everything that is no distance.
    Metric,
    /// Feet and inches.
    Imperial,
}

/// Metres of one decade, by roundness.
const METRES: [&[f64]; 4] = [
    &[1.0, 2.0, 5.0],
    &[1.5, 3.0],
    &[1.2, 2.5, 4.0, 7.0],
    &[1.8, 3.5, 4.5, 6.0, 8.0, 9.0],
];

/// Inches, by roundness.
const INCHES: [&[f64]; 4] = [
    &[12.0, 24.0, 36.0, 60.0, 120.0, 240.0, 600.0, 1200.0],
    &[18.0, 48.0, 72.0, 96.0, 180.0, 360.0, 3600.0],
    &[
        6.0, 9.0, 15.0, 30.0, 84.0, 144.0, 300.0, 480.0, 6000.0, 12000.0,
    ],
    &[
        4.0, 5.0, 7.0, 8.0, 10.0, 11.0, 13.0, 14.0, 16.0, 21.0, 27.0, 33.0, 42.0, 54.0, 66.0, 108.0,
    ],
];

/// Whole stops as they are engraved.
const STOPS: [f64; 14] = [
    0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0,
];

/// Millimetres of focal length, by roundness.
const FOCAL_LENGTHS: [&[f64]; 3] = [
    &[
        10.0, 18.0, 25.0, 35.0, 50.0, 75.0, 100.0, 135.0, 200.0, 300.0, 500.0, 1000.0,
    ],
    &[
        14.0, 21.0, 28.0, 32.0, 40.0, 65.0, 85.0, 150.0, 180.0, 250.0, 400.0, 800.0,
    ],
    &[
        8.0, 12.0, 16.0, 20.0, 24.0, 30.0, 45.0, 60.0, 70.0, 80.0, 90.0, 120.0, 600.0,
    ],
];

/// Round values of a quantity in its canonical unit, the roundest first. Distances go from 1 cm or 4 in to infinity.
pub fn round_values(quantity: ScaleQuantity, system: System) -> Vec<f64> {
    match (quantity, system) {
        (ScaleQuantity::FocusDistance, System::Metric) => {
            let decades = [1.0, 0.1, 10.0, 100.0, 0.01];
            let of = |values: &'static [f64]| {
                decades.into_iter().flat_map(move |decade: f64| {
                    // 0.3 and not 0.30000000000000004.
                    values.iter().map(move |v| (v * decade * 1e4).round() / 1e4)
                })
            };
            std::iter::once(f64::INFINITY)
                .chain(METRES.into_iter().flat_map(of))
                .collect()
        }
        (ScaleQuantity::FocusDistance, System::Imperial) => std::iter::once(f64::INFINITY)
            .chain(INCHES.into_iter().flatten().map(|inches| inches * 0.0254))
            .collect(),
        (ScaleQuantity::TStop | ScaleQuantity::FNumber, _) => STOPS.to_vec(),
        (ScaleQuantity::FocalLength, _) => FOCAL_LENGTHS.into_iter().flatten().copied().collect(),
    }
}

/// The values, in the order given, that stand `apart` or more from every one taken before; `place` says where one stands,
/// if anywhere. They come back by rising place.
pub fn spaced(
    values: impl IntoIterator<Item = f64>,
    apart: f64,
    place: impl Fn(f64) -> Option<f64>,
) -> Vec<f64> {
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for value in values {
        if let Some(at) = place(value)
            && taken.iter().all(|(other, _)| (other - at).abs() >= apart)
        {
            taken.push((at, value));
        }
    }
    taken.sort_by(|a, b| a.0.total_cmp(&b.0));
    taken.into_iter().map(|(_, value)| value).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn rounder_values_win() {
        let metres = round_values(ScaleQuantity::FocusDistance, System::Metric);
        assert!(metres.contains(&0.3) && metres.contains(&0.012) && metres.contains(&900.0));
        // By dioptres from 0.4 m on, a tenth of the scale apart.
        let place = |metres: f64| (metres >= 0.4).then(|| 1.0 - 0.4 / metres);
        let found = spaced(metres, 0.1, place);
        assert_eq!(found, [0.4, 0.5, 0.7, 1.0, 2.0, f64::INFINITY]);
    }

    #[test]
    fn every_value_is_there_once() {
        for quantity in ScaleQuantity::ALL {
            for system in [System::Metric, System::Imperial] {
                let mut values = round_values(quantity, system);
                let count = values.len();
                values.sort_by(f64::total_cmp);
                values.dedup();
                assert_eq!(values.len(), count, "{quantity:?} {system:?}");
                assert!(values.iter().all(|&value| value > 0.0));
            }
        }
    }
}
