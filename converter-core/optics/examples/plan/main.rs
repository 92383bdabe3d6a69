//! Whether planned marks are better than evenly spread ones, on traced lenses whose scale is known.
//!
//! `cargo run --release -p ringmark-optics --example plan [-- FOLDER]`. Marks are read with an error of 0.1 % of travel; the
//! figure is the median over draws of the largest true error between close focus and infinity, in full depths of field at
//! full aperture, circle of confusion 0.025 mm. Columns: even in 1/distance, in the logarithm of distance, in distance;
//! planned before anything is read; planned from four marks, even in 1/distance, as they were read.
#![allow(missing_docs, dead_code)]

mod known;
#[path = "../reconstruction/lens.rs"]
mod lens;
#[path = "../reconstruction/measure.rs"]
mod measure;

use std::path::PathBuf;
use std::process::ExitCode;

use known::{Known, adaptive, even, fixed, metres, spread};
use ringmark_optics::plan::Goal;

const DRAWS: usize = 100;

fn main() -> ExitCode {
    let own = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/standards/traced");
    let folder = std::env::args_os()
        .nth(1)
        .map_or_else(|| PathBuf::from(own), PathBuf::from);
    let lenses = match lens::traced(&folder) {
        Ok(lenses) => lenses,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::from(2);
        }
    };
    println!(
        "{:14} {:>5}  {:>8} {:>8} {:>8} {:>8} {:>8}",
        "lens", "marks", "1/d", "log d", "d", "planned", "adaptive"
    );
    for (seed, truth) in lenses.into_iter().enumerate() {
        let Some(lens) = Known::named(truth) else {
            continue;
        };
        for count in [6, 8, 10, 12] {
            let seed = seed as u64;
            let from_nothing = lens.planned(&[], Goal::Marks(count));
            println!(
                "{:14} {count:5}  {:8.4} {:8.4} {:8.4} {:8.4} {:8.4}  {:?}",
                lens.truth.name,
                fixed(&lens, &even(lens.near, count), DRAWS, seed),
                fixed(&lens, &spread(lens.near, count), DRAWS, seed),
                fixed(&lens, &metres(lens.near, count), DRAWS, seed),
                fixed(&lens, &from_nothing, DRAWS, seed),
                adaptive(&lens, &even(lens.near, 4), count, DRAWS, seed),
                from_nothing
            );
        }
    }
    ExitCode::SUCCESS
}
