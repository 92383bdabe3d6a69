//! Two records of one take, from files of two formats.

use ringmark_tests::{Ran, root};

use crate::{program, run, run_in};

struct Files(tempfile::TempDir);

impl Files {
    fn new() -> Files {
        Files(tempfile::tempdir().unwrap())
    }

    fn run(&self, arguments: &str) -> Ran {
        run_in(&program(), self.0.path(), arguments)
    }

    /// A sample, changed and written under a name.
    fn sample(&self, name: &str, change: impl Fn(&str) -> String) {
        let text = std::fs::read_to_string(root().join("samples/A012C003.csv")).unwrap();
        std::fs::write(self.0.path().join(name), change(&text)).unwrap();
    }
}

#[test]
fn a_recorder_and_the_headers_of_its_plates_agree() {
    let ran = run("check samples/A012C003.csv --against samples/plates/A012C003.####.exr");
    assert_eq!(
        (ran.status, ran.out.as_str()),
        (0, "no findings in 1 file\n"),
        "{}",
        ran.err
    );
    assert!(
        ran.err
            .contains("samples/A012C003.csv: compared with samples/plates/A012C003.####.exr"),
        "{}",
        ran.err
    );
}

/// Formats that round in their own way: none of it is a difference.
#[test]
fn a_take_and_its_conversions_agree() {
    let files = Files::new();
    for (format, name) in [
        ("opentrackio", "o.jsonl"),
        ("acquisition-klv", "k.klv"),
        ("ebucore", "e.ebucore.xml"),
        ("usd-camera", "u.usda"),
        ("take.json", "t.take.json"),
    ] {
        let made = files.run(&format!(
            "convert samples/A012C003.csv --to {format} -o {{}}/{name} -q"
        ));
        assert_eq!(made.status, 0, "{format}: {}", made.err);
        let ran = files.run(&format!(
            "check samples/A012C003.csv --against {{}}/{name} --fail-on warning"
        ));
        assert_eq!(ran.status, 0, "{format}: {}\n{}", ran.out, ran.err);
        assert!(ran.err.contains("compared with"), "{format}: {}", ran.err);
    }
}

#[test]
fn a_late_record_and_a_changed_value_are_told_with_their_frames() {
    let files = Files::new();
    // The other record has the distance of frame 1101 wrong, and its labels are two frames late.
    files.sample("other.csv", |text| {
        text.lines()
            .map(|line| {
                let cells: Vec<&str> = line.split(',').collect();
                let Some(number) = cells.first().and_then(|cell| cell.parse::<u32>().ok()) else {
                    return format!("{line}\n");
                };
                let at = number - 1001 + 2;
                let distance = if number == 1101 { "9.0" } else { cells[4] };
                format!(
                    "{number},14:05:{:02}:{:02},{},{},{distance},{}\n",
                    12 + at / 24,
                    at % 24,
                    cells[2],
                    cells[3],
                    cells[5..].join(",")
                )
            })
            .collect()
    });
    let ran = files.run("check samples/A012C003.csv --against {}/other.csv --report concise");
    assert_eq!(ran.status, 1, "{}\n{}", ran.out, ran.err);
    assert!(
        ran.out
            .contains("is 2 frames late by time code (records-out-of-step)"),
        "{}",
        ran.out
    );
    let differ: Vec<&str> = ran
        .out
        .lines()
        .filter(|line| line.contains("records-differ"))
        .collect();
    assert_eq!(differ.len(), 1, "{}", ran.out);
    // The line of frame 1101 in the sample: 15 lines ahead of frame 1001.
    assert!(
        differ[0].contains("samples/A012C003.csv:116:") && differ[0].contains("9.00 m"),
        "{}",
        differ[0]
    );
}

#[test]
fn what_has_no_partner_is_said() {
    let files = Files::new();
    let ran = run(
        "check samples/A012C003.csv samples/A014C002.csv --against samples/plates --report concise",
    );
    assert!(
        ran.err
            .contains("samples/A014C002.csv: no other record of A014C002"),
        "{}",
        ran.err
    );
    let ran = run("check samples/A012C003.csv --against samples/brannvik-40.csv");
    assert!(
        ran.status == 2 && ran.err.contains("--against: there is no take in it"),
        "{}",
        ran.err
    );
    let ran = run("check samples/A012C003.csv --against no-such-file.csv");
    assert_eq!(ran.status, 2, "{}", ran.err);
    files.sample("a.csv", str::to_owned);
    files.sample("b.csv", str::to_owned);
    let ran = files.run("check samples/A012C003.csv --against {}/a.csv --against {}/b.csv");
    assert!(
        ran.status == 2 && format!("{}{}", ran.out, ran.err).contains("are both of clip A012C003"),
        "{}{}",
        ran.out,
        ran.err
    );
}

/// Where a record does not say what its distances are measured from, the image plane is meant and nothing else.
#[test]
fn an_unstated_reference_is_compared_with_the_image_plane_only() {
    let files = Files::new();
    let stated = "# measured from: image plane\n";
    files.sample("unstated.csv", |text| {
        text.replace(stated, "").replace(",2.4021,", ",7.8809,")
    });
    let against =
        || files.run("check samples/A012C003.csv --against {}/unstated.csv --report concise");
    let plane = against();
    assert_eq!(plane.status, 1, "{}", plane.err);
    assert!(plane.out.contains("(records-differ)"), "{}", plane.out);
    files.sample("pupil.csv", |text| {
        text.replace(stated, "# measured from: entrance pupil\n")
    });
    let pupil = files.run("check {}/unstated.csv --against {}/pupil.csv --report concise");
    assert!(!pupil.out.contains("records-differ"), "{}", pupil.out);
}
