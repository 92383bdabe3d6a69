//! What is written, and what never is.

use std::path::Path;

use ringmark_tests::sample;
use serde_json::Value;

use crate::{names, program, run_in};

fn copy(folder: &Path) {
    for name in [
        "A012C003.csv",
        "B007C001.csv",
        "B007C001.mapping.toml",
        "brannvik-40.csv",
    ] {
        std::fs::copy(sample(name), folder.join(name)).unwrap();
    }
}

#[test]
fn outputs_are_replaced_only_with_force() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let run = |arguments: &str| run_in(&program, folder.path(), arguments);
    let output = folder.path().join("out.take.json");
    std::fs::write(&output, "mine").unwrap();
    let ran = run("convert samples/A012C003.csv -o {}/out.take.json");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("--force"), "{}", ran.err);
    assert_eq!(std::fs::read(&output).unwrap(), b"mine");
    assert_eq!(
        run("convert samples/A012C003.csv -o {}/out.take.json --force").status,
        0
    );
    assert!(std::fs::read(&output).unwrap().starts_with(b"{"));
    assert_eq!(names(folder.path()), ["out.take.json"]);

    let report = folder.path().join("report.json");
    std::fs::write(&report, "mine").unwrap();
    let ran = run("check samples/A012C003.csv --report json={}/report.json");
    assert_eq!(ran.status, 2);
    assert_eq!(std::fs::read(&report).unwrap(), b"mine");
    assert_eq!(
        run("check samples/A012C003.csv --report json={}/report.json --force").status,
        0
    );
}

#[test]
fn an_output_is_never_an_input() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    copy(folder.path());
    let before = std::fs::read(sample("A012C003.csv")).unwrap();
    for arguments in [
        "convert {}/A012C003.csv --to table -o {}/A012C003.csv --force",
        "convert {}/A012C003.csv --to table -o {}/../{}/A012C003.csv --force",
        "convert {}/A012C003.csv {}/B007C001.csv --to table -o {} --force",
        "check {}/A012C003.csv --report text={}/A012C003.csv --force",
    ] {
        let ran = run_in(&program, folder.path(), arguments);
        assert_eq!(ran.status, 2, "{arguments}: {}{}", ran.out, ran.err);
        assert_eq!(
            std::fs::read(folder.path().join("A012C003.csv")).unwrap(),
            before,
            "{arguments}"
        );
    }
    assert_eq!(names(folder.path()).len(), 4);
}

#[test]
fn several_inputs_go_into_a_folder_under_their_names() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let run = |arguments: &str| run_in(&program, folder.path(), arguments);
    let inputs = "samples/A012C003.csv samples/B007C001.csv samples/plates";
    let ran = run(&format!("convert {inputs} --to opentrackio"));
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("-o FOLDER"), "{}", ran.err);
    // The take and the plates are called the same: neither is written over the other.
    let ran = run(&format!("convert {inputs} --to opentrackio -o {{}}/out"));
    assert_eq!(ran.status, 2, "{}", ran.err);
    assert_eq!(
        names(&folder.path().join("out")),
        ["A012C003.jsonl", "B007C001.jsonl"]
    );

    let ran = run("convert samples/A012C003.csv samples/B007C001.csv --to take.jsonl -o {}/new");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert_eq!(
        names(&folder.path().join("new")),
        ["A012C003.take.jsonl", "B007C001.take.jsonl"]
    );
}

#[test]
fn strict_refuses_losses_and_leaves_no_file() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let run = |arguments: &str| run_in(&program, folder.path(), arguments);
    // A lens document holds no takes.
    let lossy = "convert samples/A012C003.csv --to lens.json -o {}/out.lens.json";
    let ran = run(&format!("{lossy} --strict"));
    assert_eq!(ran.status, 2, "{}", ran.err);
    assert!(ran.err.contains("--strict"), "{}", ran.err);
    assert!(ran.err.contains("lost: take A012C003"), "{}", ran.err);
    assert_eq!(names(folder.path()), Vec::<String>::new());
    assert_eq!(run(lossy).status, 0);
    assert_eq!(
        run("convert samples/A012C003.csv --strict -o {}/out.take.jsonl").status,
        0
    );
    assert_eq!(names(folder.path()), ["out.lens.json", "out.take.jsonl"]);
}

#[test]
fn losses_as_json() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let arguments = "convert samples/A012C003.csv --to opentrackio -o {}/out.jsonl --json";
    let ran = run_in(&program, folder.path(), arguments);
    assert_eq!((ran.status, ran.out.as_str()), (0, ""));
    let losses: Value = serde_json::from_str(&ran.err).unwrap();
    assert!(losses.to_string().contains("slate note"), "{losses:#}");
}

#[test]
fn a_report_into_a_file_leaves_the_screen_to_the_text() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let arguments = "check samples/faulty --report json={}/a.json --report jsonl={}/b.jsonl";
    let with_files = run_in(&program, folder.path(), arguments);
    let plain = run_in(&program, folder.path(), "check samples/faulty");
    assert_eq!(with_files.status, 1);
    assert_eq!(with_files.out, plain.out);
    assert!(plain.out.contains("error[mark-repeated]"), "{}", plain.out);
    assert_eq!(names(folder.path()), ["a.json", "b.jsonl"]);
    let both = run_in(
        &program,
        folder.path(),
        "check samples/faulty --report concise --report text={}/c",
    );
    let text = std::fs::read_to_string(folder.path().join("c")).unwrap();
    assert_eq!(text, plain.out);
    assert!(both.out.lines().count() < text.lines().count() / 3);
}

#[test]
fn nothing_is_coloured_where_no_terminal_is() {
    for (arguments, coloured) in [
        ("", false),
        ("--colour never", false),
        ("--colour always", true),
    ] {
        let ran = run_in(
            &program(),
            Path::new(""),
            &format!("check samples/faulty {arguments}"),
        );
        assert_eq!(ran.out.contains('\u{1b}'), coloured, "{arguments}");
    }
}
