//! Takes with calibrations: bands, what is said about ring positions, rangefinders, drift.

use std::fmt::Write;
use std::path::Path;

use ringmark_tests::{Ran, root};
use serde_json::Value;

use crate::{program, run_in};

/// Ring position of a thin 50 mm lens on a linear helicoid, 0 at 0.5 m (Gauss, Newton).
fn ring(metres: f64) -> f64 {
    let extension = |metres: f64| {
        let k = metres * 1000.0 - 100.0;
        if k.is_infinite() {
            0.0
        } else {
            5000.0 / (k + (k * k - 10_000.0).sqrt())
        }
    };
    1.0 - extension(metres) / extension(0.5)
}

/// The lens, its scale marked out to `farthest`.
fn lens(farthest: f64) -> String {
    let mut text = "# document: ring calibration\n# model: Skerry 50\n# serial: SK-0117\n# kind: prime\n\
                    # focal length: 50 mm\n# widest f-number: 2\n# measured from: image plane\n\
                    # focus encoder: 0..65535\n# focus rotation: 300 deg\nring,position [count],mark [m]\n"
        .to_owned();
    let marks = [0.5, 0.6, 0.7, 0.9, 1.2, 1.5, 2.0, 3.0, 5.0, f64::INFINITY];
    for metres in marks.into_iter().filter(|metres| *metres <= farthest) {
        writeln!(text, "focus,{:.0},{metres}", ring(metres) * 65535.0).unwrap();
    }
    text
}

/// A walking subject, a rangefinder 120 mm in front of the image plane and `lag` frames late, a ring that slipped.
fn take(clip: &str, seed: f64, lag: f64, slip: f64) -> String {
    let subject = |frame: f64| {
        0.75 - 0.3 * (frame / 30.0 + seed).cos() - 0.1 * (frame / 41.0 + 2.0 * seed).sin()
    };
    let mut text = format!(
        "# document: take\n# clip: {clip}\n# frame rate: 24\nframe,focus ring [0..1],rangefinder [m],f-number\n"
    );
    for frame in 0..480 {
        let at = f64::from(frame);
        let scatter = 1.0 + 0.01 * (at * 12.9898 + seed).sin();
        let reading = scatter / subject(at - lag) - 0.12;
        let ring = ring(1.0 / subject(at)) - slip;
        writeln!(text, "{},{ring:.6},{reading:.4},2.8", 1001 + frame).unwrap();
    }
    text
}

struct Files(tempfile::TempDir);

impl Files {
    fn new(farthest: f64) -> Files {
        let files = Files(tempfile::tempdir().unwrap());
        files.put("lens.csv", &lens(farthest));
        let made = files.run("convert {}/lens.csv -o {}/l.lens.json");
        assert_eq!(made.status, 0, "{}", made.err);
        files
    }

    fn put(&self, name: &str, text: &str) {
        std::fs::write(self.path().join(name), text).unwrap();
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn run(&self, arguments: &str) -> Ran {
        run_in(&program(), self.path(), arguments)
    }
}

fn json(ran: &Ran) -> Value {
    serde_json::from_str(&ran.out).unwrap_or_else(|_| panic!("{}\n{}", ran.out, ran.err))
}

fn assert_fits_the_schema(report: &Value) {
    let schema = std::fs::read_to_string(root().join("schemas/drift.schema.json")).unwrap();
    let validator = jsonschema::validator_for(&serde_json::from_str(&schema).unwrap()).unwrap();
    let errors: Vec<String> = validator
        .iter_errors(report)
        .map(|error| error.to_string())
        .collect();
    assert!(errors.is_empty(), "{errors:?}");
}

#[test]
fn the_band_stands_beside_the_values_and_holds_the_truth() {
    let files = Files::new(f64::INFINITY);
    let mut text = "# document: take\nframe,focus ring [0..1]\n".to_owned();
    let truth = [0.55, 0.8, 1.7, 4.0];
    for (frame, metres) in truth.iter().enumerate() {
        writeln!(text, "{},{:.7}", 1001 + frame, ring(*metres)).unwrap();
    }
    files.put("t.csv", &text);
    let ran = files.run("convert {}/t.csv --to take.json --lens {}/l.lens.json --derive band");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let channels = &json(&ran)["takes"][0]["channels"];
    let column = |name: &str| channels[name]["values"].as_array().unwrap().clone();
    let (value, low, high) = (
        column("focus-distance"),
        column("extra/focus-distance-low"),
        column("extra/focus-distance-high"),
    );
    for (at, truth) in truth.iter().enumerate() {
        let of = |column: &[Value]| column[at].as_f64().unwrap();
        assert!(of(&low) < of(&value) && of(&value) < of(&high), "{truth}");
        assert!(
            of(&low) <= *truth && *truth <= of(&high),
            "{truth}: {low:?} {high:?}"
        );
        // Marks in whole counts of 65535.
        assert!(
            of(&high) - of(&low) < 0.02 * truth,
            "{truth}: {low:?} {high:?}"
        );
    }
    assert_eq!(
        channels["extra/focus-distance-low"]["origin"],
        "interpolated"
    );
    assert!(ran.err.contains("95 % band typically ±"), "{}", ran.err);
    let plain = files.run("convert {}/t.csv --to take.json --lens {}/l.lens.json");
    assert!(
        !plain.out.contains("focus-distance-low") && !plain.err.contains("band"),
        "{}",
        plain.err
    );
    let table = files.run("convert {}/t.csv --to table --lens {}/l.lens.json --derive band");
    assert!(
        table
            .out
            .contains("focus-distance-low [m],focus-distance-high [m]"),
        "{}{}",
        table.out,
        table.err
    );
    let shown = files.run("show {}/t.csv --lens {}/l.lens.json");
    assert!(
        shown.err.contains("95 % band typically ±") && !shown.out.contains("-low"),
        "{}",
        shown.err
    );
}

#[test]
fn positions_that_no_mark_vouches_for_are_counted() {
    let files = Files::new(5.0);
    files.put(
        "t.csv",
        "# document: take\nframe,focus ring [0..1]\n1001,0.5\n1002,0.97\n1003,0.975\n1004,-0.2\n1005,\n",
    );
    let ran = files.run("convert {}/t.csv --to take.json --lens {}/l.lens.json");
    for said in [
        "beyond the last mark in 2 frames (50 %): extrapolated",
        "off the scale in 1 frame (25 %): no value there",
    ] {
        assert!(ran.err.contains(said), "{}", ran.err);
    }
    let values = &json(&ran)["takes"][0]["channels"]["focus-distance"]["values"];
    assert!(values[2].as_f64().unwrap() > 5.0 && values[3].is_null() && values[4].is_null());
}

#[test]
fn a_take_without_ring_positions_is_said_to_have_none() {
    let files = Files::new(f64::INFINITY);
    files.put("t.csv", "# document: take\nframe,f-number\n1001,2.8\n");
    for command in ["convert {}/t.csv --to take.json", "show {}/t.csv"] {
        let ran = files.run(&format!("{command} --lens {{}}/l.lens.json"));
        assert!(
            ran.err.contains("no ring positions are recorded"),
            "{command}: {}",
            ran.err
        );
    }
    let ran = files.run("check {}/t.csv --lens {}/l.lens.json");
    assert!(
        ran.err.contains("no ring positions: nothing is compared"),
        "{}",
        ran.err
    );
}

#[test]
fn a_rangefinder_is_compared_with_its_offset_and_lag() {
    let files = Files::new(f64::INFINITY);
    files.put("t.csv", &take("A001C001", 0.0, 3.4, 0.0));
    let check = "check {}/t.csv --lens {}/l.lens.json --report json --rangefinder-offset";
    let ran = files.run(&format!("{check} 120mm"));
    assert_eq!(ran.status, 0, "{}", ran.out);
    let report = json(&ran);
    let findings = report["findings"].as_array().unwrap();
    assert_eq!(findings.len(), 1, "{report:#}");
    assert_eq!(findings[0]["check"], "rangefinder-lags");
    let lag = findings[0]["values"]
        .as_array()
        .unwrap()
        .iter()
        .find(|value| value["name"] == "lag");
    assert!(
        (lag.unwrap()["value"].as_f64().unwrap() - 3.4).abs() < 0.3,
        "{report:#}"
    );
    let wrong = json(&files.run(&format!("{check} 1in")));
    let offset = wrong["findings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|finding| finding["check"] == "rangefinder-offset-likely");
    assert!(
        offset.unwrap()["repair"]["action"]
            .as_str()
            .unwrap()
            .starts_with("state --rangefinder-offset 1"),
        "{wrong:#}"
    );
    let refused = files.run(&format!("{check} 120"));
    assert!(
        refused.status == 2 && refused.err.contains("a length with its unit"),
        "{}",
        refused.err
    );
}

#[test]
fn drift_finds_the_take_at_which_the_ring_slipped() {
    let files = Files::new(f64::INFINITY);
    let mut names = String::new();
    for (n, slip) in [0.0, 0.0, 0.0, 0.012, 0.012, 0.012].into_iter().enumerate() {
        let name = format!("t{n}.csv");
        files.put(&name, &take(&format!("A001C00{n}"), n as f64, 3.4, slip));
        write!(names, " {{}}/{name}").unwrap();
    }
    let ran = files.run(&format!(
        "drift {{}}/l.lens.json{names} --rangefinder-offset 120mm --json"
    ));
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report = json(&ran);
    assert_fits_the_schema(&report);
    assert_eq!(
        (&report["course"], &report["step_at"]),
        (&"step".into(), &4.into()),
        "{report:#}"
    );
    assert!(
        (report["change"]["value"].as_f64().unwrap() - 0.012).abs() < 0.0015,
        "{report:#}"
    );
    for (take, slip) in report["takes"]
        .as_array()
        .unwrap()
        .iter()
        .zip([0.0, 0.0, 0.0, 0.012, 0.012, 0.012])
    {
        let offset = take["ring_offset"]["value"].as_f64().unwrap();
        assert!((offset - slip).abs() < 0.0015, "{take:#}");
        assert!(
            (take["lag_frames"]["value"].as_f64().unwrap() - 3.4).abs() < 0.5,
            "{take:#}"
        );
    }
    // The mean in the other units: 300 degrees, 65535 counts.
    let mean = report["ring_offset"]["value"].as_f64().unwrap();
    assert!((report["degrees"].as_f64().unwrap() / mean - 300.0).abs() < 1e-6);
    assert!((report["counts"].as_f64().unwrap() / mean - 65535.0).abs() < 1e-3);
    let text = files.run(&format!(
        "drift {{}}/l.lens.json{names} --rangefinder-offset 120mm"
    ));
    assert!(text.out.contains("at take 4 (A001C003)"), "{}", text.out);
    // Without an offset that is stated, ring and rangefinder cannot be told apart.
    let unknown = json(&files.run(&format!("drift {{}}/l.lens.json{names} --json")));
    assert_fits_the_schema(&unknown);
    assert!(
        unknown.get("ring_offset").is_none()
            && unknown["advice"][0]
                .as_str()
                .unwrap()
                .contains("--rangefinder-offset"),
        "{unknown:#}"
    );
}

/// A take of the lens called `lens` with a gap in its distances.
fn with_gap(lens: &str) -> String {
    format!(
        "# document: take\n# clip: A007C001\n# frame rate: 24\n{lens}# close focus: 0.5 m\n# squeeze: 1\n# measured from: image plane\n\
         frame,focus ring [0..1],focus distance [m],T-stop\n1001,0.6,1.105,2.8\n1002,0.6,,2.8\n1003,0.6,1.105,2.8\n"
    )
}

#[test]
fn the_lens_of_a_take_and_its_calibration_are_one() {
    let files = Files::new(f64::INFINITY);
    let named = "# lens model: SKERRY 50\n# lens serial: sk 0117\n";
    files.put("t.csv", &with_gap(named));
    let ran = files.run("convert {}/t.csv --to take.json --lens {}/l.lens.json");
    let document = json(&ran);
    let lenses = document["lenses"].as_array().unwrap();
    assert_eq!(lenses.len(), 1, "{document:#}");
    assert_eq!(lenses[0]["serial"], "SK-0117");
    assert!(lenses[0]["rings"][0]["marks"].is_array(), "{lenses:#?}");
    // What only the take says of it stays.
    assert_eq!(lenses[0]["squeeze"], 1, "{lenses:#?}");
    assert!(
        ran.err.contains(
            "focus-distance: not recorded in 1 frame, which are not filled from the ring"
        ),
        "{}",
        ran.err
    );
    // A table holds one lens.
    let table = files.run("convert {}/t.csv --to table --lens {}/l.lens.json");
    assert_eq!(table.status, 0, "{}", table.err);
    assert!(
        table.out.contains("# lens serial: SK-0117"),
        "{}",
        table.out
    );
}

#[test]
fn nothing_is_taken_from_the_calibration_of_another_lens() {
    let files = Files::new(f64::INFINITY);
    let other = "# lens model: Skerry 50\n# lens serial: SK-0200\n";
    let take = with_gap(other)
        .replace(",focus distance [m]", "")
        .replace(",1.105,", ",");
    files.put("t.csv", &take.replace(",,", ","));
    let ran = files.run("convert {}/t.csv --to take.json --lens {}/l.lens.json");
    let document = json(&ran);
    assert_eq!(document["lenses"].as_array().unwrap().len(), 1);
    assert_eq!(document["lenses"][0]["serial"], "SK-0200");
    assert!(
        document["takes"][0]["channels"]
            .get("focus-distance")
            .is_none()
    );
    let shown = files.run("show {}/t.csv --lens {}/l.lens.json");
    assert!(
        shown.err.contains("nothing is taken from it"),
        "{}",
        shown.err
    );
    let said = "names the lens “Skerry 50 #SK-0200”, the calibration ";
    assert!(
        ran.err.contains(said)
            && ran
                .err
                .contains("is for “Skerry 50 #SK-0117”: nothing is taken from it"),
        "{}",
        ran.err
    );
}

#[test]
fn drift_that_cannot_be_told_fails() {
    let files = Files::new(f64::INFINITY);
    let lens = files.run("drift {}/l.lens.json {}/l.lens.json");
    assert_eq!(lens.status, 2);
    assert!(lens.err.contains("holds no take"), "{}", lens.err);
    files.put("bare.csv", "# document: take\nframe,T-stop\n1001,2.8\n");
    let bare = files.run("drift {}/l.lens.json {}/bare.csv");
    assert_eq!(bare.status, 2);
    assert!(bare.out.contains("no take tells an offset"), "{}", bare.out);
    let table = files.run("drift {}/lens.csv {}/bare.csv");
    assert!(
        table.err.contains("a calibration is a .lens.json here"),
        "{}",
        table.err
    );
}
