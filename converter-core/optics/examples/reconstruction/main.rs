//! How well few marks give a scale back, on rings whose scale is known.
//!
//! `cargo run --release -p ringmark-optics --example reconstruction [-- FOLDER]`, with FOLDER holding traced lenses as
//! `tests/standards/traced` does, which is the default. Errors on focus rings are parts of the full depth of field at full
//! aperture, circle of confusion 0.025 mm; on iris rings stops; on zoom rings hundredths of the focal length.
#![allow(missing_docs)]

mod bars;
mod lens;
mod measure;
mod plain;
mod synthetic;

use std::path::PathBuf;
use std::process::ExitCode;

use lens::Truth;
use measure::{Mark, draws, engraved_marks, even_marks, of_curve, of_pchip};
use ringmark_model::ScaleQuantity;

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
    let met = print_bars(&traced);
    for (title, rings) in [
        ("traced lenses", traced),
        ("lenses with an even drive", synthetic::even()),
        ("lenses with smooth cams", synthetic::cams()),
        ("lenses with two-slope drives", synthetic::bent()),
        ("iris rings, errors in stops", synthetic::irises()),
        (
            "zoom rings, errors in hundredths of the focal length",
            synthetic::zooms(),
        ),
    ] {
        println!("\n{title}");
        exact(&rings);
        println!(
            "  {DRAWS} draws of a reading error: median of the largest error, as a part of the cubic's; truth inside the 95 % band"
        );
        noisy("12 marks, even in travel", &rings, |ring| {
            even_marks(ring, 12)
        });
        if rings
            .iter()
            .all(|ring| ring.quantity == ScaleQuantity::FocusDistance)
        {
            noisy("12 marks, as engraved", &rings, |ring| {
                engraved_marks(ring, 12)
            });
        }
    }
    if met {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(1)
    }
}

fn print_bars(traced: &[Truth]) -> bool {
    println!("bars, traced lenses, {DRAWS} draws");
    let mut met = true;
    for (seed, lens) in traced.iter().enumerate() {
        for bar in bars::of_lens(lens, seed as u64, DRAWS) {
            let verdict = if bar.met() { "pass" } else { "FAIL" };
            met &= bar.met();
            println!(
                "  {verdict}  {:14} {:42} {:.5}   bar {} to {}",
                bar.lens, bar.what, bar.found, bar.least, bar.most
            );
        }
    }
    met
}

fn exact(rings: &[Truth]) {
    println!(
        "  largest error between exact marks, even in travel: lines in d / lines in 1/d / cubic / bare law / curve"
    );
    for ring in rings {
        print!("    {:50}", ring.name);
        for count in [6, 8, 12] {
            let marks = even_marks(ring, count);
            let (curve, cubic) = (
                of_curve(ring, &marks, &marks).0,
                of_pchip(ring, &marks, &marks),
            );
            if ring.quantity == ScaleQuantity::FocusDistance {
                let (far, near) = (
                    plain::straight_in_distance(ring, &marks),
                    plain::straight_in_dioptres(ring, &marks),
                );
                let law = plain::bare_law(ring, &marks, &marks);
                print!("  {count:2} marks {far:.1}/{near:.2}/{cubic:.4}/{law:.4}/{curve:.5}");
            } else {
                print!("  {count:2} marks -/-/{cubic:.4}/-/{curve:.5}");
            }
        }
        println!();
    }
}

fn noisy(title: &str, rings: &[Truth], marks: impl Fn(&Truth) -> Vec<Mark>) {
    println!("  {title}");
    let (mut worst, mut count, mut inside) = (0.0f64, 0.0, 0.0);
    for (seed, ring) in rings.iter().enumerate() {
        print!("    {:50}", ring.name);
        for error in [0.0002, 0.001, 0.003] {
            let found = draws(ring, &marks(ring), error, DRAWS, seed as u64);
            let part = found.curve / found.pchip;
            (worst, count, inside) = (worst.max(part), count + 1.0, inside + found.covered);
            print!(
                "  {:.2} %: {:.4}, {part:.2}, {:5.1} %",
                error * 100.0,
                found.curve,
                100.0 * found.covered
            );
        }
        println!();
    }
    println!(
        "    all: worst part {worst:.2}, inside the band {:.1} %",
        100.0 * inside / count
    );
}
