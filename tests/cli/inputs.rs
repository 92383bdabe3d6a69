//! How inputs are named: files, folders, patterns, standard input.

use std::io::Write;
use std::process::Stdio;

use ringmark_tests::{ran, sample};

use crate::{names, program, run, run_in};

#[test]
fn patterns_and_folders_name_the_same_sequence() {
    let folder = tempfile::tempdir().unwrap();
    let program = program();
    for (name, input) in [
        ("hashes", "samples/plates/A012C003.####.exr"),
        ("printf", "samples/plates/A012C003.%04d.exr"),
        ("folder", "samples/plates"),
    ] {
        let ran = run_in(
            &program,
            folder.path(),
            &format!("convert {input} -o {{}}/{name}.take.jsonl"),
        );
        assert_eq!(ran.status, 0, "{input}: {}", ran.err);
        assert!(ran.err.contains("24 frames"), "{input}: {}", ran.err);
    }
    let read = |name: &str| {
        std::fs::read_to_string(folder.path().join(format!("{name}.take.jsonl"))).unwrap()
    };
    assert_eq!(read("hashes"), read("printf"));
    assert_eq!(read("hashes"), read("folder"));
    assert_eq!(read("hashes").lines().count(), 26, "header, 24 frames, end");
    let ran = run("check samples/plates/B.####.exr");
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(
        ran.err.contains("samples/plates/B.####.exr: no file fits"),
        "{}",
        ran.err
    );
}

#[test]
fn standard_input_to_standard_output() {
    let input = std::fs::read(sample("A012C003.csv")).unwrap();
    for (arguments, lines) in [
        ("convert - --to take.jsonl --from table", 242),
        ("convert - --to opentrackio --from table -o -", 240),
        // Without a name the content decides.
        ("convert --to take.jsonl --quiet -", 242),
    ] {
        let mut child = program()
            .command()
            .args(arguments.split_whitespace())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut stdin = child.stdin.take().unwrap();
        stdin.write_all(&input).unwrap();
        drop(stdin);
        let ran = ran(child.wait_with_output().unwrap());
        assert_eq!(ran.status, 0, "{arguments}: {}", ran.err);
        assert_eq!(ran.out.lines().count(), lines, "{arguments}");
        assert_eq!(
            ran.err.is_empty(),
            arguments.contains("quiet"),
            "{}",
            ran.err
        );
    }
}

#[test]
fn standard_input_that_is_nothing_known() {
    let ran = run("check -");
    assert_eq!(ran.status, 2);
    assert!(
        ran.out.contains("standard input") && ran.out.contains("--from FORMAT"),
        "{}",
        ran.out
    );
}

#[test]
fn a_bad_file_among_good_ones_does_not_stop_the_others() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    for name in ["A012C003.csv", "B007C001.csv", "B007C001.mapping.toml"] {
        std::fs::copy(sample(name), folder.path().join(name)).unwrap();
    }
    std::fs::write(
        folder.path().join("A999.csv"),
        "# document: take\nframe,T-stop\n1,wide\n",
    )
    .unwrap();
    let inputs = "{}/A012C003.csv {}/A999.csv {}/B007C001.csv";

    let ran = run_in(&program, folder.path(), &format!("check {inputs}"));
    assert_eq!(ran.status, 2);
    assert!(ran.out.contains("A999.csv:3:3"), "{}", ran.out);

    let ran = run_in(
        &program,
        folder.path(),
        &format!("convert {inputs} --to take.json -o {{}}/out"),
    );
    assert_eq!(ran.status, 2, "{}", ran.err);
    assert!(ran.err.contains("A999.csv:3:3"), "{}", ran.err);
    assert_eq!(
        names(&folder.path().join("out")),
        ["A012C003.take.json", "B007C001.take.json"]
    );

    let ran = run_in(&program, folder.path(), &format!("show {inputs}"));
    assert_eq!(ran.status, 2);
    for clip in ["A012C003", "B007C001"] {
        assert!(ran.out.contains(clip), "{}", ran.out);
    }
    assert!(ran.err.contains("A999.csv:3:3"), "{}", ran.err);
}

#[test]
fn folders_are_searched_and_what_nobody_reads_is_passed_over() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let nothing = run_in(&program, folder.path(), "check {}");
    assert_eq!(nothing.status, 2, "an empty folder: {}", nothing.out);
    assert!(nothing.err.contains("nothing to do"), "{}", nothing.err);
    for command in ["convert {} --to table -o {}/out", "show {}"] {
        let nothing = run_in(&program, folder.path(), command);
        assert_eq!(nothing.status, 2, "{command}: {}", nothing.out);
        assert!(nothing.err.contains("nothing to do"), "{}", nothing.err);
    }
    std::fs::create_dir(folder.path().join("day 1")).unwrap();
    std::fs::copy(
        sample("A012C003.csv"),
        folder.path().join("day 1/A012C003.csv"),
    )
    .unwrap();
    std::fs::write(folder.path().join("notes.txt"), "Lunch at one.\n").unwrap();
    std::fs::write(folder.path().join(".hidden.csv"), "x").unwrap();
    let ran = run_in(&program, folder.path(), "check {}");
    assert_eq!(
        (ran.status, ran.out.as_str()),
        (0, "no findings in 1 file\n"),
        "{}",
        ran.err
    );
    // Named by hand it must be read.
    let named = run_in(&program, folder.path(), "check {}/notes.txt");
    assert_eq!(named.status, 2, "{}", named.out);
}

#[test]
fn wrong_names_of_formats_and_checks_are_answered_with_the_right_one() {
    let ran = run("convert samples/A012C003.csv --to opentrackoi");
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("did you mean opentrackio?"), "{}", ran.err);
    let ran = run("check samples/A012C003.csv --from tabel");
    assert_eq!(ran.status, 2);
    assert!(
        format!("{}{}", ran.out, ran.err).contains("did you mean table?"),
        "{}{}",
        ran.out,
        ran.err
    );
    let ran = run("explain mark-of-the-curve");
    assert_eq!((ran.status, ran.out.as_str()), (2, ""));
    assert!(
        ran.err.contains("did you mean mark-off-the-curve?"),
        "{}",
        ran.err
    );
    let ran = run("convert samples/A012C003.csv -o out.docx");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("--to FORMAT"), "{}", ran.err);
}

#[test]
fn missing_and_extra_files_of_a_sequence_are_one_finding() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let plate = |n: u32| format!("A012C003.{n}.exr");
    for n in (1001..=1024).filter(|n| ![1005, 1006, 1010].contains(n)) {
        std::fs::copy(
            sample("plates").join(plate(n)),
            folder.path().join(plate(n)),
        )
        .unwrap();
    }
    let check = |input: &str| {
        let report = format!("check {{}}{input} --report concise");
        let ran = run_in(&program, folder.path(), &report);
        let about = |line: &&str| line.contains("files") || line.contains("frame-number");
        let lines: Vec<String> = ran
            .out
            .lines()
            .filter(about)
            .map(|line| line.rsplit(": ").take(2).collect::<Vec<_>>().join(" < "))
            .collect();
        (ran.status, lines)
    };
    // The numbers of the frames come from the names: no second finding about the same holes.
    for input in ["", "/A012C003.####.exr", "/A012C003.1001-1024.exr"] {
        let (status, lines) = check(input);
        assert_eq!((status, lines.len()), (1, 1), "{input}: {lines:?}");
        assert!(
            lines[0].starts_with("1005-1006, 1010 (files-missing) < "),
            "{lines:?}"
        );
        assert!(lines[0].contains("3 of 24 files"), "{lines:?}");
    }
    let (status, lines) = check("/A012C003.1011-1026.exr");
    assert_eq!((status, lines.len()), (1, 1), "{lines:?}");
    assert!(
        lines[0].starts_with("1001-1004, 1007-1009 (files-missing) < 1025-1026;"),
        "{lines:?}"
    );
    let (status, lines) = check("/A012C003.1011-1020.exr");
    assert_eq!((status, lines.len()), (0, 1), "only a note: {lines:?}");
}

#[test]
fn what_a_folder_holds_goes_to_a_folder_be_it_one_or_many() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    std::fs::create_dir(folder.path().join("card")).unwrap();
    let copy = |name: &str| {
        std::fs::copy(
            sample("A012C003.csv"),
            folder.path().join("card").join(name),
        )
        .unwrap();
    };
    copy("a.csv");
    std::fs::write(folder.path().join("card/notes.md"), "x").unwrap();
    let convert = |more: &str| {
        let arguments = format!("convert {{}}/card --to take.json -o {{}}/out {more}");
        run_in(&program, folder.path(), &arguments)
    };
    let one = convert("");
    assert_eq!(one.status, 0, "{}", one.err);
    assert!(
        one.err.starts_with("passed over: 1 file in no format"),
        "{}",
        one.err
    );
    copy("b.csv");
    let two = convert("--force");
    assert_eq!(two.status, 0, "{}", two.err);
    assert_eq!(
        names(&folder.path().join("out")),
        ["a.take.json", "b.take.json"]
    );
    // A name with an ending is a file.
    std::fs::remove_file(folder.path().join("card/b.csv")).unwrap();
    let file = run_in(
        &program,
        folder.path(),
        "convert {}/card -o {}/one.take.json",
    );
    assert_eq!(file.status, 0, "{}", file.err);
    assert!(folder.path().join("one.take.json").is_file());
}

#[cfg(unix)]
#[test]
fn pipes_are_passed_over_and_empty_files_are_failures() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    std::fs::copy(sample("A012C003.csv"), folder.path().join("a.csv")).unwrap();
    let pipe = folder.path().join("b.csv");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.unwrap().success());
    // Whoever opened it would wait for ever.
    let all = run_in(&program, folder.path(), "check {} --changed-only");
    assert_eq!(all.status, 0, "{}", all.out);
    assert!(
        all.err.starts_with("passed over: 1 special file\n"),
        "{}",
        all.err
    );
    let named = run_in(&program, folder.path(), "check {}/b.csv");
    assert_eq!(named.status, 2);
    assert!(named.out.contains("is a pipe or a device"), "{}", named.out);
    std::fs::remove_file(&pipe).unwrap();
    std::fs::write(&pipe, "").unwrap();
    let empty = run_in(&program, folder.path(), "check {} --report concise");
    assert_eq!(empty.status, 2);
    assert!(
        empty
            .out
            .contains("b.csv: error: the file is empty (0 bytes)"),
        "{}",
        empty.out
    );
    std::fs::write(&pipe, b"\xff\xfef\0r\0").unwrap();
    let wide = run_in(&program, folder.path(), "check {}/b.csv");
    assert!(
        wide.out.contains("is UTF-16 text; save it as UTF-8"),
        "{}{}",
        wide.out,
        wide.err
    );
}

#[test]
fn a_calibration_of_another_serial_number_is_told() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let take = std::fs::read_to_string(sample("A012C003.csv")).unwrap();
    assert!(take.contains("BV40-0117"), "{take}");
    std::fs::write(
        folder.path().join("t.csv"),
        take.replace("BV40-0117", "BV40-0171"),
    )
    .unwrap();
    let ran = run_in(
        &program,
        folder.path(),
        "check samples/brannvik-40.csv {}/t.csv",
    );
    assert!(
        ran.err.contains("t.csv: no calibration of Brannvik Glass Brannvik 40 #BV40-0171 among the inputs; samples/brannvik-40.csv is of another serial number"),
        "{}",
        ran.err
    );
}
