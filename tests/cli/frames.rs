//! Data put into copies of image files: all of them, or none.

use std::path::Path;

use ringmark_tests::{Program, Ran, sample};

use crate::{names, program, run_in};

/// Copies of plates 1001 to 1024 without their time code and lens data: `plate.NNNN.exr`.
fn bare(folder: &Path, numbers: std::ops::RangeInclusive<u32>) {
    std::fs::create_dir_all(folder).unwrap();
    for number in numbers {
        std::fs::write(
            folder.join(format!("plate.{number}.exr")),
            ringmark_tests::plate::plate(),
        )
        .unwrap();
    }
}

fn put(program: &Program, folder: &Path) -> Ran {
    let take = sample("plates").join("A012C003.####.exr");
    let take = take.display();
    run_in(
        program,
        folder,
        &format!("convert {take} --to openexr --frames {{}}/in -o {{}}/out"),
    )
}

#[test]
fn attributes_go_into_copies_and_read_back() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    let at = |name: &str| folder.path().join(name);
    bare(&at("in"), 1001..=1024);
    let ran = put(&program, folder.path());
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert_eq!(names(&at("out")), names(&at("in")));
    let pixels = |name: &str| {
        let file = std::fs::read(at(name)).unwrap();
        file[file.len() - 10..].to_vec() // line number, size and the one pixel
    };
    assert_eq!(pixels("out/plate.1001.exr"), pixels("in/plate.1001.exr"));
    let values = |input: &str| {
        let ran = run_in(
            &program,
            folder.path(),
            &format!("convert {input} --to table -o - -q"),
        );
        assert_eq!(ran.status, 0, "{}", ran.err);
        let rows = ran.out.lines().filter(|line| !line.starts_with('#'));
        let rows: Vec<Vec<String>> = rows
            .map(|row| row.split(',').map(str::to_owned).collect())
            .collect();
        // The names of the files differ, and so may the order of columns.
        let mut columns: Vec<Vec<String>> = (0..rows[0].len())
            .map(|column| rows.iter().map(|row| row[column].clone()).collect())
            .filter(|column: &Vec<String>| column[0] != "source file")
            .collect();
        columns.sort();
        columns
    };
    let original = values(
        &sample("plates")
            .join("A012C003.####.exr")
            .display()
            .to_string(),
    );
    let copies = values("{}/out");
    assert!(
        original.len() >= 8 && original[0].len() == 25,
        "{original:?}"
    );
    for column in &original {
        assert!(copies.contains(column), "{column:?}\n{copies:?}");
    }
}

#[test]
fn a_frame_without_a_file_or_a_file_without_a_frame_writes_nothing() {
    let program = program();
    for (numbers, said) in [(1001..=1020, "1021-1024"), (1001..=1030, "1025-1030")] {
        let folder = tempfile::tempdir().unwrap();
        bare(&folder.path().join("in"), numbers);
        let ran = put(&program, folder.path());
        assert_eq!(ran.status, 2, "{}", ran.err);
        assert!(ran.err.contains(said), "{}", ran.err);
        assert_eq!(names(folder.path()), ["in"], "nothing is left behind");
    }
}

#[test]
fn what_is_missing_is_said_before_anything_is_read() {
    let (program, folder) = (program(), tempfile::tempdir().unwrap());
    bare(&folder.path().join("in"), 1001..=1024);
    let take = sample("A012C003.csv");
    let take = take.display();
    for (arguments, said) in [
        ("--to openexr -o {}/out", "--frames FOLDER"),
        ("--to openexr --frames {}/in", "-o FOLDER"),
        (
            "--to openexr --frames {}/in -o {}/in",
            "the files themselves",
        ),
        ("--to openexr --frames {}/none -o {}/out", "no such file"),
        (
            "--to take.jsonl --frames {}/in -o {}/out",
            "leave out --frames",
        ),
        ("--to table --frames {}/in -o {}/out", "leave out --frames"),
        (
            "--to usd-camera --option metersPerUnit=0 -o {}/x.usda",
            "metersPerUnit",
        ),
        (
            "--to usd-camera --option metres=1 -o {}/x.usda",
            "it has metersPerUnit",
        ),
    ] {
        let ran = run_in(
            &program,
            folder.path(),
            &format!("convert {take} {arguments}"),
        );
        assert_eq!(ran.status, 2, "{arguments}: {}", ran.err);
        assert!(ran.err.contains(said), "{arguments}: {}", ran.err);
        assert_eq!(names(folder.path()), ["in"], "{arguments}");
        assert_eq!(names(&folder.path().join("in")).len(), 24, "{arguments}");
    }
}
