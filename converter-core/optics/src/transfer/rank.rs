//! Which ring fits a lens best.

use super::fit::Transfer;

/// Rings that use this much less of the travel than the best are as good: nobody chooses a ring for a few per cent.
const SAME_SHARE: f64 = 0.05;

/// Indices of the rings, the best first: fewest marks out of reach; then the most travel of the lens used; among those
/// within 5 % of it, the smallest largest error, in depths of field where they are known, else in metres. Ties keep
/// their order. What comes before what is a choice of this program: a mark that the lens does not reach is worst.
pub fn ranked(transfers: &[Transfer]) -> Vec<usize> {
    let mut left: Vec<(usize, &Transfer)> = transfers.iter().enumerate().collect();
    left.sort_by(|(_, a), (_, b)| {
        (a.out_of_reach().cmp(&b.out_of_reach())).then(b.travel_share.total_cmp(&a.travel_share))
    });
    let mut order = Vec::with_capacity(left.len());
    while let Some((_, best)) = left.first() {
        let as_good = |ring: &Transfer| {
            ring.out_of_reach() == best.out_of_reach()
                && ring.travel_share >= best.travel_share - SAME_SHARE
        };
        let least = left
            .iter()
            .enumerate()
            .filter(|(_, (_, ring))| as_good(ring))
            .min_by(|(_, (i, a)), (_, (j, b))| error(a).total_cmp(&error(b)).then(i.cmp(j)));
        let Some((place, (index, _))) = least else {
            break;
        };
        order.push(*index);
        left.remove(place);
    }
    order
}

fn error(transfer: &Transfer) -> f64 {
    let largest = transfer.largest_depths.or(transfer.largest_metres);
    largest.map_or(f64::INFINITY, |largest| largest.error.abs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::transfer::{Largest, OutOfReach};

    fn ring(out_of_reach: usize, travel_share: f64, error: f64) -> Transfer {
        Transfer {
            targets: vec![Err(OutOfReach::Nearer); out_of_reach],
            travel_share,
            largest_metres: None,
            largest_depths: error.is_finite().then_some(Largest {
                error,
                metres: 1.0,
                position: 0.5,
            }),
        }
    }

    #[test]
    fn reach_comes_before_travel_and_travel_before_error() {
        let rings = [
            ring(0, 0.70, 0.01),
            ring(1, 1.00, 0.01),
            ring(0, 0.97, -0.30),
            ring(0, 0.99, 0.20),
            ring(0, 0.98, f64::INFINITY),
        ];
        assert_eq!(ranked(&rings), [3, 2, 4, 0, 1]);
        assert!(ranked(&[]).is_empty());
    }
}
