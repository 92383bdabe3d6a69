//! Rangefinder takes with known truth: ray-traced lenses (`tests/standards/traced`, computed with optiland, PyPI) give ring and
//! distance, the rest is simulated here: subjects, an offset, a lag, noise, dropouts, a slipped ring.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::simulate::{Lens, Scene, take};
use ringmark_optics::reconcile::{Agreement, OutOfFocus, Reconciler};
use ringmark_optics::{CircleOfConfusion, reconcile::LagUnknown};

const LENSES: [&str; 3] = ["unit-50", "internal-85", "unit-25"];

fn circle() -> CircleOfConfusion {
    CircleOfConfusion::from_mm(0.025).unwrap()
}

/// All of a take, its frames out of focus and what it says as a whole.
fn judged(lens: &Lens, scene: &Scene, seed: u64) -> (Vec<OutOfFocus>, Agreement) {
    let mut reconciler = Reconciler::new(lens.curve(), circle(), scene.offset_is_known, 1.0);
    let mut out = Vec::new();
    for frame in take(lens, scene, seed) {
        reconciler.push(frame);
        if reconciler.is_due() {
            out.extend(reconciler.settle(false));
        }
    }
    out.extend(reconciler.settle(true));
    (out, reconciler.agreement())
}

#[test]
fn the_lag_is_found_and_its_interval_holds() {
    let (mut held, mut all, mut worst) = (0, 0, 0.0_f64);
    for name in LENSES {
        let lens = Lens::traced(name);
        for (seed, lag) in (0..20).zip([3.4, 0.0, -2.3, 7.75, 12.5].iter().cycle()) {
            let scene = Scene {
                lag: *lag,
                noise: 0.01,
                dropouts: 0.05,
                ..Scene::default()
            };
            let (_, agreement) = judged(&lens, &scene, seed);
            let found = agreement.lag.unwrap();
            all += 1;
            held += usize::from((found.frames - lag).abs() <= found.error);
            worst = worst.max((found.frames - lag).abs());
        }
    }
    println!("lag: {held} of {all} in their interval, worst {worst:.3} frames off");
    assert!(worst < 0.75, "{worst}");
    assert!(held * 100 >= all * 88, "{held} of {all}");
}

#[test]
fn clean_takes_are_clean() {
    for name in LENSES {
        let lens = Lens::traced(name);
        for seed in 0..20 {
            let scene = Scene {
                lag: 3.4,
                noise: 0.01,
                dropouts: 0.05,
                frames: 900,
                ..Scene::default()
            };
            let (out, agreement) = judged(&lens, &scene, seed);
            // Two dropouts in a row outlast the median; what is shorter than a quarter of a second is no finding.
            assert!(out.len() < 6, "{name} {seed}: {out:?}");
            assert!(!agreement.distance_explains, "{name} {seed}: {agreement:?}");
        }
    }
}

#[test]
fn a_take_in_which_nothing_moves_has_no_lag() {
    let lens = Lens::traced("unit-50");
    let scene = Scene {
        still: true,
        noise: 0.01,
        ..Scene::default()
    };
    let (out, agreement) = judged(&lens, &scene, 1);
    assert!(
        matches!(agreement.lag, Err(LagUnknown::TooLittleMotion { .. })),
        "{agreement:?}"
    );
    assert!(out.is_empty());
    let unlike = Scene {
        other_subject: true,
        ..Scene::default()
    };
    let (_, agreement) = judged(&lens, &unlike, 1);
    assert!(
        matches!(agreement.lag, Err(LagUnknown::Unlike { .. })),
        "{agreement:?}"
    );
}

#[test]
fn an_offset_that_is_missing_is_found() {
    for name in LENSES {
        let lens = Lens::traced(name);
        for (seed, missing) in (0..12).zip([0.118, 0.25, -0.08].iter().cycle()) {
            let scene = Scene {
                lag: 3.4,
                noise: 0.01,
                dropouts: 0.05,
                offset: *missing,
                offset_is_known: true,
                frames: 1200,
                ..Scene::default()
            };
            let (_, agreement) = judged(&lens, &scene, seed);
            let found = agreement.distance.unwrap();
            assert!(
                (found.metres - missing).abs() < 0.012,
                "{name} {missing}: {agreement:?}"
            );
            // A wide lens stopped down takes it for nothing.
            assert!(
                agreement.distance_explains || agreement.typical < 0.5,
                "{name} {missing}: {agreement:?}"
            );
        }
    }
}

#[test]
fn a_slipped_ring_is_no_distance_offset() {
    for name in LENSES {
        let lens = Lens::traced(name);
        let mut held = 0;
        for seed in 0..12 {
            let scene = Scene {
                lag: 3.4,
                noise: 0.01,
                dropouts: 0.05,
                slip: 0.012,
                frames: 1200,
                ..Scene::default()
            };
            let (_, agreement) = judged(&lens, &scene, seed);
            let found = agreement.ring.unwrap();
            assert!(
                (found.travel - 0.012).abs() < 0.0015,
                "{name}: {agreement:?}"
            );
            assert!(!agreement.distance_explains, "{name}: {agreement:?}");
            held += usize::from((found.travel - 0.012).abs() <= found.error);
        }
        assert!(held >= 9, "{name}: {held} of 12");
    }
}

#[test]
fn frames_out_of_focus_are_found_to_the_frame() {
    let lens = Lens::traced("internal-85");
    let mut unsure = 0;
    // Missing readings at an end hide it, by half a median at most.
    for (seed, (dropouts, off)) in (0..20).zip([(0.0, 2), (0.05, 6)].iter().cycle()) {
        let missed = Some((300..420, 3.0));
        let scene = Scene {
            lag: 3.4,
            noise: 0.003,
            dropouts: *dropouts,
            missed,
            frames: 900,
            ..Scene::default()
        };
        let (out, agreement) = judged(&lens, &scene, seed);
        // Where focus falls back in the middle of slow pulls, several lags fit; motion is then not judged.
        let Ok(lag) = agreement.lag else {
            unsure += 1;
            continue;
        };
        // What focus does alone, as it falls back and catches up, does not pull the lag.
        assert!(
            (lag.frames - 3.4).abs() < lag.error.min(0.25),
            "{seed}: {lag:?}"
        );
        let (first, last) = (out.first().unwrap().frame, out.last().unwrap().frame);
        assert!(
            first.abs_diff(300) <= *off && last.abs_diff(419) <= *off,
            "{seed}: {first} {last} {lag:?}"
        );
        // Three depths at infinity are a little more up close, seen from the pupil.
        let mut depths: Vec<f64> = out.iter().map(|frame| frame.depths).collect();
        depths.sort_by(f64::total_cmp);
        let median = depths[depths.len() / 2];
        assert!(
            out.len() >= 105 && (2.8..3.9).contains(&median),
            "{} {median}",
            out.len()
        );
    }
    assert!(unsure <= 1, "{unsure} of 20");
}

#[test]
fn blocks_do_not_show() {
    let lens = Lens::traced("unit-50");
    let missed = Some((8_100..8_300, 4.0));
    let scene = Scene {
        lag: 3.4,
        noise: 0.003,
        missed,
        frames: 30_000,
        ..Scene::default()
    };
    let (out, agreement) = judged(&lens, &scene, 3);
    let (first, last) = (out.first().unwrap().frame, out.last().unwrap().frame);
    assert!(
        first.abs_diff(8_100) <= 2 && last.abs_diff(8_299) <= 2 && out.len() > 195,
        "{first} {last}"
    );
    assert!(
        (agreement.lag.unwrap().frames - 3.4).abs() < 0.1,
        "{agreement:?}"
    );
    assert!(agreement.frames > 28_000);
}
