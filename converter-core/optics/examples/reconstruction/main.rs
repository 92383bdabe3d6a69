//! How well few marks give a focus scale back, on lenses whose scale is known.
//!
//! `cargo run --release -p ringmark-optics --example reconstruction [-- FOLDER]`, with FOLDER holding traced lenses as
//! `tests/standards/traced` does, which is the default. Errors are parts of the full depth of field at full aperture,
//! circle of confusion 0.025 mm.
#![allow(missing_docs)]

mod lens;
mod measure;
mod synthetic;

use std::path::PathBuf;
use std::process::ExitCode;

use lens::Truth;
use measure::{Mark, draws, engraved_marks, even_marks, of_curve, of_pchip};

const DRAWS: usize = 100;

fn main() -> ExitCode {
    let own = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/standards/traced");
    let folder = std::env::args_os()
        .nth(1)
        .map_or_else(|| PathBuf::from(own), PathBuf::from);
    let traced = match lens::traced(&folder) {
        Ok(lenses) => lenses,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::from(2);
        }
    };
    for (title, lenses) in [
        ("traced lenses", traced),
        ("thick lenses, even drive", synthetic::even()),
        ("thick lenses, cams", synthetic::cams()),
    ] {
        println!("{title}");
        exact(&lenses);
        for error in [0.0002, 0.001, 0.003] {
            noisy(
                "12 marks, even",
                &lenses,
                |lens| even_marks(lens, 12),
                error,
            );
        }
        noisy(
            "12 marks, as engraved",
            &lenses,
            |lens| engraved_marks(lens, 12),
            0.001,
        );
        println!();
    }
    ExitCode::SUCCESS
}

fn exact(lenses: &[Truth]) {
    println!("  largest error between exact marks, even in travel; (monotone cubic in 1/d)");
    for lens in lenses {
        print!("    {:44}", lens.name);
        for count in [6, 8, 12] {
            let marks = even_marks(lens, count);
            let (curve, pchip) = (
                of_curve(lens, &marks, &marks).0,
                of_pchip(lens, &marks, &marks),
            );
            print!("  {count:2} marks {curve:.5} ({pchip:.4})");
        }
        println!();
    }
}

fn noisy(title: &str, lenses: &[Truth], marks: impl Fn(&Truth) -> Vec<Mark>, error: f64) {
    println!(
        "  {title}, reading error {} % of travel, {DRAWS} draws: median of the largest error",
        error * 100.0
    );
    for (seed, lens) in lenses.iter().enumerate() {
        let found = draws(lens, &marks(lens), error, DRAWS, seed as u64);
        println!(
            "    {:44}  curve {:.4}  monotone cubic in 1/d {:.4}  ratio {:.2}  in the 95 % band {:.1} %",
            lens.name,
            found.curve,
            found.pchip,
            found.curve / found.pchip,
            100.0 * found.covered
        );
    }
}
