//! Exit statuses, completions, man pages, and the examples under samples/integration, each run by the tool it is for.

use std::path::Path;
use std::process::Command;

use ringmark_tests::{Ran, ran, root};

use crate::{names, program, run, run_in};

/// A command of the machine with the program on its way; `None` where the machine has no such command.
fn other(name: &str, arguments: &[&str], folder: &Path) -> Option<Ran> {
    let program = program();
    let own = program.command();
    let mut command = Command::new(name);
    command.args(arguments).current_dir(folder);
    for (key, value) in own.get_envs() {
        if let Some(value) = value {
            command.env(key, value);
        }
    }
    command.env("RINGMARK", own.get_program());
    match command.output() {
        Ok(output) => Some(ran(output)),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => None,
        Err(error) => panic!("{name}: {error}"),
    }
}

#[test]
fn exit_statuses_are_those_of_the_manual() {
    for (arguments, status) in [
        ("check samples/A012C003.csv", 0),
        ("check samples/faulty", 1),
        ("check samples/faulty --fail-on never", 0),
        ("check samples/no-such-file.csv", 2),
        ("check samples --no-such-option", 2),
        ("convert samples/A012C003.csv --to no-such-format", 2),
        ("explain no-such-check", 2),
        ("formats", 0),
    ] {
        assert_eq!(run(arguments).status, status, "{arguments}");
    }
}

#[test]
fn bash_completes_commands_options_and_values() {
    let folder = tempfile::tempdir().unwrap();
    let script = run("completions bash");
    assert_eq!((script.status, script.err.as_str()), (0, ""));
    std::fs::write(folder.path().join("ringmark.bash"), &script.out).unwrap();
    for (typed, expected) in [
        ("ringmark ch", "check"),
        ("ringmark check --fail", "--fail-on"),
        ("ringmark check --fail-on w", "warning"),
        ("ringmark convert --measured-from f", "front-vertex"),
        ("ringmark plugin a", "add"),
    ] {
        let words: Vec<&str> = typed.split(' ').collect();
        let (last, before) = (words[words.len() - 1], words[words.len() - 2]);
        let line = format!(
            "source ringmark.bash; COMP_WORDS=({typed}); COMP_CWORD={}; _ringmark ringmark '{last}' '{before}'; \
             echo \"${{COMPREPLY[@]}}\"",
            words.len() - 1
        );
        let Some(done) = other("bash", &["-c", &line], folder.path()) else {
            return;
        };
        assert_eq!(
            (done.out.trim(), done.err.as_str()),
            (expected, ""),
            "{typed}"
        );
    }
}

#[test]
fn every_shell_has_completions() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let done = run(&format!("completions {shell}"));
        assert_eq!(done.status, 0, "{shell}");
        for word in ["st-map", "fail-on", "front-vertex"] {
            assert!(done.out.contains(word), "{shell}: {word}");
        }
    }
}

#[test]
fn man_pages_hold_every_command_and_groff_takes_them() {
    let folder = tempfile::tempdir().unwrap();
    let done = run_in(&program(), folder.path(), "man {}/man");
    assert_eq!(done.status, 0, "{}", done.err);
    let pages = names(&folder.path().join("man"));
    for page in [
        "ringmark.1",
        "ringmark-check.1",
        "ringmark-plugin-add.1",
        "ringmark-st-map.1",
    ] {
        assert!(pages.iter().any(|name| name == page), "{page}: {pages:?}");
    }
    assert!(!pages.iter().any(|name| name.contains("help")), "{pages:?}");
    // They are kept without --force.
    assert_eq!(run_in(&program(), folder.path(), "man {}/man").status, 2);
    for page in &pages {
        let path = folder.path().join("man").join(page);
        let text = std::fs::read_to_string(&path).unwrap();
        assert!(text.contains(".SH SYNOPSIS"), "{page}");
        // groff, of Debian's base packages: all warnings on, no output, UTF-8 as `man` hands it over.
        let path = path.to_str().unwrap();
        if let Some(done) = other(
            "groff",
            &["-Kutf8", "-man", "-ww", "-z", "-Tutf8", path],
            folder.path(),
        ) {
            assert_eq!((done.status, done.err.as_str()), (0, ""), "{page}");
        }
    }
}

/// The samples, copied to where cards are.
fn cards() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("cards")).unwrap();
    for name in ["A012C003.csv", "brannvik-40.csv", "faulty/A013C001.csv"] {
        let to = folder
            .path()
            .join("cards")
            .join(name.rsplit('/').next().unwrap());
        std::fs::copy(root().join("samples").join(name), to).unwrap();
    }
    folder
}

fn example(name: &str) -> String {
    root()
        .join("samples/integration")
        .join(name)
        .to_str()
        .unwrap()
        .to_owned()
}

#[test]
fn the_shell_example_reports_and_converts_what_is_clean() {
    let folder = cards();
    let Some(done) = other(
        "sh",
        &[&example("day.sh"), "cards", "reports"],
        folder.path(),
    ) else {
        return;
    };
    assert_eq!(
        (done.status, done.out.as_str()),
        (1, "cards: errors, see reports/findings.txt\n"),
        "{}",
        done.err
    );
    let made = names(&folder.path().join("reports"));
    assert_eq!(
        made,
        [
            "A012C003.take.jsonl",
            "brannvik-40.lens.json",
            "findings.jsonl",
            "findings.txt"
        ]
    );
    let text = std::fs::read_to_string(folder.path().join("reports/findings.txt")).unwrap();
    assert!(text.contains("timecode-impossible"), "{text}");
}

#[test]
fn the_makefile_stops_at_a_faulty_take_and_is_done_once() {
    let folder = cards();
    let arguments = ["-f", &example("Makefile"), "CARDS=cards", "OUT=out", "-k"];
    let Some(done) = other("make", &arguments, folder.path()) else {
        return;
    };
    assert_eq!(done.status, 2, "{}", done.err);
    assert!(
        done.err.contains("out/A013C001.take.jsonl] Error 1"),
        "{}",
        done.err
    );
    assert_eq!(names(&folder.path().join("out")), ["A012C003.take.jsonl"]);
    std::fs::remove_file(folder.path().join("cards/A013C001.csv")).unwrap();
    let again = other("make", &arguments, folder.path()).unwrap();
    assert_eq!(again.status, 0, "{}", again.err);
    assert!(again.out.contains("Nothing to be done"), "{}", again.out);
}

#[test]
fn systemd_finds_nothing_wrong_with_the_watch_folder() {
    let folder = tempfile::tempdir().unwrap();
    let (path, service) = (
        example("ringmark-cards.path"),
        example("ringmark-cards.service"),
    );
    let here = format!("XDG_RUNTIME_DIR={}", folder.path().display());
    let arguments = [
        &here,
        "systemd-analyze",
        "verify",
        "--user",
        &path,
        &service,
    ];
    let Some(done) = other("env", &arguments, folder.path()) else {
        return;
    };
    // Not there, or no machine where it can run: 127, or a line that says so.
    if done.status != 127 && !done.err.contains("Failed to initialize manager") {
        let own: Vec<&str> = done
            .err
            .lines()
            .filter(|line| line.contains("ringmark-cards"))
            .collect();
        assert!(done.status == 0 && own.is_empty(), "{}", done.err);
    }
}
