//! The program as a person or a script meets it.
#![allow(missing_docs, clippy::unwrap_used)]

mod against;
mod batch;
mod changed_only;
mod derived;
mod disks;
mod faults;
mod frames;
mod inputs;
mod integration;
mod lens_tables;
mod outputs;
mod plan;
mod plugin;
mod profile;
mod reports;
mod scales;
mod st_map;
mod takes;
mod text;
mod transfer;

use std::path::Path;

use ringmark_tests::{Program, Ran};

fn program() -> Program {
    Program::new(
        env!("CARGO_BIN_EXE_ringmark-under-test"),
        env!("CARGO_TARGET_TMPDIR"),
    )
    .unwrap()
}

/// Runs the program from the top of the repository; `{}` in an argument is `folder`.
fn run_in(program: &Program, folder: &Path, arguments: &str) -> Ran {
    let folder = folder.to_str().unwrap();
    program
        .run(
            arguments
                .split_whitespace()
                .map(|word| word.replace("{}", folder)),
        )
        .unwrap()
}

fn run(arguments: &str) -> Ran {
    run_in(&program(), Path::new(""), arguments)
}

/// Names of all files in a folder, hidden ones too.
fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}
