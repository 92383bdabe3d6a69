//! Means that a few wrong values do not move.

use crate::curve::half_width_95;

/// Chunks that the scatter of a mean is read from: long enough to be independent, many enough to scatter.
const CHUNKS: usize = 12;
/// Fewest chunks that say anything about scatter.
const FEWEST_CHUNKS: usize = 4;
/// Values beyond this many standard deviations pull no harder than those at it.
const HUBER: f64 = 1.5;
/// Median absolute deviation to standard deviation of a normal distribution.
const MAD: f64 = 1.4826;

/// The median; NaN of nothing. Leaves the values in another order.
pub(super) fn median(values: &mut [f64]) -> f64 {
    let (middle, odd) = (values.len() / 2, values.len() % 2 == 1);
    if values.is_empty() {
        return f64::NAN;
    }
    let (below, at, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    let at = *at;
    if odd {
        return at;
    }
    let before = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    0.5 * (before + at)
}

/// A mean and how exactly it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Mean {
    pub value: f64,
    /// Half width of the 95 % interval; infinite where there is too little to tell.
    pub error: f64,
}

/// Huber's mean of values in the order of time, each with the standard deviation expected of it. Errors of neighbours are
/// alike, so the interval comes from the scatter of the means of successive chunks (batch means), not from the number of
/// values.
pub(super) fn mean(values: &[(f64, f64)]) -> Option<Mean> {
    let whole = huber(values)?;
    let chunks = (values.len() / 8).min(CHUNKS);
    if chunks < FEWEST_CHUNKS {
        return Some(Mean {
            value: whole,
            error: f64::INFINITY,
        });
    }
    let parts: Vec<f64> = (0..chunks)
        .filter_map(|n| values.get(n * values.len() / chunks..(n + 1) * values.len() / chunks))
        .filter_map(huber)
        .collect();
    let count = parts.len() as f64;
    let middle = parts.iter().sum::<f64>() / count;
    let scatter = (parts
        .iter()
        .map(|part| (part - middle).powi(2))
        .sum::<f64>()
        / (count - 1.0))
        .sqrt();
    Some(Mean {
        value: whole,
        error: half_width_95(count - 1.0) * scatter / count.sqrt(),
    })
}

fn huber(values: &[(f64, f64)]) -> Option<f64> {
    let mut plain: Vec<f64> = values.iter().map(|(value, _)| *value).collect();
    let mut at = median(&mut plain);
    if at.is_nan() {
        return None;
    }
    let mut off: Vec<f64> = values
        .iter()
        .map(|(value, sigma)| (value - at).abs() / sigma)
        .collect();
    // No closer than a hundredth of what is expected: exact data would leave no scale at all.
    let scale = (MAD * median(&mut off)).max(0.01);
    for _ in 0..20 {
        let (mut sum, mut weights) = (0.0, 0.0);
        for (value, sigma) in values {
            let off = (value - at).abs() / (sigma * scale);
            let weight = (HUBER / off.max(HUBER)) / (sigma * sigma);
            sum += weight * value;
            weights += weight;
        }
        let next = sum / weights;
        let moved = (next - at).abs();
        at = next;
        if moved.is_nan() || moved <= 1e-12 {
            break;
        }
    }
    at.is_finite().then_some(at)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    #[test]
    fn medians() {
        assert!(median(&mut []).is_nan());
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), 2.0);
        assert_eq!(median(&mut [4.0, 1.0, 3.0, 2.0]), 2.5);
    }

    #[test]
    fn a_fifth_of_wild_values_hardly_moves_the_mean() {
        let values: Vec<(f64, f64)> = (0..200)
            .map(|n| {
                let noise = f64::from(n * 7919 % 101) / 101.0 - 0.5;
                (if n % 5 == 0 { 40.0 } else { 2.0 + 0.1 * noise }, 0.03)
            })
            .collect();
        let found = mean(&values).unwrap();
        assert!((found.value - 2.0).abs() < 0.03, "{found:?}");
        assert!(found.error < 0.03, "{found:?}");
        assert_eq!(mean(&values[..10]).unwrap().error, f64::INFINITY);
        assert!(mean(&[]).is_none());
    }
}
