//! Distances for a new ring: evenly spaced in reciprocal distance, rounded as people print them.

use ringmark_quantity::{Conversion, QuantityError, Unit, print};
use thiserror::Error;

/// A value may be moved by this part of the step between marks to be rounder.
const MOVED: f64 = 0.2;

/// What distances in metres are multiples of, the roundest first.
const METRES: [f64; 13] = [
    100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01,
];

/// The same in inches, down to a half.
const INCHES: [f64; 12] = [
    1200.0, 600.0, 240.0, 120.0, 60.0, 24.0, 12.0, 6.0, 3.0, 2.0, 1.0, 0.5,
];

/// Why there is no series.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum SeriesError {
    /// Fewer than two marks.
    #[error("a series of {count}: 2 marks or more are needed")]
    TooFew {
        /// Marks asked for.
        count: usize,
    },
    /// Ends that are no distances, or in the wrong order.
    #[error("from {} to {}: expected a distance above 0 and a longer one, or infinity", print::metric(*from), print::metric(*to))]
    Ends {
        /// The nearer end in metres.
        from: f64,
        /// The farther end in metres.
        to: f64,
    },
    /// Marks closer together than round distances are.
    #[error("{count} marks: two of them would round to one distance; take fewer")]
    TooMany {
        /// Marks asked for.
        count: usize,
    },
    /// A unit in which no distances are printed.
    #[error(transparent)]
    Unit(#[from] QuantityError),
}

/// The distances between `from` and `to` metres for a ring of `count` marks, both ends counted but not returned, in
/// `unit`: [`Unit::Metre`], or [`Unit::FeetInches`], in which they are inches.
///
/// Each is the roundest within a fifth of a step of its place in a series evenly spaced in reciprocal distance, the
/// spacing in which depth of field is even: `1/d_i = 1/from + i/(count - 1) (1/to - 1/from)`. Steps are at least 1 cm or
/// half an inch. Which distances count as round is common practice, no source.
pub fn round_series(from: f64, to: f64, count: usize, unit: Unit) -> Result<Vec<f64>, SeriesError> {
    if count < 2 {
        return Err(SeriesError::TooFew { count });
    }
    if !(from > 0.0 && from.is_finite() && from < to) {
        return Err(SeriesError::Ends { from, to });
    }
    let conversion = Conversion::between(Unit::Metre, unit)?;
    let (near, far) = (1.0 / conversion.apply(from), 1.0 / conversion.apply(to));
    let grids: &[f64] = match unit {
        Unit::FeetInches => &INCHES,
        _ => &METRES,
    };
    let step = (near - far) / (count - 1) as f64;
    let mut last = near;
    let mut values = Vec::with_capacity(count - 2);
    for index in 1..count - 1 {
        let ideal = near - step * index as f64;
        let value = round(ideal, MOVED * step, grids);
        let reciprocal = 1.0 / value;
        if !(far < reciprocal && reciprocal < last) {
            return Err(SeriesError::TooMany { count });
        }
        last = reciprocal;
        values.push(value);
    }
    Ok(values)
}

/// The roundest number of which the reciprocal is within `moved` of `ideal`; the nearest of the finest grid if none is.
fn round(ideal: f64, moved: f64, grids: &[f64]) -> f64 {
    let off = |value: f64| (1.0 / value - ideal).abs();
    let nearest = |grid: f64| {
        let below = (1.0 / ideal / grid).floor();
        // Decimals are divided, not multiplied: 19 steps of 0.05 are 0.95 and not 0.9500000000000001.
        let of = |steps: f64| match grid < 1.0 {
            true => steps / (1.0 / grid).round(),
            false => steps * grid,
        };
        let (a, b) = (of(below), of(below + 1.0));
        if off(a) <= off(b) { a } else { b }
    };
    let found = grids.iter().map(|&grid| nearest(grid));
    let finest = grids.last().map_or(f64::NAN, |&grid| nearest(grid));
    found
        .into_iter()
        .find(|&value| off(value) <= moved)
        .unwrap_or(finest)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn round_distances_near_an_even_series() {
        let metres = round_series(0.6, f64::INFINITY, 12, Unit::Metre).unwrap();
        // Evenly spaced in 1/d: 0.66, 0.733, 0.825, 0.943, 1.1, 1.32, 1.65, 2.2, 3.3, 6.6 m.
        assert_eq!(
            metres,
            [0.65, 0.74, 0.82, 0.95, 1.1, 1.3, 1.6, 2.2, 3.5, 6.0]
        );
        let inches = round_series(0.6096, f64::INFINITY, 9, Unit::FeetInches).unwrap();
        // 24 in to infinity in 8 steps: 27.4, 32, 38.4, 48, 64, 96, 192 in.
        assert_eq!(inches, [27.0, 33.0, 39.0, 48.0, 60.0, 96.0, 180.0]);
        assert!(round_series(1.0, 2.0, 2, Unit::Metre).unwrap().is_empty());
    }

    #[test]
    fn what_makes_no_series() {
        let far = f64::INFINITY;
        for (from, to, count, expected) in [
            (0.6, far, 1, "a series of 1"),
            (0.0, far, 5, "expected a distance above 0"),
            (far, far, 5, "expected a distance above 0"),
            (f64::NAN, far, 5, "expected a distance above 0"),
            (2.0, 1.0, 5, "expected a distance above 0"),
            (2.0, f64::NAN, 5, "expected a distance above 0"),
            (0.6, 0.65, 12, "12 marks: two"),
            (0.6, far, 500, "500 marks: two"),
        ] {
            let error = round_series(from, to, count, Unit::Metre).unwrap_err();
            assert!(error.to_string().contains(expected), "{error}");
        }
        assert!(round_series(1.0, 2.0, 3, Unit::Degree).is_err());
    }
}
