//! Many files in one run: named by lists and patterns, checked on all cores, told in order, ended early.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use ringmark_tests::{Ran, ran, root, sample};
use serde_json::Value;

use crate::{names, program, run_in};

/// A folder of takes: clean ones, faulty ones, broken ones, and a calibration that fits some of them.
pub fn cards(count: usize) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for number in 0..count {
        let name = folder.path().join(format!("{number:04}.csv"));
        match number % 5 {
            0 => std::fs::copy(sample("A012C003.csv"), name).map(drop),
            1 => std::fs::copy(sample("faulty/A013C001.csv"), name).map(drop),
            2 => std::fs::write(name, "# document: take\nframe,T-stop\n1,wide\n"),
            // One is enough: weighing what may be wrong with marks takes long.
            3 if number == 3 => {
                // Another lens than that of the takes, which may stand beside them.
                let lens = std::fs::read_to_string(sample("faulty/brannvik-40.csv")).unwrap();
                std::fs::write(name, lens.replace("BV40-0117", "BV40-0999"))
            }
            _ => std::fs::copy(sample("A014C002.csv"), name).map(drop),
        }
        .unwrap();
    }
    std::fs::copy(sample("orrin-28-76.csv"), folder.path().join("lens.csv")).unwrap();
    folder
}

/// What was said on standard error but for how far the run was, which a slow machine adds.
pub fn without_progress(err: &str) -> String {
    let lines = err.lines().filter(|line| !line.contains(" files/s"));
    lines.map(|line| format!("{line}\n")).collect()
}

#[test]
fn the_number_of_jobs_changes_nothing_that_is_told() {
    let (program, folder) = (program(), cards(60));
    let run = |jobs: usize| {
        let out = tempfile::tempdir().unwrap();
        let reports = ["json", "jsonl", "concise"]
            .map(|kind| format!("--report {kind}={}/{kind}", out.path().display()));
        let arguments = format!("check {{}} --jobs {jobs} {}", reports.join(" "));
        let ran = run_in(&program, folder.path(), &arguments);
        assert_eq!(ran.status, 2, "{}", ran.err);
        let files: Vec<Vec<u8>> = names(out.path())
            .iter()
            .map(|name| std::fs::read(out.path().join(name)).unwrap())
            .collect();
        assert_eq!(files.len(), 3);
        (ran.out, without_progress(&ran.err), files)
    };
    let one = run(1);
    assert!(one.0.contains("12 files not finished"), "{}", one.0);
    for jobs in [2, 3, 16] {
        assert!(run(jobs) == one, "{jobs} jobs say something else");
    }
}

#[test]
fn a_list_names_inputs_and_what_is_gone_does_not_stop_the_rest() {
    let (program, folder) = (program(), cards(3));
    let list = "# day 12\n{}/0000.csv\r\n\n{}/gone.csv\n{}/000[2-4].csv\n";
    let list = list.replace("{}", folder.path().to_str().unwrap());
    std::fs::write(folder.path().join("day.list"), &list).unwrap();
    let ran = run_in(
        &program,
        folder.path(),
        "check --list {}/day.list --report concise",
    );
    assert_eq!(ran.status, 2);
    assert!(
        ran.out.contains("gone.csv: error: no such file"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("0002.csv:3:3: error: "), "{}", ran.out);
    assert!(
        ran.out
            .ends_with("2 files not finished; no findings in 3 files (1 clean)\n"),
        "{}",
        ran.out
    );

    // The same list on standard input, beside an input of its own.
    let mut child = program.command();
    let input = folder.path().join("0001.csv");
    let child = child
        .args(["check", "--list", "-", "--report", "concise"])
        .arg(input);
    let mut child = child
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child
        .stdin
        .take()
        .unwrap()
        .write_all(list.as_bytes())
        .unwrap();
    let piped = self::ran(child.wait_with_output().unwrap());
    assert!(
        piped.out.contains("2 files not finished; ") && piped.out.contains(" in 4 files"),
        "{}",
        piped.out
    );

    std::fs::write(folder.path().join("empty.list"), "# nothing\n").unwrap();
    for (arguments, said) in [
        ("check --list {}/empty.list", "names no input"),
        ("check --list {}/none.list", "cannot read the list"),
        ("check - --list -", "both the list and an input"),
        ("check", "INPUT"),
    ] {
        let ran = run_in(&program, folder.path(), arguments);
        assert_eq!((ran.status, ran.out.as_str()), (2, ""), "{arguments}");
        assert!(ran.err.contains(said), "{arguments}: {}", ran.err);
    }
}

#[test]
fn what_folders_hold_beside_takes_is_said_and_with_quiet_not() {
    let (program, folder) = (program(), cards(1));
    for name in ["notes.txt", "a.mov", "b.mov", "c.mov", ".hidden"] {
        std::fs::write(folder.path().join(name), "x").unwrap();
    }
    let ran = run_in(&program, folder.path(), "check {}");
    assert_eq!(ran.status, 0, "{}", ran.out);
    assert!(
        ran.err
            .starts_with("passed over: 4 files in no format that is read (")
            && ran.err.contains("/a.mov, ")
            && ran.err.ends_with(", …), 1 hidden name\n"),
        "{}",
        ran.err
    );
    let quiet = run_in(&program, folder.path(), "check {} -q");
    assert_eq!((quiet.status, quiet.err.as_str()), (0, ""));
}

/// So that a machine with many cores is not done before a signal arrives.
#[cfg(unix)]
const FEW: &[&str] = &["--jobs", "2"];

/// A run whose first finding has been told, with its reports in `out`.
#[cfg(unix)]
fn begun(
    folder: &Path,
    out: &Path,
    more: &[&str],
) -> (Child, BufReader<std::process::ChildStdout>) {
    let program = program();
    let mut child = program
        .command()
        .arg("check")
        .arg(folder)
        .args(["--report", "concise", "--report"])
        .arg(format!("json={}/report.json", out.display()))
        .args(more)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap());
    let mut line = String::new();
    lines.read_line(&mut line).unwrap();
    assert!(line.contains("/0001.csv:"), "{line}");
    (child, lines)
}

#[cfg(unix)]
fn signal(child: &Child, name: &str) {
    let done = Command::new("kill")
        .args([format!("-{name}"), child.id().to_string()])
        .status();
    assert!(done.unwrap().success());
}

/// What the run said after its first line.
#[cfg(unix)]
fn rest(mut child: Child, lines: BufReader<std::process::ChildStdout>) -> Ran {
    let errors = BufReader::new(child.stderr.take().unwrap());
    ended(child, lines, errors)
}

/// The same, with standard error read up to here.
#[cfg(unix)]
fn ended(
    mut child: Child,
    lines: BufReader<std::process::ChildStdout>,
    errors: BufReader<std::process::ChildStderr>,
) -> Ran {
    // Both ends are read at once, else a full pipe would stop the program.
    let errors = std::thread::spawn(move || std::io::read_to_string(errors).unwrap());
    let out = std::io::read_to_string(lines).unwrap();
    let status = child.wait().unwrap().code().unwrap_or(-1);
    let err = errors.join().unwrap();
    Ran { status, out, err }
}

fn is_valid(report: &Value) -> bool {
    let schema = std::fs::read_to_string(root().join("schemas/findings.schema.json")).unwrap();
    let schema = serde_json::from_str(&schema).unwrap();
    jsonschema::validator_for(&schema).unwrap().is_valid(report)
}

#[cfg(unix)]
#[test]
fn an_interrupted_run_reports_what_is_done_so_far() {
    for name in ["INT", "TERM"] {
        let (folder, out) = (cards(400), tempfile::tempdir().unwrap());
        let (child, lines) = begun(folder.path(), out.path(), FEW);
        signal(&child, name);
        let ran = rest(child, lines);
        assert_eq!(ran.status, 2, "{}", ran.err);
        assert!(ran.err.contains("ringmark: ending; "), "{}", ran.err);
        let last = ran.out.lines().last().unwrap();
        assert!(
            last.starts_with("interrupted: ") && last.contains(" of 401 inputs checked; "),
            "{last}"
        );
        let report = std::fs::read(out.path().join("report.json")).unwrap();
        let report: Value = serde_json::from_slice(&report).unwrap();
        assert!(is_valid(&report));
        let inputs = report["inputs"].as_array().unwrap();
        let checked = report["interrupted"]["checked"].as_u64().unwrap();
        assert_eq!(report["interrupted"]["of"], 401);
        assert!(
            (1..400).contains(&checked) && inputs.len() as u64 == checked,
            "{checked}"
        );
        // No hole: those that were checked are the first.
        for (number, input) in inputs.iter().enumerate() {
            let file = input["file"].as_str().unwrap();
            assert!(file.ends_with(&format!("/{number:04}.csv")), "{file}");
        }
        assert_eq!(names(out.path()), ["report.json"]);
    }
}

#[cfg(unix)]
#[test]
fn files_that_vanish_while_others_are_checked_are_failures_of_their_own() {
    let (folder, out) = (cards(400), tempfile::tempdir().unwrap());
    let (child, lines) = begun(folder.path(), out.path(), FEW);
    std::fs::remove_file(folder.path().join("0399.csv")).unwrap();
    let ran = rest(child, lines);
    assert_eq!(ran.status, 2);
    let report = std::fs::read(out.path().join("report.json")).unwrap();
    let report: Value = serde_json::from_slice(&report).unwrap();
    let inputs = report["inputs"].as_array().unwrap();
    assert_eq!((inputs.len(), report.get("interrupted")), (401, None));
    let gone = &inputs[399];
    assert_eq!(gone["status"], "failed");
    assert!(
        gone["error"].as_str().unwrap().contains("No such file"),
        "{gone}"
    );
    assert_eq!(inputs[400]["status"], "clean");
}

#[cfg(unix)]
#[test]
fn the_second_interrupt_gives_up_a_long_take_too() {
    let folder = cards(2);
    // So long that no machine comes to its end before the second signal.
    let ring: String = (0..10_000).map(|n| format!("0.{n:04}\n")).collect();
    let long = String::from("# document: take\n# frame rate: 24\nfocus ring [0..1]\n")
        + &ring.repeat(1_000);
    std::fs::write(folder.path().join("0002.csv"), long).unwrap();
    let out = tempfile::tempdir().unwrap();
    let (mut child, lines) = begun(folder.path(), out.path(), &["--jobs", "1"]);
    // The long take has begun by then.
    std::thread::sleep(std::time::Duration::from_millis(500));
    signal(&child, "INT");
    // The second one comes as soon as the first is answered: on a busy machine any time that is waited is too long or too short.
    let mut errors = BufReader::new(child.stderr.take().unwrap());
    let mut told = String::new();
    while !told.contains("once more gives it up") {
        assert!(errors.read_line(&mut told).unwrap() > 0, "{told}");
    }
    signal(&child, "INT");
    let ran = ended(child, lines, errors);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("giving up"), "{}", ran.err);
    assert!(
        ran.out.contains("interrupted: 2 of 4 inputs checked; "),
        "{}",
        ran.out
    );
}
