//! Which marks to take next.

use serde_json::Value;

use crate::{names, program, run_in};

fn on(folder: &tempfile::TempDir, arguments: &str) -> ringmark_tests::Ran {
    run_in(&program(), folder.path(), arguments)
}

/// A lens with five marks in a folder of its own.
fn lens() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let ran = on(
        &folder,
        "convert samples/sparse/halden-85.csv -q -o {}/l.lens.json",
    );
    assert_eq!(ran.status, 0, "{}", ran.err);
    folder
}

fn bare(folder: &tempfile::TempDir, name: &str, facts: &str) {
    let text = format!(r#"{{"lens_data": "1.0", "lenses": [{{{facts}}}]}}"#);
    std::fs::write(folder.path().join(name), text).unwrap();
}

#[test]
fn a_sheet_for_the_bench() {
    let folder = lens();
    let ran = on(
        &folder,
        "plan {}/l.lens.json --marks 3 -o {}/s.svg -o {}/s.txt -o {}/s.json",
    );
    assert_eq!((ran.status, ran.err.as_str()), (0, ""));
    insta::assert_snapshot!(ran.out.replace(&*folder.path().to_string_lossy(), "FOLDER"));
    let read = |name: &str| std::fs::read_to_string(folder.path().join(name)).unwrap();
    assert_eq!(read("s.txt"), ran.out);
    let document: Value = serde_json::from_str(&read("s.json")).unwrap();
    let marks = document["marks"].as_array().unwrap();
    assert_eq!(
        (marks.len(), document["marks_taken"].as_u64()),
        (3, Some(5))
    );
    // A box a mark.
    assert_eq!(read("s.svg").matches("<rect").count(), 3);
}

#[test]
fn distances_are_round_in_what_the_scale_is_engraved_in_or_as_asked() {
    let folder = lens();
    let inches = |arguments: &str| -> Vec<f64> {
        let ran = on(
            &folder,
            &format!("plan {{}}/l.lens.json --marks 3 --json {arguments}"),
        );
        let document: Value = serde_json::from_str(&ran.out).unwrap();
        let marks = document["marks"].as_array().unwrap().iter();
        marks
            .map(|m| m["distance_m"].as_f64().unwrap() / 0.0254)
            .collect()
    };
    let whole = |inches: &f64| (inches - inches.round()).abs() < 1e-6;
    assert!(inches("--unit ft-in").iter().all(whole));
    assert!(!inches("").iter().all(whole));
}

#[test]
fn an_easier_target_takes_no_more_marks() {
    let folder = lens();
    let count = |target: &str| {
        let ran = on(
            &folder,
            &format!("plan {{}}/l.lens.json --json --target {target}"),
        );
        assert_eq!(ran.status, 0, "{}", ran.err);
        let document: Value = serde_json::from_str(&ran.out).unwrap();
        document["marks"].as_array().unwrap().len()
    };
    let counts = ["1000", "1", "1/2", "1/4"].map(count);
    assert_eq!(counts[0], 0);
    assert!(counts.is_sorted(), "{counts:?}");
}

#[test]
fn a_lens_without_marks_is_planned_from_its_ends() {
    let folder = lens();
    let facts = r#""focal_length_mm": [50, 50], "close_focus_m": 0.5, "widest_f_number": 2"#;
    bare(&folder, "bare.lens.json", facts);
    let ran = on(&folder, "plan {}/bare.lens.json --marks 6 --json");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    let marks = document["marks"].as_array().unwrap();
    assert_eq!(marks.len(), 6);
    assert_eq!(marks[0]["distance_m"], 0.5);
    assert_eq!(marks[1]["distance_m"], "inf");
    assert!(document.get("now").is_none());
    assert!(
        marks
            .iter()
            .all(|mark| mark.get("expected_position").is_none())
    );
}

#[test]
fn what_cannot_be_planned_is_said_and_nothing_is_written() {
    let folder = lens();
    bare(
        &folder,
        "none.lens.json",
        r#""model": "X", "focal_length_mm": [50, 50]"#,
    );
    bare(
        &folder,
        "turned.lens.json",
        r#""focal_length_mm": [50, 50], "rings": [{"axis": "focus", "quantity": "focus-distance", "reference": "image-plane",
            "unit": "m", "marks": [{"position": 0, "value": 1}, {"position": 0.4, "value": 3}, {"position": 0.5, "value": 2},
            {"position": 1, "value": "inf"}]}]"#,
    );
    let before = names(folder.path());
    for (arguments, said) in [
        ("{}/no.lens.json", "cannot read"),
        ("samples/sparse/halden-85.csv", "halden-85.csv"),
        (
            "{}/none.lens.json",
            "no depth of field to plan for: the lens states no widest f-number",
        ),
        (
            "{}/none.lens.json --f-number 2",
            "neither a close focus nor a scale",
        ),
        (
            "{}/turned.lens.json --f-number 2",
            "run against the rest of the scale",
        ),
        ("{}/l.lens.json --target 0", "expected a part above 0"),
        ("{}/l.lens.json --target many", "expected a part above 0"),
        (
            "{}/l.lens.json --target 1/4 --marks 2",
            "cannot be used with",
        ),
        ("{}/l.lens.json --marks few", "--marks"),
        (
            "{}/l.lens.json -o {}/s.pdf",
            "outputs end in .svg, .txt or .json",
        ),
        ("{}/l.lens.json --force -o {}/l.lens.json", "is an input"),
    ] {
        let ran = on(&folder, &format!("plan {arguments}"));
        assert_eq!(ran.status, 2, "{arguments}: {}", ran.out);
        assert!(
            ran.err.contains(said) && ran.out.is_empty(),
            "{arguments}: {}",
            ran.err
        );
    }
    assert_eq!(names(folder.path()), before);
}
