//! Every planted fault of the demo production is found, and nothing in the good files.

use serde_json::Value;

use crate::{program, run, run_in};

/// Where a fault was planted.
enum At {
    /// Frame numbers from and to.
    Frames(i64, i64),
    /// The line of a mark.
    Line(u64),
}

const LENS: &str = "samples/faulty/brannvik-40.csv";
const TAKE: &str = "samples/faulty/A013C001.csv";

/// As `tests/generators/samples.py` plants them and `samples/README.md` lists them.
const PLANTED: &[(&str, &str, At)] = &[
    (LENS, "mark-off-the-curve", At::Line(16)), // 0.7 typed as 7.0
    (LENS, "ring-values-not-monotonic", At::Line(16)), // the same
    (LENS, "mark-repeated", At::Line(18)),      // 1.2 at the position of 1
    (LENS, "mark-outside-lens-range", At::Line(25)), // T1.4 on a lens of T2.1
    (LENS, "mark-off-the-curve", At::Line(25)), // the same
    (LENS, "infinity-mark-missing", At::Line(24)), // 10 m is the last
    (TAKE, "frame-number-gap", At::Frames(1032, 1032)), // 1031 is missing
    (TAKE, "timecode-gap", At::Frames(1032, 1032)), // its label too
    (TAKE, "timecode-repeated", At::Frames(1051, 1051)),
    (TAKE, "distance-unit-flips", At::Frames(1061, 1070)), // in feet
    (TAKE, "t-stop-below-f-number", At::Frames(1076, 1080)), // T2.2 with f/2.6
    (TAKE, "timecode-impossible", At::Frames(1091, 1091)), // 11:21:00;00
    (
        TAKE,
        "focal-length-changes-on-prime",
        At::Frames(1101, 1160),
    ), // 50 mm of 40 mm
    (TAKE, "value-outside-encoder-range", At::Frames(1111, 1111)), // 1.23
    (TAKE, "ring-jump", At::Frames(1111, 1111)),           // the same
    (TAKE, "distance-below-close-focus", At::Frames(1121, 1121)), // 0.21 m
    (TAKE, "distance-not-positive", At::Frames(1126, 1126)), // 0 m
    (TAKE, "lens-changes-in-take", At::Frames(1141, 1160)), // another serial number
];

fn findings(arguments: &str) -> Vec<Value> {
    let ran = run(&format!("check --report json {arguments}"));
    let mut report: Value = serde_json::from_str(&ran.out).unwrap();
    match report["findings"].take() {
        Value::Array(findings) => findings,
        other => panic!("{other}"),
    }
}

fn is_at(finding: &Value, at: &At) -> bool {
    match at {
        At::Frames(first, last) => {
            finding["frames"]["first_number"] == *first && finding["frames"]["last_number"] == *last
        }
        At::Line(line) => finding["place"]["line"] == *line,
    }
}

#[test]
fn each_planted_fault_is_found_where_it_was_planted() {
    let found = findings("samples/faulty");
    let mut missing = Vec::new();
    for (file, check, at) in PLANTED {
        let fits = |f: &&Value| f["file"] == *file && f["check"] == *check && is_at(f, at);
        if !found.iter().any(|f| fits(&f)) {
            missing.push(format!("{check} in {file}"));
        }
    }
    assert!(missing.is_empty(), "{missing:#?}\namong {found:#?}");
    for finding in &found {
        let planted = PLANTED.iter().any(|(file, check, at)| {
            finding["file"] == *file && finding["check"] == *check && is_at(finding, at)
        });
        assert!(planted, "not planted: {finding:#}");
    }
}

#[test]
fn with_the_good_lens_the_distances_are_compared_with_the_ring() {
    let folder = tempfile::tempdir().unwrap();
    let lens = folder.path().join("good.lens.json");
    let lens = lens.to_str().unwrap();
    assert_eq!(
        run(&format!("convert samples/brannvik-40.csv -o {lens}")).status,
        0
    );
    let found = findings(&format!("{TAKE} --lens {lens}"));
    let at = At::Frames(1061, 1070);
    let flips = |f: &&Value| f["check"] == "distance-unit-flips" && is_at(f, &at);
    let message = &found.iter().find(flips).unwrap()["message"];
    assert!(
        message.as_str().unwrap().contains("the ring gives"),
        "{message}"
    );
    // 0.21 m below close focus is off the ring's scale as well: that follows, and is not said twice.
    assert!(found.iter().all(|f| f["check"] != "ring-distance-mismatch"));
    assert_eq!(
        run(&format!(
            "check samples/A012C003.csv --lens {lens} --fail-on warning"
        ))
        .status,
        0
    );
}

#[test]
fn a_calibration_among_the_inputs_is_used_and_said() {
    let ran = run(
        "check samples/brannvik-40.csv samples/orrin-28-76.csv samples/A012C003.csv samples/B007C001.csv",
    );
    assert_eq!(
        ran.err,
        "samples/A012C003.csv: compared with the marks in samples/brannvik-40.csv\n\
         samples/B007C001.csv: compared with the marks in samples/orrin-28-76.csv\n"
    );
    assert_eq!(
        run("check samples/A012C003.csv samples/B007C001.csv").err,
        ""
    );
}

#[test]
fn nothing_is_found_in_the_good_files() {
    for files in [
        "samples/brannvik-40.csv",
        "samples/orrin-28-76.csv",
        "samples/A012C003.csv",
        "samples/A014C002.csv",
        "samples/B007C001.csv",
        "samples/plates/A012C003.####.exr",
        "samples/brannvik-40.csv samples/orrin-28-76.csv samples/A012C003.csv samples/B007C001.csv samples/plates",
    ] {
        let ran = run(&format!("check {files} --fail-on warning --quiet"));
        assert_eq!(
            (ran.status, ran.err.as_str()),
            (0, ""),
            "{files}:\n{}",
            ran.out
        );
        let serious: Vec<Value> = findings(files)
            .into_iter()
            .filter(|finding| finding["severity"] != "note")
            .collect();
        assert!(serious.is_empty(), "{files}: {serious:#?}");
    }
}

#[test]
fn the_exit_status_follows_the_severity_asked_for() {
    for (arguments, status) in [
        ("samples/A012C003.csv", 0),
        ("samples/faulty", 1),
        ("samples/faulty --fail-on error", 1),
        ("samples/faulty --fail-on warning", 1),
        ("samples/faulty --fail-on never", 0),
        ("samples/nothing.csv", 2),
        ("samples/B007C001.mapping.toml", 2),
        ("README.md --from table", 2),
        ("samples/A012C003.csv --report nonsense", 2),
        ("samples/A012C003.csv --mapping samples/A012C003.csv", 2),
        ("samples/A012C003.csv --lens samples/A012C003.csv", 2),
        ("", 2),
    ] {
        let ran = run(&format!("check {arguments}"));
        assert_eq!(
            ran.status, status,
            "check {arguments}:\n{}{}",
            ran.out, ran.err
        );
        assert!(
            !ran.out.is_empty() || !ran.err.is_empty(),
            "{arguments}: nothing was said"
        );
    }
}

#[test]
fn raw_positions_alone_are_read_over_the_range_of_the_calibration() {
    let folder = tempfile::tempdir().unwrap();
    let lens = folder.path().join("zoom.lens.json");
    let take = folder.path().join("raw.csv");
    // 34142 and 63451 are the counts of the marks 5'6" and infinity of the zoom.
    std::fs::write(
        &take,
        "# document: take\nframe,focus ring raw [count]\n1,34142\n2,63451\n",
    )
    .unwrap();
    let (lens, take) = (lens.display(), take.display());
    assert_eq!(
        run(&format!("convert samples/orrin-28-76.csv -o {lens}")).status,
        0
    );
    let ran = run(&format!("convert {take} --lens {lens} --to take.json"));
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    let distance = &document["takes"][0]["channels"]["focus-distance"];
    assert_eq!(distance["origin"], "interpolated");
    assert_eq!(distance["values"][1], "inf");
    // 5'6" is 1.6764 m; the mark is met to its reading error, here the rounding to a count.
    let near = distance["values"][0].as_f64().unwrap();
    assert!((near - 1.6764).abs() < 1e-4, "{near}");
}

#[test]
fn takes_of_one_camera_over_the_same_timecode_are_found_in_fresh_and_recalled_documents() {
    let folder = tempfile::tempdir().unwrap();
    let page = ringmark_checks::registry::find("takes-overlap")
        .unwrap()
        .info
        .explanation;
    for (name, block) in [("A003C001.csv", "before"), ("A003C002.csv", "fires")] {
        let text = page.split(&format!("```csv {block}\n")).nth(1).unwrap();
        let text = text.split("```").next().unwrap();
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    let program = program().without_results().unwrap();
    for recalled in ["0 of 2", "2 of 2"] {
        let arguments = "check {} --report concise --changed-only";
        let ran = run_in(&program, folder.path(), arguments);
        assert_eq!(ran.out.matches("(takes-overlap)").count(), 1, "{}", ran.out);
        assert!(
            ran.out
                .contains("8 frames of it are also those of A003C001"),
            "{}",
            ran.out
        );
        assert!(ran.err.contains(recalled), "{}", ran.err);
    }
}
