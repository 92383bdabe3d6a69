//! Injects the faults of the catalogue into clean takes of all bundled formats, and prints what the checks find.
//!
//! `cargo run --release -p ringmark-tests --example injected-faults [-- ROUNDS [SEED]]`
#![allow(missing_docs)]

use std::path::Path;

use anyhow::{Context, Result};
use ringmark_tests::inject::{Formats, run};
use ringmark_tests::root;

fn main() -> Result<()> {
    let mut args = std::env::args().skip(1);
    let mut number = |default: u64| -> Result<u64> {
        match args.next() {
            Some(text) => text
                .parse()
                .with_context(|| format!("'{text}' is no number: injected-faults [ROUNDS [SEED]]")),
            None => Ok(default),
        }
    };
    let (rounds, seed) = (number(10)?, number(1)?);
    // Compiled plugins are kept where tests keep them, apart from those of a person.
    let kept =
        std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root().join("target"), Into::into);
    let formats = Formats::new(&Path::new(&kept).join("tmp").to_string_lossy())?;
    let tally = run(&formats, seed, rounds)?;
    println!("{rounds} rounds, seed {seed}.\n\n{tally}");
    if !tally.missed().is_empty() {
        println!("\nMissed or misplaced:");
        tally.missed().iter().for_each(|line| println!("  {line}"));
    }
    Ok(())
}
