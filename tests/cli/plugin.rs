//! Adding, listing and removing plugins, and what happens when their files change.

use std::path::{Path, PathBuf};

use ringmark_tests::{Program, root};

use crate::{names, program, run_in};

/// A stranger's plugin: the bundled one for tables under a name of its own.
fn ledge(folder: &Path) -> PathBuf {
    let wasm = std::fs::read(root().join("plugins/bundled/table.wasm")).unwrap();
    let (name, other) = (br#""name": "table""#, br#""name": "ledge""#);
    let at = wasm.windows(name.len()).position(|w| w == name).unwrap();
    let path = folder.join("ledge.wasm");
    let wasm = [&wasm[..at], other.as_slice(), &wasm[at + name.len()..]].concat();
    std::fs::write(&path, wasm).unwrap();
    path
}

fn added(folder: &Path) -> Program {
    let program = program();
    ledge(folder);
    let ran = run_in(&program, folder, "plugin add {}/ledge.wasm");
    assert_eq!(ran.status, 0, "{}", ran.err);
    for said in [
        "ledge 0.1.0: delimited text",
        "reads and writes .csv",
        "sha256 ",
        "stored as ",
    ] {
        assert!(ran.out.contains(said), "{}", ran.out);
    }
    program
}

#[test]
fn an_added_plugin_works_until_it_is_removed() {
    let folder = tempfile::tempdir().unwrap();
    let program = added(folder.path());
    let run = |arguments: &str| run_in(&program, folder.path(), arguments);
    assert!(
        run("plugin list")
            .out
            .contains("ledge 0.1.0 (added) sha256 ")
    );
    assert!(run("formats").out.contains("\nledge "));

    let ran = run("plugin add {}/ledge.wasm");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("--force"), "{}", ran.err);
    assert_eq!(run("plugin add {}/ledge.wasm --force").status, 0);

    let ran = run("convert samples/A012C003.csv --from ledge --to ledge");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(
        ran.out.starts_with("# document: take\n# clip: A012C003\n"),
        "{}",
        ran.out
    );
    // Two that are equally sure: the person decides.
    let ran = run("check samples/A012C003.csv");
    assert_eq!(ran.status, 2);
    assert!(
        ran.out.contains("table and ledge both claim"),
        "{}",
        ran.out
    );
    assert_eq!(run("check samples/A012C003.csv --from table").status, 0);

    assert_eq!(run("plugin remove ledge").status, 0);
    assert_eq!(run("check samples/A012C003.csv").status, 0);
    assert_eq!(
        names(&program.config().join("plugins")),
        Vec::<String>::new()
    );
    let ran = run("plugin remove ledge");
    assert_eq!(ran.status, 2);
    assert!(
        ran.err.contains("no plugin 'ledge' was added"),
        "{}",
        ran.err
    );
}

#[test]
fn a_changed_file_is_not_run() {
    let folder = tempfile::tempdir().unwrap();
    let program = added(folder.path());
    let stored = program.config().join("plugins");
    let stored = stored.join(&names(&stored)[0]);
    let mut wasm = std::fs::read(&stored).unwrap();
    wasm.push(0);
    std::fs::write(&stored, wasm).unwrap();
    let ran = run_in(
        &program,
        folder.path(),
        "convert samples/A012C003.csv --from ledge --to take.jsonl",
    );
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("'ledge' has changed"), "{}", ran.err);
    assert!(
        ran.err.contains("ringmark plugin add"),
        "what to do is missing: {}",
        ran.err
    );
    // The others go on.
    assert_eq!(
        run_in(
            &program,
            folder.path(),
            "check samples/A012C003.csv --from table"
        )
        .status,
        0
    );
}

#[test]
fn names_of_bundled_formats_and_damaged_files_are_refused() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let wasm = std::fs::read(ledge(folder.path())).unwrap();
    std::fs::write(folder.path().join("cut.wasm"), &wasm[..wasm.len() / 2]).unwrap();
    std::fs::write(folder.path().join("empty.wasm"), "").unwrap();
    // A core module, no component.
    std::fs::write(folder.path().join("module.wasm"), b"\0asm\x01\0\0\0").unwrap();
    for (file, says) in [
        (
            "plugins/bundled/openexr.wasm",
            "'openexr' is the name of a bundled format",
        ),
        ("{}/cut.wasm", "cannot be used"),
        ("{}/empty.wasm", "cannot be used"),
        ("{}/module.wasm", "cannot be used"),
        ("README.md", "no WebAssembly component"),
        ("{}/absent.wasm", "cannot read"),
    ] {
        let ran = run_in(&program, folder.path(), &format!("plugin add {file}"));
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{file}");
        assert!(ran.err.contains(says), "{file}: {}", ran.err);
    }
    let listed = run_in(&program, folder.path(), "plugin list").out;
    let bundled = ringmark_tests::direct::bundled_entries().unwrap().len();
    assert_eq!(listed.lines().count(), bundled, "{listed}");
    assert!(
        listed.lines().all(|line| line.contains("(bundled)")),
        "{listed}"
    );
    assert_eq!(names(program.config()), Vec::<String>::new());
}
