//! What the documents show of a terminal is what the program prints.
//!
//! Blocks fenced as `console` hold commands, each after `$ `, and under each what it prints.
//! Those that call `ringmark` are run in a copy of the samples, one after another, so that one
//! may use what the one before has written.
#![allow(missing_docs, clippy::unwrap_used)]

use std::path::Path;

use ringmark_tests::{Program, ran, root};

/// A command and what stands under it.
struct Shown {
    command: String,
    output: String,
    line: usize,
}

fn shown(text: &str) -> Vec<Shown> {
    let mut all: Vec<Shown> = Vec::new();
    let mut inside = false;
    for (number, line) in text.lines().enumerate() {
        match (inside, line) {
            (false, "```console") => inside = true,
            (false, _) => {}
            (true, "```") => inside = false,
            (true, line) => match (line.strip_prefix("$ "), all.last_mut()) {
                (Some(command), _) => all.push(Shown {
                    command: command.to_owned(),
                    output: String::new(),
                    line: number + 1,
                }),
                (None, Some(last)) => {
                    last.output.push_str(line);
                    last.output.push('\n');
                }
                (None, None) => panic!("line {}: output without a command", number + 1),
            },
        }
    }
    all
}

/// Words of a command; quotes hold a word together. Nothing else of a shell is known.
fn words(command: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = None::<String>;
    let mut quote = None;
    for c in command.chars() {
        match (c, quote) {
            ('\'' | '"', None) => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            (c, Some(q)) if c == q => quote = None,
            (c, None) if c.is_whitespace() => words.extend(word.take()),
            ('|' | '>' | '<' | '&' | ';' | '$' | '*' | '\\', None) => {
                panic!("{command}: only plain commands can be run here")
            }
            (c, _) => word.get_or_insert_default().push(c),
        }
    }
    words.extend(word);
    words
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let to = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy(&path, &to);
        } else {
            std::fs::copy(&path, to).unwrap();
        }
    }
}

/// Runs what a document shows; returns how many commands were run.
fn run(document: &str) -> usize {
    let text = std::fs::read_to_string(root().join(document)).unwrap();
    let folder = tempfile::tempdir().unwrap();
    copy(&root().join("samples"), &folder.path().join("samples"));
    let program = Program::new(
        env!("CARGO_BIN_EXE_ringmark-under-test"),
        env!("CARGO_TARGET_TMPDIR"),
    )
    .unwrap();
    let update = std::env::var_os("RINGMARK_UPDATE").is_some();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut count = 0;
    let mut answers: Vec<(Shown, String)> = Vec::new();
    for shown in shown(&text) {
        let words = words(&shown.command);
        let Some(("ringmark", arguments)) = words.split_first().map(|(f, r)| (f.as_str(), r))
        else {
            continue;
        };
        let ran = ran(program
            .command()
            .current_dir(folder.path())
            .args(arguments)
            .output()
            .unwrap());
        let printed = format!("{}{}", ran.out, ran.err);
        assert!(
            update || printed == shown.output,
            "{document}:{}: $ {}\n--- shown\n{}--- printed\n{printed}(RINGMARK_UPDATE=1 writes what is printed)",
            shown.line,
            shown.command,
            shown.output
        );
        answers.push((shown, printed));
        count += 1;
    }
    if answers
        .iter()
        .any(|(shown, printed)| *printed != shown.output)
    {
        // From the end: lines before a change keep their numbers.
        for (shown, printed) in answers.iter().rev() {
            let under = shown.line..shown.line + shown.output.lines().count();
            lines.splice(under, printed.lines().map(str::to_owned));
        }
        std::fs::write(root().join(document), lines.join("\n") + "\n").unwrap();
    }
    count
}

#[test]
fn readme() {
    let count = run("README.md");
    assert!(count >= 2, "only {count} commands were found");
}

#[test]
fn readmes_of_plugins_and_samples() {
    for folder in std::fs::read_dir(root().join("plugins")).unwrap() {
        let folder = folder.unwrap().file_name().into_string().unwrap();
        let readme = format!("plugins/{folder}/README.md");
        if root().join(&readme).is_file() {
            run(&readme);
        }
    }
    run("samples/README.md");
    assert_eq!(run("plugins/FORMATS.md"), 1);
}

#[test]
fn commands_are_taken_apart_as_a_shell_would() {
    assert_eq!(
        words("ringmark check 'a b' \"c\" d"),
        ["ringmark", "check", "a b", "c", "d"]
    );
    let shown = shown("x\n```console\n$ ringmark a\nb\n\nc\n$ ringmark d\n```\ny\n");
    let parts: Vec<_> = shown
        .iter()
        .map(|s| (s.command.as_str(), s.output.as_str(), s.line))
        .collect();
    assert_eq!(
        parts,
        [("ringmark a", "b\n\nc\n", 3), ("ringmark d", "", 7)]
    );
}
