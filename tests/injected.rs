//! Injected faults are found, in their frames, in every format that can carry them; clean takes raise no error or warning.
//! The same at length: `cargo run --release -p ringmark-tests --example injected-faults`.
#![allow(missing_docs, clippy::unwrap_used)]

use ringmark_tests::inject::{Formats, LENS_FAULTS, faults, run};

#[test]
fn injected_faults_are_found_where_they_are() {
    let formats = Formats::new(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let tally = run(&formats, 20_261_129, 1).unwrap();
    let (injected, found, placed) = tally.totals();
    println!("{tally}");
    assert_eq!(tally.false_alarms(), 0, "{tally}");
    assert!(
        injected >= 3 * (faults().count() + LENS_FAULTS.len()),
        "{injected} injected: formats lose too much"
    );
    assert!(
        tally.never().is_empty(),
        "never injected: {:?}",
        tally.never()
    );
    // The bar of the project, of the catalogue and of the place.
    assert!(
        found * 100 >= injected * 95,
        "{found} of {injected} found\n{:#?}",
        tally.missed()
    );
    assert!(
        placed * 100 >= injected * 95,
        "{placed} of {injected} in the right frames\n{:#?}",
        tally.missed()
    );
}

#[test]
fn the_catalogue_is_covered() {
    let injected = |check: &str| {
        faults().any(|fault| fault.check == check)
            || LENS_FAULTS.iter().any(|fault| fault.check == check)
    };
    let left: Vec<&str> = ringmark_checks::registry::all()
        .map(|check| check.info.id)
        .filter(|check| !injected(check))
        .collect();
    let elsewhere = [
        // Two records of one take side by side: tests of `check --against`.
        "records-share-no-frames",
        "records-out-of-step",
        "records-differ",
        "frames-missing-in-one-record",
        // Takes of a show against each other: their pages, and tests of `check`.
        "takes-overlap",
        "clip-repeated",
    ];
    assert_eq!(
        left, elsewhere,
        "a new check needs a fault in tests/src/inject"
    );
}
