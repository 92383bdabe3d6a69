//! A lens on pre-marked rings, and rings that are made.

use std::path::Path;

use serde_json::Value;

use crate::{names, program, run_in};

/// The calibrated sample lens in a folder of its own.
fn lens() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let ran = on(
        &folder,
        "convert samples/brannvik-40.csv -q -o {}/l.lens.json",
    );
    assert_eq!(ran.status, 0, "{}", ran.err);
    folder
}

fn on(folder: &tempfile::TempDir, arguments: &str) -> ringmark_tests::Ran {
    run_in(&program(), folder.path(), arguments)
}

fn json(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

#[test]
fn the_best_of_several_rings_comes_first_and_is_drawn() {
    let folder = lens();
    let ran = on(
        &folder,
        "transfer {}/l.lens.json --to samples/rings/orrin-feet.json --to samples/rings/sund-metres.json --f-number 2 \
         -o {}/t.json -o {}/t.svg -o {}/t.txt",
    );
    assert_eq!((ran.status, ran.err.as_str()), (0, ""));
    let text = std::fs::read_to_string(folder.path().join("t.txt")).unwrap();
    assert_eq!(text, ran.out);
    insta::assert_snapshot!(ran.out.replace(&*folder.path().to_string_lossy(), "FOLDER"));
    let document = json(&folder.path().join("t.json"));
    let best = &document["rings"][0];
    assert_eq!(best["name"], "S-04");
    assert_eq!(document["rings"].as_array().unwrap().len(), 4);
    let drawn = std::fs::read_to_string(folder.path().join("t.svg")).unwrap();
    assert!(
        drawn.starts_with("<svg ") && drawn.contains("Sund S-04"),
        "{drawn}"
    );
    // The same document on standard output.
    let ran = on(
        &folder,
        "transfer {}/l.lens.json --to samples/rings/orrin-feet.json --f-number 2 --json",
    );
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(document["rings"][0]["name"], "Close");
}

#[test]
fn a_target_is_where_show_says_the_value_stands() {
    let folder = lens();
    let ran = on(
        &folder,
        "transfer {}/l.lens.json --to samples/rings/orrin-feet.json --json",
    );
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    // 40 mm, but no f-number: nothing about depth.
    assert!(document.get("depth_of_field").is_none());
    let marks = document["rings"][0]["marks"].as_array().unwrap();
    for mark in marks {
        let asked = mark["mark"].as_str().unwrap();
        let shown = program()
            .run(["show", "samples/brannvik-40.csv", "--at", asked])
            .unwrap();
        let position = mark["target"]["position"].as_f64().unwrap();
        let expected = format!("{position:.4}");
        assert!(
            shown.out.contains(&expected),
            "{asked} {position}: {}",
            shown.out
        );
    }
}

#[test]
fn a_made_ring_is_read_back_and_fits_the_lens_it_was_made_for() {
    let folder = lens();
    let ran = on(
        &folder,
        "ring --from 0.4m --marks 24 --name Fine --rotation 300deg --length 200mm -o {}/r.json",
    );
    assert_eq!((ran.status, ran.err.as_str()), (0, ""));
    let ran = on(
        &folder,
        "transfer {}/l.lens.json --to {}/r.json --f-number 2 --circle-of-confusion cine-35 --json",
    );
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    let ring = &document["rings"][0];
    assert_eq!(ring["out_of_reach"], 0);
    assert_eq!(ring["rotation_deg"].as_f64(), Some(300.0));
    let depths = ring["largest_error_depths"]["error"].as_f64().unwrap();
    assert!(depths.abs() < 0.1, "{depths}");
    // Feet and inches, from a list.
    let ran = program()
        .run(["ring", "--values", "inf,10',5' 6\",30\""])
        .unwrap();
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    let marks = document["rings"][0]["marks"].as_array().unwrap();
    let texts: Vec<&str> = marks.iter().map(|m| m["mark"].as_str().unwrap()).collect();
    assert_eq!(texts, ["inf", "10'", "5'6\"", "2'6\""]);
}

#[test]
fn what_makes_no_ring_is_said() {
    let folder = lens();
    for (arguments, said) in [
        ("ring", "--from <DISTANCE>"),
        ("ring --from 0.6", "0.6 of what?"),
        ("ring --from near", "--from near"),
        ("ring --from 0m", "a distance is above 0"),
        ("ring --from 2m --to 1m", "from 2.00 m to 1.00 m"),
        (
            "ring --from 1m --marks 1",
            "a series of 1: 2 marks or more are needed",
        ),
        (
            "ring --from 1m --marks 900",
            "900 marks: two of them would round",
        ),
        ("ring --from 1m --marks 100000", "at most 1000"),
        ("ring --values 1m", "1 marks"),
        (
            "ring --values 1m,3m,2m",
            "2 m follows on 3 m, against the rest",
        ),
        ("ring --values 1m,2m --from 1m", "cannot be used with"),
        (
            "ring --from 1m --rotation 300",
            "--rotation 300: expected an angle above 0",
        ),
        (
            "ring --from 1m --length 180",
            "--length 180: expected a length with its unit",
        ),
    ] {
        let ran = on(&folder, &format!("{arguments} -o {{}}/r.json"));
        assert_eq!(ran.status, 2, "{arguments}");
        assert!(ran.err.contains(said), "{arguments}: {}", ran.err);
    }
    assert_eq!(names(folder.path()), ["l.lens.json"]);
}

#[test]
fn what_cannot_be_carried_over_is_said_and_nothing_is_written() {
    let folder = lens();
    let file = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    file(
        "typo.json",
        "{\"pre_marked_rings\": \"1.0\",\n\"rigns\": []}",
    );
    file(
        "short.json",
        r#"{"pre_marked_rings": "1.0", "rings": [{"marks": [{"mark": "1 m", "position": 0}, {"mark": "2 m", "position": 1}]}]}"#,
    );
    file(
        "zoom.lens.json",
        r#"{"lens_data": "1.0", "lenses": [{"model": "Bare"}]}"#,
    );
    file(
        "two.lens.json",
        r#"{"lens_data": "1.0", "lenses": [{"rings": [{"axis": "focus", "quantity": "focus-distance", "reference": "image-plane",
            "unit": "m", "marks": [{"position": 0.2, "value": 1}, {"position": 0.2, "value": 2}]}]}]}"#,
    );
    let before = names(folder.path());
    let sample = "samples/rings/sund-metres.json";
    for (arguments, said) in [
        ("{}/l.lens.json".to_owned(), "--to <RING.json>"),
        (format!("{{}}/none.lens.json --to {sample}"), "cannot read"),
        ("{}/l.lens.json --to {}/none.json".to_owned(), "cannot read"),
        (
            "{}/l.lens.json --to {}/typo.json".to_owned(),
            "line 2: unknown key `rigns`; did you mean `rings`?",
        ),
        (
            "{}/l.lens.json --to {}/l.lens.json".to_owned(),
            "unknown key `lens_data`",
        ),
        (
            format!("{{}}/zoom.lens.json --to {sample}"),
            "holds no focus ring",
        ),
        (
            format!("{{}}/two.lens.json --to {sample}"),
            "share a ring position",
        ),
        (
            format!("samples/brannvik-40.csv --to {sample}"),
            "brannvik-40.csv",
        ),
        (
            format!("{{}}/l.lens.json --to {sample} --f-number T4"),
            "not from the T-stop",
        ),
        (
            format!("{{}}/l.lens.json --to {sample} -o {{}}/t.pdf"),
            "end in .svg, .txt or .json",
        ),
        (
            "{}/l.lens.json --to {}/short.json -o {}/t.svg".to_owned(),
            "length_mm",
        ),
        (
            format!("{{}}/l.lens.json --to {sample} -o {{}}/short.json"),
            "exists; --force replaces it",
        ),
        (
            "{}/l.lens.json --to {}/short.json --force -o {}/short.json".to_owned(),
            "is an input",
        ),
    ] {
        let ran = on(&folder, &format!("transfer {arguments}"));
        assert_eq!(ran.status, 2, "{arguments}: {}", ran.out);
        assert!(
            ran.err.contains(said) && ran.out.is_empty(),
            "{arguments}: {}",
            ran.err
        );
    }
    assert_eq!(names(folder.path()), before);
}
