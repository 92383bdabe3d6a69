#![allow(clippy::unwrap_used)]
use proptest::prelude::*;
use ringmark_model::ScaleQuantity;

use super::*;

/// Newton's equation, as in physics.md (Hecht, *Optics*, ch. 5): a thin lens of 50 mm on a helicoid of 8 mm,
/// `d = f²/e + 2f + e` in mm, infinity at 0.95.
fn metres(position: f64) -> f64 {
    let e = 8.0 * (0.95 - position);
    (2500.0 / e + 100.0 + e) / 1000.0
}

/// The same turned round.
fn position(metres: f64) -> f64 {
    let reach = 1000.0 * metres - 100.0;
    0.95 - (2.0 * 2500.0 / (reach + (reach * reach - 10_000.0).sqrt())) / 8.0
}

fn curve() -> RingCurve {
    let mut marks: Vec<(f64, f64)> = [0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.85]
        .map(|position| (position, metres(position)))
        .to_vec();
    marks.push((0.95, f64::INFINITY));
    RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks).unwrap()
}

fn printed(distances: &[f64]) -> Vec<Printed> {
    let last = (distances.len() - 1) as f64;
    let mark = |(index, &metres): (usize, &f64)| Printed {
        metres,
        position: index as f64 / last,
    };
    distances.iter().enumerate().map(mark).collect()
}

/// f/2 of a 50 mm lens and 0.025 mm, to first order: 2 N c / f², in 1/m.
fn depth(_: f64) -> Option<f64> {
    Some(2.0 * 2.0 * 0.025 / 2500.0 * 1000.0)
}

#[test]
fn targets_are_where_the_lens_focuses_at_the_printed_distance() {
    let distances = [0.5, 0.7, 1.0, 2.0, 5.0, f64::INFINITY];
    let found = Transfer::new(&curve(), &printed(&distances), depth);
    assert_eq!(found.out_of_reach(), 0);
    for (target, metres) in found.targets.iter().zip(distances) {
        let target = target.unwrap();
        let expected = if metres.is_finite() {
            position(metres)
        } else {
            0.95
        };
        assert!(
            (target.position - expected).abs() < 1e-4,
            "{metres}: {target:?}"
        );
        assert!((target.position - expected).abs() <= target.band && target.band < 0.01);
        assert!(target.low <= metres && metres <= target.high);
    }
    // The scale begins at 0.
    let share = (0.95 - position(0.5)) / 0.95;
    assert!(
        (found.travel_share - share).abs() < 1e-4,
        "{}",
        found.travel_share
    );
}

#[test]
fn marks_out_of_reach_say_why() {
    let distances = [0.3, 0.4355, 1.0, 5.0, f64::INFINITY];
    let reached = |curve: &RingCurve| -> Vec<Option<OutOfReach>> {
        let found = Transfer::new(curve, &printed(&distances), depth);
        found.targets.iter().map(|target| target.err()).collect()
    };
    // The first mark is 0.4365 m; 1 mm nearer is 0.3 % of travel before it, where the ring has its stop.
    assert_eq!(
        reached(&curve()),
        [
            Some(OutOfReach::Nearer),
            Some(OutOfReach::EndStop),
            None,
            None,
            None
        ]
    );
    let marks = [0.1, 0.3, 0.5, 0.6, 0.7].map(|position| (position, metres(position)));
    let without_infinity = RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks).unwrap();
    assert_eq!(
        reached(&without_infinity),
        [
            Some(OutOfReach::Nearer),
            Some(OutOfReach::Nearer),
            None,
            Some(OutOfReach::BeyondMarks),
            Some(OutOfReach::BeyondMarks)
        ]
    );
}

#[test]
fn nothing_in_reach_is_no_error_but_has_no_figures() {
    let found = Transfer::new(&curve(), &printed(&[0.1, 0.2, 0.3]), depth);
    assert_eq!((found.out_of_reach(), found.travel_share), (3, 0.0));
    assert_eq!((found.largest_metres, found.largest_depths), (None, None));
    let found = Transfer::new(&curve(), &printed(&[1.0, 2.0]), |_| None);
    assert!(found.largest_depths.is_none() && found.largest_metres.is_some());
}

#[test]
fn the_largest_error_between_two_marks_is_that_of_the_straight_line() {
    // Two marks: the print between them is straight in 1/d, the ring is straight in its position. Both by hand.
    let found = Transfer::new(&curve(), &printed(&[0.5, f64::INFINITY]), depth);
    let largest = found.largest_depths.unwrap();
    let mut expected = 0.0_f64;
    for step in 0..=10_000 {
        let t = f64::from(step) / 10_000.0;
        let ring = position(0.5) + t * (0.95 - position(0.5));
        let off = (2.0 * (1.0 - t) - 1.0 / metres(ring)) / depth(1.0).unwrap();
        if off.abs() > expected.abs() {
            expected = off;
        }
    }
    assert!(
        (largest.error / expected - 1.0).abs() < 0.01,
        "{largest:?} {expected}"
    );
    // Towards infinity there are no metres to tell.
    assert_eq!(found.largest_metres, None);
}

proptest! {
    #[test]
    fn the_curve_at_a_target_reads_what_is_printed(
        mut distances in prop::collection::vec(0.45..30.0_f64, 2..20),
        reversed in any::<bool>(),
    ) {
        distances.sort_by(f64::total_cmp);
        distances.dedup();
        prop_assume!(distances.len() > 1);
        if reversed {
            distances.reverse();
        }
        let curve = curve();
        let found = Transfer::new(&curve, &printed(&distances), depth);
        for (target, metres) in found.targets.iter().zip(&distances) {
            let back = curve.value_at(target.unwrap().position);
            prop_assert!((1.0 / back - 1.0 / metres).abs() < 1e-9, "{metres} {back}");
        }
        let (Some(metres), Some(depths)) = (found.largest_metres, found.largest_depths) else {
            return Err(TestCaseError::fail("no largest error"));
        };
        for largest in [metres, depths] {
            prop_assert!(largest.error.is_finite() && (0.0..=1.0).contains(&largest.position));
        }
        prop_assert!((0.0..=1.0).contains(&found.travel_share));
    }
}
