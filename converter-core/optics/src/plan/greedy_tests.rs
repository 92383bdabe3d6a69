#![allow(clippy::unwrap_used)]
use proptest::prelude::*;

use super::*;

/// Newton's equation for a thin lens of 50 mm and 7 mm of drive, infinity at 0.95, close focus 0.464 m at 0.
fn metres(position: f64) -> f64 {
    let e = 7.0 * (1.0 - position / 0.95);
    match e > 0.0 {
        true => (2500.0 / e + 100.0 + e) / 1000.0,
        false => f64::INFINITY,
    }
}

fn marks(positions: &[f64]) -> Vec<(f64, f64)> {
    positions.iter().map(|p| (*p, metres(*p))).collect()
}

/// 2 N c / f² of f/2 and 0.025 mm.
fn depth(_: f64) -> Option<f64> {
    Some(0.04)
}

fn bench() -> Bench<'static> {
    Bench {
        near: metres(0.0),
        focal_length: Some(0.05),
        depth: &depth,
    }
}

const ROUND: [f64; 14] = [
    0.3, 0.5, 0.6, 0.7, 0.8, 1.0, 1.2, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0, 20.0,
];

#[test]
fn from_nothing_the_ends_come_first_and_no_position_is_claimed() {
    let found = plan(&bench(), &[], &ROUND, Goal::Marks(8));
    assert_eq!((found.now, found.reading_error), (None, 1e-3));
    let distances: Vec<f64> = found.marks.iter().map(|mark| mark.metres).collect();
    assert_eq!(distances[..2], [metres(0.0), f64::INFINITY]);
    assert_eq!(distances.len(), 8);
    for (index, distance) in distances.iter().enumerate() {
        assert!(*distance >= metres(0.0) && !distances[..index].contains(distance));
    }
    assert!(found.marks.iter().all(|mark| mark.position.is_none()));
    // One mark is no scale.
    assert_eq!(
        plan(&bench(), &marks(&[0.4]), &ROUND, Goal::Marks(8)),
        found
    );
}

#[test]
fn marks_that_are_missing_at_the_ends_are_asked_for_where_they_are_expected() {
    let found = plan(
        &bench(),
        &marks(&[0.2, 0.4, 0.6, 0.8]),
        &ROUND,
        Goal::Marks(3),
    );
    let now = found.now.unwrap();
    assert_eq!((now.depths, now.metres), (f64::INFINITY, metres(0.0)));
    assert_eq!(found.marks[0].metres, metres(0.0));
    assert_eq!(found.marks[0].position, Some(0.0));
    assert_eq!(found.marks[1].metres, f64::INFINITY);
    assert!((found.marks[1].position.unwrap() - 0.95).abs() < 2e-3);
    assert!(found.marks[2].after.depths.is_finite());
    // The same with the scale the other way round.
    let turned: Vec<_> = marks(&[0.2, 0.4, 0.6, 0.8])
        .iter()
        .map(|(p, d)| (1.0 - p, *d))
        .collect();
    assert_eq!(
        plan(&bench(), &turned, &ROUND, Goal::Marks(1)).marks[0].position,
        Some(1.0)
    );
}

#[test]
fn a_scale_that_is_good_enough_needs_nothing() {
    let good = marks(&[0.0, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95]);
    let found = plan(&bench(), &good, &ROUND, Goal::Depths(0.25));
    assert!(found.marks.is_empty() && found.now.unwrap().depths < 0.25);
    assert_eq!(plan(&bench(), &good, &ROUND, Goal::Marks(0)).marks, []);
}

#[test]
fn planning_ends_at_the_target_and_where_no_place_is_left() {
    let few = marks(&[0.0, 0.5, 0.95]);
    let now = plan(&bench(), &few, &ROUND, Goal::Marks(0)).now.unwrap();
    let target = now.depths / 4.0;
    let found = plan(&bench(), &few, &ROUND, Goal::Depths(target));
    let (last, before) = found.marks.split_last().unwrap();
    assert!(last.after.depths <= target);
    assert!(before.iter().all(|mark| mark.after.depths > target));
    let found = plan(&bench(), &few, &[1.0, 2.0], Goal::Depths(0.0));
    assert_eq!(found.marks.len(), 2);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]
    #[test]
    fn planned_marks_are_apart_on_the_scale_and_finite(
        noise in prop::collection::vec(-1e-3..1e-3_f64, 5),
        count in 1..5_usize,
    ) {
        let taken: Vec<(f64, f64)> = [0.0, 0.25, 0.5, 0.75, 0.95]
            .iter()
            .zip(noise)
            .map(|(p, off)| (p + off, metres(*p)))
            .collect();
        let found = plan(&bench(), &taken, &ROUND, Goal::Marks(count));
        let mut positions: Vec<f64> = taken.iter().map(|mark| mark.0).collect();
        for mark in &found.marks {
            let position = mark.position.unwrap();
            prop_assert!(positions.iter().all(|p| (p - position).abs() >= APART));
            prop_assert!((0.0..=1.0).contains(&position) && mark.after.depths >= 0.0);
            positions.push(position);
        }
    }
}
