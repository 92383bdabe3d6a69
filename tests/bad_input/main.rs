//! What cannot be read is refused: with its place, with exit status 2, and without an output.
#![allow(missing_docs, clippy::unwrap_used)]

mod files;

use std::fs::File;
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;
use std::time::{Duration, Instant};

use ringmark_host::HostError;
use ringmark_tests::direct::{Plugins, from_neutral, items, neutral_lines, pieces, source};
use ringmark_tests::{Program, Ran, root};

fn program() -> Program {
    Program::new(
        env!("CARGO_BIN_EXE_ringmark-under-test"),
        env!("CARGO_TARGET_TMPDIR"),
    )
    .unwrap()
}

/// Converts a file into an empty folder; returns what is in the folder afterwards.
fn convert(program: &Program, format: &str, input: &Path) -> (Ran, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let output = folder.path().join("out.take.jsonl");
    let ran = program
        .run([
            "convert".as_ref(),
            input.as_os_str(),
            "--from".as_ref(),
            format.as_ref(),
            "-o".as_ref(),
            output.as_os_str(),
        ])
        .unwrap();
    let left = std::fs::read_dir(folder.path()).unwrap();
    let left = left
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    (ran, left)
}

/// Whether a report shows a place: line and column, or the byte in files without lines.
fn has_place(text: &str) -> bool {
    let Some((_, place)) = text.split_once("--> ") else {
        return false;
    };
    let place = place.lines().next().unwrap_or_default();
    let mut numbers = place.rsplit(':').take(2).map(str::parse::<u64>);
    let has_line = matches!((numbers.next(), numbers.next()), (Some(Ok(_)), Some(Ok(_))));
    has_line || place.contains(", byte ")
}

fn assert_refused(ran: &Ran, left: &[String], what: &str) {
    assert_eq!(ran.status, 2, "{what}: {}{}", ran.out, ran.err);
    assert!(left.is_empty(), "{what}: left behind {left:?}");
    assert!(has_place(&ran.err), "{what}: no place:\n{}", ran.err);
    assert_sound(ran, what);
}

fn assert_sound(ran: &Ran, what: &str) {
    for word in [
        "panicked",
        "RUST_BACKTRACE",
        "crashed",
        "broke the contract",
    ] {
        assert!(!ran.err.contains(word), "{what}:\n{}", ran.err);
    }
}

#[test]
fn all_kinds_of_broken_files() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    for bad in files::all() {
        let what = format!("{}, {}", bad.format, bad.what);
        let path = folder.path().join("input");
        std::fs::write(&path, &bad.bytes).unwrap();
        let (ran, left) = convert(&program, bad.format, &path);
        assert_refused(&ran, &left, &what);
        assert!(ran.err.contains(bad.says), "{what}: says\n{}", ran.err);
    }
}

#[test]
fn cut_at_every_kilobyte() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let take = root().join("samples/A012C003.csv");
    let lines = folder.path().join("whole.take.jsonl");
    let samples = folder.path().join("whole.jsonl");
    for (to, output) in [("take.jsonl", &lines), ("opentrackio", &samples)] {
        let args = [
            "convert",
            "samples/A012C003.csv",
            "--to",
            to,
            "-o",
            output.to_str().unwrap(),
        ];
        assert_eq!(program.run(args).unwrap().status, 0);
    }
    let long_header = root().join("tests/standards/openexr/long_header.exr");
    for (format, path) in [
        ("table", &take),
        ("take.jsonl", &lines),
        ("opentrackio", &samples),
        ("openexr", &long_header),
    ] {
        let bytes = std::fs::read(path).unwrap();
        let mut refused = 0;
        for cut in (0..bytes.len()).step_by(1024) {
            let what = format!("{format} cut at {cut}");
            let part = folder.path().join("cut");
            std::fs::write(&part, &bytes[..cut]).unwrap();
            let (ran, left) = convert(&program, format, &part);
            if ran.status == 2 {
                refused += 1;
                assert_refused(&ran, &left, &what);
            } else {
                assert_sound(&ran, &what);
                // A table may end after any row, samples after any sample, plates lie behind
                // the header. A neutral take says how long it is.
                assert_ne!(format, "take.jsonl", "{what} was taken for whole");
                assert_eq!(left.len(), 1, "{what}");
            }
        }
        assert!(refused >= 4, "{format}: only {refused} cuts were refused");
    }
}

#[test]
fn cut_at_every_byte() {
    let plugins = Plugins::new(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let small_table = b"# document: take\r\n# clip: \"a\\nb\"\r\nframe;focus distance [ft-in];note\r\n1;5'6 1/2\";\"x;\r\n\"\"y\"\r\n2;\xe2\x88\x9e;\r\n";
    let sample =
        std::fs::read(root().join("tests/standards/opentrackio/single_sample.json")).unwrap();
    let plate = std::fs::read(files::plate()).unwrap();
    for (format, bytes) in [
        ("table", small_table.as_slice()),
        ("opentrackio", &sample),
        ("openexr", &plate),
    ] {
        let plugin = plugins.named(format).unwrap();
        assert!(items(plugin, source("input", bytes), "{}").is_ok());
        let mut refused = 0;
        for cut in 0..bytes.len() {
            match items(plugin, source("input", &bytes[..cut]), "{}") {
                // Cut in the pixels, or where a row may end.
                Ok(_) => {}
                Err(HostError::Input(failure)) => {
                    refused += 1;
                    let place = failure
                        .place
                        .unwrap_or_else(|| panic!("{format}, {cut}: {}", failure.message));
                    assert!(place.offset <= cut as u64, "{format}, {cut}: {place:?}");
                    assert!(!failure.message.is_empty());
                }
                Err(error) => panic!("{format} cut at {cut}: {error}"),
            }
        }
        assert!(refused > 30, "{format}: only {refused} cuts were refused");
    }
    let table = plugins.named("table").unwrap();
    let take = pieces(table, source("take.csv", small_table.as_slice()), "{}").unwrap();
    let document = neutral_lines(&take).unwrap();
    for cut in 0..document.len() - 1 {
        assert!(
            from_neutral(&document[..cut]).is_err(),
            "neutral lines cut at {cut} were taken for whole"
        );
    }
}

/// Files with one line of 1 GB. What fills the line takes no room on disk.
#[test]
fn a_line_of_a_gigabyte() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    for (format, start) in [
        ("table", "# document: take\nframe,note\n1,"),
        (
            "opentrackio",
            "{\"protocol\":{\"name\":\"OpenTrackIO\",\"version\":[1,0,1]},\"a\":\"",
        ),
        (
            "take.jsonl",
            "{\"lens_data\":\"1.0\",\"form\":\"lines\",\"lenses\":[],\"takes\":[{\"clip\":\"",
        ),
        ("openexr", ""),
    ] {
        let path = folder.path().join("long");
        let mut file = File::create(&path).unwrap();
        file.write_all(start.as_bytes()).unwrap();
        file.set_len(1 << 30).unwrap();
        let begin = Instant::now();
        let (ran, left) = convert(&program, format, &path);
        assert_refused(&ran, &left, &format!("{format} with 1 GB"));
        assert!(
            begin.elapsed() < Duration::from_secs(20),
            "{format}: {:?}",
            begin.elapsed()
        );
    }
}

/// Lines whose every byte is a legal one.
#[test]
fn a_long_line_of_letters() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    for (format, start, says) in [
        ("table", "# document: take\nframe,note\n1,", "1 MiB"),
        ("table", "", "1 MiB"),
        ("table", "# document: take\nframe,note\n1,\"", "1 MiB"),
        (
            "opentrackio",
            "{\"protocol\":{\"name\":\"OpenTrackIO\",\"version\":[1,0,1]},\"a\":\"",
            "MiB",
        ),
        (
            "take.jsonl",
            "{\"lens_data\":\"1.0\",\"form\":\"lines\",\"lenses\":[],\"takes\":[{\"clip\":\"",
            "",
        ),
    ] {
        let path = folder.path().join("long");
        let mut file = File::create(&path).unwrap();
        file.write_all(start.as_bytes()).unwrap();
        let letters = vec![b'a'; 1 << 20];
        for _ in 0..64 {
            file.write_all(&letters).unwrap();
        }
        file.seek(SeekFrom::Start(0)).unwrap();
        let (ran, left) = convert(&program, format, &path);
        let what = format!("{format} after {start:?}");
        assert_refused(&ran, &left, &what);
        assert!(ran.err.contains(says), "{what}:\n{}", ran.err);
        assert!(ran.err.len() < 2000, "{what}: the excerpt is long");
    }
}

/// Not wrong enough to be refused: read, and remarked on.
#[test]
fn mixed_line_ends_are_noted() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let path = folder.path().join("mixed.csv");
    std::fs::write(&path, "# document: take\r\nframe,T-stop\n1,2.8\r\n2,2.8\n").unwrap();
    let ran = program.run(["check".as_ref(), path.as_os_str()]).unwrap();
    assert_eq!(ran.status, 0, "{}", ran.out);
    assert!(ran.out.contains("note[mixed-line-ends]"), "{}", ran.out);
    let (ran, left) = convert(&program, "table", &path);
    assert_eq!((ran.status, left.len()), (0, 1), "{}", ran.err);
}
