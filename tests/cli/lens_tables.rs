//! Tables of a lens over focus and zoom, and distances from other points of it, on a ray-traced lens:
//! `tests/standards/traced/README.md`.

use std::fmt::Write;

use ringmark_tests::{Ran, root};
use serde_json::{Value, json};

use crate::{program, run_in};

/// Distance from the image plane in m, entrance pupil and pinhole focal length in mm.
fn traced() -> Vec<[f64; 3]> {
    let text =
        std::fs::read_to_string(root().join("tests/standards/traced/internal-85.csv")).unwrap();
    let rows = text.lines().skip(1).map(|line| {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        [cells[3], cells[5], cells[6]]
    });
    rows.collect()
}

/// Ten rows of 240 stand in the table: the others are the truth between them.
fn known() -> Vec<[f64; 3]> {
    let rows = traced();
    let near = 1.0 / rows[0][0];
    (0..10)
        .map(|k| {
            let wanted = near * (1.0 - f64::from(k) / 9.0);
            let off = |row: &[f64; 3]| (1.0 / row[0] - wanted).abs();
            *rows
                .iter()
                .min_by(|a, b| off(a).total_cmp(&off(b)))
                .unwrap()
        })
        .collect()
}

fn lens(reference: &str) -> Value {
    let rows = known();
    let of = |column: usize| rows.iter().map(|row| row[column]).collect::<Vec<f64>>();
    let marks: Vec<Value> = traced()
        .iter()
        .step_by(24)
        .enumerate()
        .map(|(k, row)| json!({"position": k as f64 / 10.0, "value": row[0], "engraved": format!("{}", row[0])}))
        .collect();
    json!({"lens_data": "1.0", "lenses": [{
        "model": "Skerry 85", "kind": "prime", "focal_length_mm": [85, 85], "close_focus_m": 0.9,
        "close_focus_reference": "image-plane",
        "rings": [{"axis": "focus", "quantity": "focus-distance", "reference": "image-plane", "unit": "m", "marks": marks}],
        "tables": [{"name": "breathing", "columns": {
            "focus-distance": {"unit": "m", "reference": reference, "values": of(0)},
            "pinhole-focal-length": {"unit": "mm", "values": of(2)},
            "entrance-pupil-offset": {"unit": "mm", "values": of(1)}}}]}]})
}

struct Files(tempfile::TempDir);

impl Files {
    fn new(reference: &str) -> Files {
        let files = Files(tempfile::tempdir().unwrap());
        files.put("l.lens.json", &lens(reference).to_string());
        let mut take =
            "# document: take\n# measured from: image plane\nframe,focus distance [m]\n".to_owned();
        for (frame, row) in traced().iter().enumerate() {
            writeln!(take, "{},{}", 1001 + frame, row[0]).unwrap();
        }
        files.put("t.csv", &take);
        files
    }

    fn put(&self, name: &str, text: &str) {
        std::fs::write(self.0.path().join(name), text).unwrap();
    }

    fn run(&self, arguments: &str) -> Ran {
        run_in(&program(), self.0.path(), arguments)
    }

    /// The one take of a conversion.
    fn take(&self, arguments: &str) -> (Value, String) {
        let ran = self.run(&format!("convert {{}}/t.csv --to take.json {arguments}"));
        assert_eq!(ran.status, 0, "{}", ran.err);
        let document: Value = serde_json::from_str(&ran.out).unwrap();
        (document["takes"][0].clone(), ran.err)
    }
}

fn values(take: &Value, channel: &str) -> Vec<f64> {
    let values = take["channels"][channel]["values"].as_array();
    let values = values.unwrap_or_else(|| panic!("no {channel}: {take}"));
    values
        .iter()
        .map(|value| value.as_f64().unwrap_or(f64::NAN))
        .collect()
}

#[test]
fn breathing_and_pupil_of_every_frame_are_those_of_the_traced_lens() {
    let (take, _) = Files::new("image-plane").take("--lens {}/l.lens.json");
    let (pinhole, pupil) = (
        values(&take, "pinhole-focal-length"),
        values(&take, "entrance-pupil-offset"),
    );
    assert_eq!(pinhole.len(), 240);
    for (row, (pinhole, pupil)) in traced().iter().zip(pinhole.iter().zip(&pupil)) {
        assert!((pinhole - row[2]).abs() < 0.005, "{row:?}: {pinhole}");
        assert!((pupil - row[1]).abs() < 0.01, "{row:?}: {pupil}");
    }
    assert_eq!(
        take["channels"]["pinhole-focal-length"]["origin"],
        "interpolated"
    );
}

#[test]
fn what_a_table_cannot_give_is_said() {
    let files = Files::new("entrance-pupil");
    let (take, told) = files.take("--lens {}/l.lens.json");
    assert!(take["channels"].get("pinhole-focal-length").is_none());
    assert!(
        told.contains("table 'breathing' of")
            && told.contains("measured from: entrance pupil, those of the take from: image plane"),
        "{told}"
    );
    let files = Files::new("image-plane");
    files.put("t.csv", "# document: take\n# measured from: image plane\nframe,focus distance [m]\n1,0.85\n2,1.5\n3,\n");
    let (take, told) = files.take("--lens {}/l.lens.json");
    let pinhole = values(&take, "pinhole-focal-length");
    assert!(pinhole[0].is_nan() && pinhole[1] > 85.0 && pinhole[2].is_nan());
    assert!(
        told.contains("has no value for 1 of 2 frames: nothing is computed beyond its rows"),
        "{told}"
    );
}

#[test]
fn distances_from_the_pupil_come_back_to_the_image_plane() {
    let files = Files::new("image-plane");
    let (take, _) = files.take("--lens {}/l.lens.json --measured-from entrance-pupil");
    let head = &take["channels"]["focus-distance"];
    assert_eq!(
        (&head["reference"], &head["origin"]),
        (&json!("entrance-pupil"), &json!("converted"))
    );
    for (row, distance) in traced().iter().zip(values(&take, "focus-distance")) {
        let truth = row[0] - row[1] / 1000.0;
        assert!((distance - truth).abs() < 1e-5, "{row:?}: {distance}");
    }
    // A take without a pupil has no distance from it.
    let ran = files.run("convert {}/t.csv --to take.json --measured-from entrance-pupil");
    assert_eq!(ran.status, 2, "{}", ran.err);
    assert!(
        ran.err.contains("frame 1001, focus-distance")
            && ran.err.contains("--lens with a table of it"),
        "{}",
        ran.err
    );
}

#[test]
fn a_scale_is_carried_to_another_point_and_back() {
    let files = Files::new("image-plane");
    for (point, name) in [
        ("entrance-pupil", "ep"),
        ("front-vertex --front-vertex 130mm", "fv"),
    ] {
        let there = files.run(&format!(
            "convert {{}}/l.lens.json --measured-from {point} -o {{}}/{name}.lens.json"
        ));
        assert_eq!(there.status, 0, "{}", there.err);
        let back = files.run(&format!(
            "convert {{}}/{name}.lens.json --to lens.json --measured-from image-plane --front-vertex 130mm"
        ));
        assert_eq!(back.status, 0, "{}", back.err);
        let text =
            std::fs::read_to_string(files.0.path().join(format!("{name}.lens.json"))).unwrap();
        let (there, back): (Value, Value) = (
            serde_json::from_str(&text).unwrap(),
            serde_json::from_str(&back.out).unwrap(),
        );
        let ring = &there["lenses"][0]["rings"][0];
        assert_eq!(ring["reference"], point.split(' ').next().unwrap());
        let reference = &there["lenses"][0]["close_focus_reference"];
        assert_eq!(*reference, ring["reference"]);
        let marks = |document: &Value| -> Vec<f64> {
            let marks = document["lenses"][0]["rings"][0]["marks"]
                .as_array()
                .unwrap();
            marks
                .iter()
                .map(|mark| mark["value"].as_f64().unwrap())
                .collect()
        };
        for (k, row) in traced().iter().step_by(24).enumerate() {
            let truth = if name == "ep" { row[1] / 1000.0 } else { 0.13 };
            assert!(
                (marks(&there)[k] - (row[0] - truth)).abs() < 1e-5,
                "{name} {row:?}"
            );
            assert!((marks(&back)[k] - row[0]).abs() < 1e-9, "{name} {row:?}");
        }
        assert!(ring["marks"][0].get("engraved").is_none());
    }
    let ran = files.run("convert {}/l.lens.json --to lens.json --measured-from front-vertex");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("give --front-vertex"), "{}", ran.err);
    let ran = files.run(
        "convert {}/l.lens.json --to lens.json --measured-from front-vertex --front-vertex 130",
    );
    assert!(
        ran.status == 2 && ran.err.contains("expected a length with its unit"),
        "{}",
        ran.err
    );
}

#[test]
fn a_zoom_is_never_wider_than_its_table_says() {
    let files = Files::new("image-plane");
    let iris = json!([{"position": 0.0, "value": 2.9}, {"position": 0.5, "value": 5.6}, {"position": 1.0, "value": 11.0}]);
    let lens = json!({"lens_data": "1.0", "lenses": [{"model": "Skerry 28-76", "kind": "zoom", "focal_length_mm": [28, 76],
        "rings": [{"axis": "iris", "quantity": "t-stop", "unit": "T", "marks": iris}],
        "tables": [{"name": "widest stop", "columns": {
            "nominal-focal-length": {"unit": "mm", "values": [28, 60, 76]}, "t-stop": {"unit": "T", "values": [2.9, 2.9, 3.4]}}}]}]});
    files.put("z.lens.json", &lens.to_string());
    files.put(
        "t.csv",
        "# document: take\nframe,iris ring [0..1],focal length [mm]\n1,0,28\n2,0,76\n3,1,76\n",
    );
    let (take, told) = files.take("--lens {}/z.lens.json");
    let stops = values(&take, "t-stop");
    assert!(
        (stops[0] - 2.9).abs() < 0.01 && stops[1] == 3.4 && (stops[2] - 11.0).abs() < 0.05,
        "{stops:?} {told}"
    );
}

/// The ring position of a focus distance on a zoom that does not hold focus: a thin front group of 90 mm on a linear helicoid
/// (Gauss), and a shift over the zoom that the ring makes up for.
fn wandering(metres: f64, mm: f64) -> f64 {
    let extension = 0.09f64.powi(2) / (metres - 0.09);
    0.9 - extension / 0.012 + 0.04 * (1.7 * (mm / 28.0).ln()).sin()
}

#[test]
fn a_zoom_that_does_not_hold_focus_has_a_scale_at_each_focal_length() {
    let files = Files::new("image-plane");
    let (mut ring, mut mm, mut metres) = (Vec::new(), Vec::new(), Vec::new());
    for focal_length in [28.0, 35.0, 46.0, 60.0, 76.0] {
        for distance in [0.8, 1.0, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0, f64::INFINITY] {
            ring.push(wandering(distance, focal_length));
            mm.push(focal_length);
            metres.push(if distance.is_infinite() {
                json!("inf")
            } else {
                json!(distance)
            });
        }
    }
    let zoom = json!([{"position": 0.0, "value": 28}, {"position": 0.3, "value": 35}, {"position": 0.6, "value": 50}, {"position": 1.0, "value": 76}]);
    let lens = json!({"lens_data": "1.0", "lenses": [{"model": "Skerry 28-76", "kind": "zoom", "focal_length_mm": [28, 76],
        "rings": [{"axis": "zoom", "quantity": "focal-length", "unit": "mm", "marks": zoom}],
        "tables": [{"name": "focus scale", "columns": {
            "focus-ring": {"unit": "0..1", "values": ring},
            "nominal-focal-length": {"unit": "mm", "values": mm},
            "focus-distance": {"unit": "m", "reference": "image-plane", "values": metres}}}]}]});
    files.put("z.lens.json", &lens.to_string());
    let mut take =
        "# document: take\nframe,focus ring [0..1],zoom ring [0..1],focal length [mm]\n".to_owned();
    let truth = [
        (2.0, 28.0),
        (2.0, 40.0),
        (1.1, 55.0),
        (7.0, 70.0),
        (f64::INFINITY, 33.0),
    ];
    for (frame, (distance, focal_length)) in truth.iter().enumerate() {
        writeln!(
            take,
            "{},{:.9},,{focal_length}",
            1001 + frame,
            wandering(*distance, *focal_length)
        )
        .unwrap();
    }
    files.put("t.csv", &take);
    let (read, told) = files.take("--lens {}/z.lens.json");
    let found: Vec<f64> = read["channels"]["focus-distance"]["values"]
        .as_array()
        .unwrap()
        .iter()
        .map(|value| {
            if value == "inf" {
                f64::INFINITY
            } else {
                value.as_f64().unwrap()
            }
        })
        .collect();
    for ((distance, focal_length), found) in truth.iter().zip(&found) {
        let off = (1.0 / found - 1.0 / distance).abs();
        assert!(
            off < 0.01,
            "{distance} m at {focal_length} mm: {found} {told}"
        );
    }
    assert_eq!(
        read["channels"]["focus-distance"]["reference"],
        "image-plane"
    );
    // One ring position alone is no distance on such a lens.
    files.put(
        "t.csv",
        "# document: take\nframe,focus ring [0..1]\n1001,0.5\n",
    );
    let (read, told) = files.take("--lens {}/z.lens.json");
    assert!(read["channels"].get("focus-distance").is_none());
    assert!(
        told.contains("table 'focus scale'")
            && told.contains("the take has no nominal focal length"),
        "{told}"
    );
}

/// A take is read in batches: a stretch off the table in one of them leaves the channel where it is in the others.
#[test]
fn a_long_stretch_off_the_table_is_not_recorded_and_the_rest_is() {
    let files = Files::new("image-plane");
    let mut take =
        "# document: take\n# measured from: image plane\nframe,focus distance [m]\n".to_owned();
    for frame in 0..40_000 {
        let distance = if frame < 20_000 { 0.8 } else { 1.5 };
        writeln!(take, "{frame},{distance}").unwrap();
    }
    files.put("t.csv", &take);
    let (read, told) = files.take("--lens {}/l.lens.json");
    let pinhole = values(&read, "pinhole-focal-length");
    assert_eq!(pinhole.len(), 40_000);
    assert!(pinhole[..20_000].iter().all(|mm| mm.is_nan()));
    assert!(pinhole[20_000..].iter().all(|mm| *mm > 85.0));
    assert!(
        told.contains("has no value for 20000 of 40000 frames"),
        "{told}"
    );
}
