//! Reading stages whose values are known from the reference library.

#![allow(clippy::unwrap_used)]

mod common;

use common::{checks, data, read, remarks, stage, take, takes, text};
use serde_json::Value;

fn expected(name: &str) -> Value {
    let all: Value = serde_json::from_slice(&data("expected.json")).unwrap();
    all["files"][name].clone()
}

/// Every frame of every camera as usd-core 26.11 resolves it. `length` and `distance` lead from
/// the units that the plugin states to mm and m.
fn compare(name: &str, length: (&str, f64), distance: (&str, f64)) -> usize {
    let expected = expected(name);
    let items = read(&data(name)).unwrap();
    let takes = takes(&items);
    let cameras = expected["cameras"].as_array().unwrap();
    assert_eq!(takes.len(), cameras.len());
    let mut compared = 0;
    for (take, camera) in takes.iter().zip(cameras) {
        assert!(take.has(&format!("clip = {} []", camera["path"])));
        let frames = camera["frames"].as_array().unwrap();
        assert_eq!(take.frames, frames.len());
        for (row, frame) in frames.iter().enumerate() {
            assert_eq!(
                take.numbers("frame")[row],
                frame["time_code"].as_f64().unwrap()
            );
            for (channel, key, (unit, factor)) in [
                ("pinhole-focal-length", "focal_length_mm", length),
                ("focus-distance", "focus_distance_m", distance),
                ("f-number", "f_stop", ("f", 1.0)),
            ] {
                let Some(column) = take.columns.get(channel) else {
                    continue;
                };
                assert!(
                    column.kind.starts_with(&format!("number {unit} ")),
                    "{}",
                    column.kind
                );
                match (frame[key].as_f64(), take.numbers(channel)[row]) {
                    (None, found) => assert!(found.is_nan()),
                    (Some(value), found) => {
                        assert!(
                            (found * factor / value - 1.0).abs() < 1e-15,
                            "{found} {value}"
                        );
                    }
                }
                compared += 1;
            }
        }
    }
    compared
}

#[test]
fn a_rack_in_centimetres() {
    assert_eq!(compare("rack_cm.usda", ("mm", 1.0), ("cm", 0.01)), 144);
    let items = read(&data("rack_cm.usda")).unwrap();
    let take = take(&items);
    for fact in [
        "clip = \"/World/ShotCam\" []",
        "frame-rate = \"24\" []",
        "sensor-width = 27.989999771118164 [mm]",
        "sensor-height = 19.219999313354492 [mm]",
        "extra/horizontalApertureOffset = 0.012500000186264515 [mm]",
        "extra/verticalApertureOffset = -0.007000000216066837 [mm]",
        "extra/customData:lensModel = \"Halden 32\" []",
    ] {
        assert!(take.has(fact), "{fact} in {:?}", take.facts);
    }
    assert_eq!(
        take.columns["focus-distance"].kind,
        "number cm entrance-pupil"
    );
    // 360 * (0.25 + 0.25), one time code a frame.
    assert_eq!(take.numbers("shutter-angle"), [180.0; 48]);
    assert_eq!(checks(&items), ["attributes-not-carried"]);
    assert!(remarks(&items)[0].message.ends_with("clippingRange"));
}

#[test]
fn a_rack_in_metres() {
    assert_eq!(compare("rack_m.usda", ("mm", 1.0), ("m", 1.0)), 144);
    let take = take(&read(&data("rack_m.usda")).unwrap());
    let width = expected("rack_m.usda")["cameras"][0]["horizontal_aperture_mm"]
        .as_f64()
        .unwrap();
    let fact = take
        .facts
        .iter()
        .find_map(|f| f.strip_prefix("sensor-width = "))
        .unwrap();
    let found: f64 = fact.strip_suffix(" [mm]").unwrap().parse().unwrap();
    assert!((found / width - 1.0).abs() < 1e-15, "{fact}");
}

#[test]
fn attributes_with_different_keys() {
    assert_eq!(compare("sparse_keys.usda", ("mm", 1.0), ("cm", 0.01)), 144);
    let told = remarks(&read(&data("sparse_keys.usda")).unwrap());
    let told: Vec<_> = told
        .iter()
        .map(|r| (&*r.check, r.at.as_ref().unwrap()))
        .collect();
    assert_eq!(told.len(), 2, "{told:?}");
    for (check, at) in &told {
        assert_eq!(*check, "values-interpolated");
        assert!(at.field.starts_with("/World/ShotCam.f") && at.offset > 0);
    }
}

#[test]
fn a_blocked_sample_is_not_recorded() {
    // The second camera says nothing at all: fallbacks of the schema were not recorded.
    let expected = expected("two_cameras_block.usda");
    let takes = takes(&read(&data("two_cameras_block.usda")).unwrap());
    assert_eq!(
        expected["cameras"][0]["frames"][1]["focus_distance_m"],
        Value::Null
    );
    assert_eq!(
        format!("{:?}", takes[0].numbers("focus-distance")),
        "[150.0, NaN, 300.0]"
    );
    assert_eq!(takes[0].numbers("pinhole-focal-length"), [32.25; 3]);
    let f_number = expected["cameras"][0]["frames"][0]["f_stop"]
        .as_f64()
        .unwrap();
    assert_eq!(takes[0].numbers("f-number"), [f_number; 3]);
    assert_eq!(takes[1].columns.keys().collect::<Vec<_>>(), ["frame"]);
    // 25 time codes a second and no framesPerSecond.
    assert!(takes[0].has("frame-rate = \"25\" []"));
}

#[test]
fn a_camera_without_time() {
    let items = read(&data("defaults_only.usda")).unwrap();
    let take = take(&items);
    let expected = expected("defaults_only.usda");
    let focal_length = &expected["cameras"][0]["default_focal_length_mm"];
    assert_eq!(
        take.numbers("pinhole-focal-length"),
        [focal_length.as_f64().unwrap()]
    );
    assert_eq!(take.columns.len(), 1);
    assert_eq!(take.facts, ["clip = \"/cam\" []"]);
    assert_eq!(checks(&items), ["unit-unstated", "film-back-unstated"]);
}

#[test]
fn what_a_number_means_depends_on_the_scene_unit() {
    // Source: mm = value * metersPerUnit * 100, m = value * metersPerUnit.
    for (unit, length, distance) in [
        ("0.01", (32.0, "mm"), (200.0, "cm")),
        ("1", (3200.0, "mm"), (200.0, "m")),
        ("0.001", (3.2, "mm"), (200.0, "mm")),
        ("0.0254", (81.28, "mm"), (200.0, "in")),
        ("0.3048", (975.36, "mm"), (200.0, "ft")),
        ("0.1", (32.0, "cm"), (20.0, "m")),
    ] {
        let file = stage(
            &format!("metersPerUnit = {unit}"),
            "float focalLength = 32\nfloat focusDistance = 200\n",
        );
        let take = take(&read(file.as_bytes()).unwrap());
        for (channel, (value, unit)) in [
            ("pinhole-focal-length", length),
            ("focus-distance", distance),
        ] {
            let found = take.numbers(channel)[0];
            assert!(
                (found / value - 1.0).abs() < 1e-15,
                "{channel} {found} {value}"
            );
            assert!(
                take.columns[channel]
                    .kind
                    .starts_with(&format!("number {unit} "))
            );
        }
    }
}

#[test]
fn no_scene_unit_is_an_error() {
    let good = text("rack_cm.usda");
    for wrong in ["0", "-0.01", "nan", "inf"] {
        let file = good.replace("metersPerUnit = 0.01", &format!("metersPerUnit = {wrong}"));
        let failure = read(file.as_bytes()).unwrap_err();
        assert!(
            failure.message.contains("metersPerUnit"),
            "{}",
            failure.message
        );
        let at = failure.at.unwrap();
        assert_eq!(at.offset as usize, good.find("= 0.01").unwrap() + 2);
    }
}

#[test]
fn millimetres_written_in_a_stage_of_metres_are_suspected() {
    for (unit, focal_length, suspected) in [
        ("1", "32", true),
        ("1", "0.32", false),
        ("0.001", "18", true),
        ("0.001", "320", false),
        ("0.01", "32", false),
    ] {
        let file = stage(
            &format!("metersPerUnit = {unit}"),
            &format!("float focalLength.timeSamples = {{1: {focal_length}}}"),
        );
        let told = remarks(&read(file.as_bytes()).unwrap());
        let told = told.iter().find(|r| r.check == "scale-in-other-unit");
        assert_eq!(told.is_some(), suspected, "{unit} {focal_length}");
        if let Some(remark) = told {
            assert!(
                remark
                    .help
                    .contains("likely cause: millimetres were written")
            );
        }
    }
}

#[test]
fn zero_is_switched_off_and_not_unknown() {
    let file = stage(
        "startTimeCode = 1\nendTimeCode = 2",
        "float fStop = 0\nfloat focusDistance.timeSamples = {1: 0, 2: 100}\ndouble shutter:open = 0",
    );
    let items = read(file.as_bytes()).unwrap();
    let take = take(&items);
    assert!(!take.columns.contains_key("f-number"));
    assert!(!take.columns.contains_key("shutter-angle"));
    assert_eq!(
        format!("{:?}", take.numbers("focus-distance")),
        "[NaN, 100.0]"
    );
    let told = checks(&items);
    assert_eq!(
        told.iter().filter(|c| *c == "zero-is-no-value").count(),
        3,
        "{told:?}"
    );
}

#[test]
fn infinity_nan_and_absence_are_three_things() {
    let file = stage(
        "startTimeCode = 1\nendTimeCode = 4\nmetersPerUnit = 1",
        "float focusDistance.timeSamples = {1: inf, 2: nan, 3: None, 4: 1.5}",
    );
    let items = read(file.as_bytes()).unwrap();
    let found = take(&items).numbers("focus-distance");
    assert_eq!(format!("{found:?}"), "[inf, NaN, NaN, 1.5]");
    assert_eq!(checks(&items), ["value-not-a-number"]);
}

#[test]
fn shutter_times_are_an_angle() {
    for (metadata, open, close, angle) in [
        ("timeCodesPerSecond = 24", "-0.25", "0.25", 180.0),
        ("timeCodesPerSecond = 24", "0", "0.4", 144.0),
        // Two time codes a frame.
        (
            "timeCodesPerSecond = 48\nframesPerSecond = 24",
            "0",
            "1",
            180.0,
        ),
    ] {
        let file = stage(
            &format!("{metadata}\nstartTimeCode = 0\nendTimeCode = 2"),
            &format!("double shutter:open = {open}\ndouble shutter:close = {close}"),
        );
        let take = take(&read(file.as_bytes()).unwrap());
        assert!(take.numbers("shutter-angle").iter().all(|a| *a == angle));
        // Half before the frame is what follows from the angle alone.
        let symmetric = open == "-0.25";
        let told = take
            .facts
            .iter()
            .any(|f| f.starts_with("extra/shutter:open"));
        assert_eq!(told, !symmetric);
    }
    let file = stage("", "double shutter:open = 0.5\ndouble shutter:close = 0");
    assert!(checks(&read(file.as_bytes()).unwrap()).contains(&"shutter-backwards".to_owned()));
}

#[test]
fn frames_are_placed_by_time_codes() {
    // 24 frames a second at 6000 time codes a second: a frame is 250 time codes.
    let file = stage(
        "timeCodesPerSecond = 6000\nframesPerSecond = 24\nstartTimeCode = 250\nendTimeCode = 1000",
        "float focalLength.timeSamples = {250: 20, 500: 21, 625: 30, 750: 22, 1000: 23}",
    );
    let items = read(file.as_bytes()).unwrap();
    let take = take(&items);
    assert_eq!(take.numbers("frame"), [1.0, 2.0, 3.0, 4.0]);
    assert_eq!(
        take.numbers("pinhole-focal-length"),
        [20.0, 21.0, 22.0, 23.0]
    );
    assert!(take.has("frame-rate = \"24\" []"));
    // Between frames at one time code a frame.
    let file = stage(
        "startTimeCode = 1\nendTimeCode = 2",
        "float focalLength.timeSamples = {1: 20, 1.5: 25, 2: 30, 3: 40}",
    );
    let told = checks(&read(file.as_bytes()).unwrap());
    assert!(told.contains(&"samples-between-frames".to_owned()));
    assert!(told.contains(&"samples-outside-range".to_owned()));
}

#[test]
fn rates_are_ratios() {
    for (rate, text) in [
        ("29.97002997002997", "30000/1001"),
        ("23.976", "24000/1001"),
        ("25", "25"),
        ("12.5", "25/2"),
    ] {
        let file = stage(
            &format!("framesPerSecond = {rate}\ntimeCodesPerSecond = {rate}"),
            "float focalLength = 1",
        );
        let take = take(&read(file.as_bytes()).unwrap());
        assert!(
            take.has(&format!("frame-rate = {text:?} []")),
            "{:?}",
            take.facts
        );
    }
}

#[test]
fn exposure_attributes_are_channels() {
    let file = stage("", "float exposure:iso = 800\nfloat exposure:time = 0.02");
    let take = take(&read(file.as_bytes()).unwrap());
    assert_eq!(take.numbers("sensitivity"), [800.0]);
    assert_eq!(take.columns["sensitivity"].kind, "number ISO ");
    assert_eq!(take.numbers("exposure-time"), [f64::from(0.02_f32)]);
    assert_eq!(take.columns["exposure-time"].kind, "number s ");
}
