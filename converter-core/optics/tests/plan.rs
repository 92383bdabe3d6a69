//! Planned marks on traced lenses, whose scale is known: they are worth more than evenly spread ones.
#![allow(clippy::unwrap_used, missing_docs, dead_code)]

#[path = "../examples/plan/known.rs"]
mod known;
#[path = "../examples/reconstruction/lens.rs"]
mod lens;
#[path = "../examples/reconstruction/measure.rs"]
mod measure;

use std::path::Path;

use known::{Known, even, fixed, spread};
use ringmark_optics::plan::Goal;

#[test]
fn twelve_planned_marks_leave_less_error_than_twelve_evenly_spread() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/standards/traced");
    let lenses = lens::traced(Path::new(folder)).unwrap();
    assert_eq!(lenses.len(), 4);
    for truth in lenses {
        let lens = Known::named(truth).unwrap();
        let planned = lens.planned(&[], Goal::Marks(12));
        let found = fixed(&lens, &planned, 60, 0);
        // On unit-50 marks even in the logarithm are as good.
        for (how, others, most) in [
            ("1/distance", even(lens.near, 12), 0.95),
            ("the logarithm of distance", spread(lens.near, 12), 1.02),
        ] {
            let other = fixed(&lens, &others, 60, 0);
            let name = &lens.truth.name;
            assert!(
                found < most * other,
                "{name}: {found:.4} planned, {other:.4} even in {how}"
            );
        }
    }
}
