//! Reading samples whose values are known.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Flat, flat, frame_count, read, reference, remarks};
use serde_json::Value;

fn value(flat: &Flat, channel: &str, frame: usize) -> Option<f64> {
    flat.columns[channel].values[frame]
        .as_ref()
        .map(|v| v.parse().unwrap())
}

#[test]
fn every_value_of_the_rack_is_read() {
    let expected: Value = serde_json::from_slice(&reference("expected.json")).unwrap();
    let items = read(&reference("rack_48.jsonl")).unwrap();
    assert!(remarks(&items).is_empty());
    let flat = flat(&items);
    assert_eq!(flat.frames, 48);
    for (frame, truth) in expected["frames"].as_array().unwrap().iter().enumerate() {
        for (channel, key) in [
            ("focus-distance", "focus_distance_m"),
            ("pinhole-focal-length", "pinhole_focal_length_mm"),
            ("t-stop", "t_number"),
            ("f-number", "f_number"),
            ("entrance-pupil-offset", "entrance_pupil_offset_m"),
            ("focus-ring", "encoder_focus"),
            ("focus-ring-raw", "raw_encoder_focus"),
            ("extra/timing.sequenceNumber", "sequence"),
        ] {
            assert_eq!(
                value(&flat, channel, frame),
                truth[key].as_f64(),
                "{channel} {frame}"
            );
        }
        let code = &truth["timecode"];
        let label = format!(
            "{:02}:{:02}:{:02};{:02}",
            code["hours"].as_u64().unwrap(),
            code["minutes"].as_u64().unwrap(),
            code["seconds"].as_u64().unwrap(),
            code["frames"].as_u64().unwrap()
        );
        assert_eq!(
            flat.columns["timecode"].values[frame].as_ref(),
            Some(&label)
        );
        assert_eq!(value(&flat, "distortion-k2", frame), Some(0.0045));
        assert_eq!(value(&flat, "shutter-angle", frame), Some(180.0));
        assert_eq!(value(&flat, "sensitivity", frame), Some(800.0));
    }
    for (channel, kind) in [
        ("focus-distance", "number m unstated"),
        ("entrance-pupil-offset", "number m "),
        ("focus-ring", "number 0..1 "),
        ("focus-ring-raw", "number count "),
        ("shutter-angle", "number deg "),
        ("extra/tracker.recording", "json"),
    ] {
        assert_eq!(flat.columns[channel].kind, kind);
    }
    for fact in [
        "clip = \"A017C003\" []",
        "frame-rate = \"30000/1001\" []",
        "capture-rate = \"30000/1001\" []",
        "counting = \"drop-frame\" []",
        "distortion-model = \"Brown-Conrady U-D\" []",
        "sensor-width = 27.99 [mm]",
        "resolution-height = 4096.0 []",
        "camera-serial = \"K1-00017\" []",
        "extra/static.duration.num = 48048.0 []",
        "extra/static.lens.calibrationHistory.0 = \"bench 2026-03-01\" []",
    ] {
        assert!(
            flat.facts.contains(&fact.to_owned()),
            "{fact} in {:?}",
            flat.facts
        );
    }
    assert_eq!(
        flat.lenses,
        [[
            "focal-length-max = 32.0 [mm]",
            "focal-length-min = 32.0 [mm]",
            "lens-firmware = \"1.4\" []",
            "lens-kind = \"prime\" []",
            "lens-maker = \"Halden Optikk (fictional)\" []",
            "lens-model = \"Halden 32\" []",
            "lens-serial = \"H32-0042\" []",
            "squeeze = 1.0 []",
        ]]
    );
    assert_eq!(flat.lens, Some(0));
}

#[test]
fn arrays_and_pretty_printed_samples_are_the_same_take() {
    let lines = String::from_utf8(reference("rack_48.jsonl")).unwrap();
    let samples: Vec<Value> = lines
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    let expected = flat(&read(lines.as_bytes()).unwrap());
    let pretty: Vec<String> = samples
        .iter()
        .map(|s| serde_json::to_string_pretty(s).unwrap())
        .collect();
    for text in [
        serde_json::to_string_pretty(&samples).unwrap(),
        serde_json::to_string(&samples).unwrap(),
        pretty.join("\r\n"),
        pretty.concat(),
    ] {
        assert_eq!(flat(&read(text.as_bytes()).unwrap()), expected);
    }
}

#[test]
fn values_the_standard_forbids_are_read_for_the_checks() {
    let items = read(&reference("invalid_focus_zero.json")).unwrap();
    assert_eq!(value(&flat(&items), "focus-distance", 0), Some(0.0));
    let items = read(&reference("invalid_encoder_above_one.json")).unwrap();
    assert!(value(&flat(&items), "focus-ring", 0).unwrap() > 1.0);
    let items = read(&reference("invalid_unknown_lens_key.json")).unwrap();
    let unknown: Value =
        serde_json::from_slice(&reference("invalid_unknown_lens_key.json")).unwrap();
    let known = ["distortion", "encoders"];
    for key in unknown["lens"].as_object().unwrap().keys() {
        if !known.contains(&key.as_str())
            && !flat(&items)
                .columns
                .keys()
                .any(|c| c.contains(key.as_str()))
        {
            assert!(
                [
                    "focusDistance",
                    "fStop",
                    "tStop",
                    "pinholeFocalLength",
                    "entrancePupilOffset",
                    "rawEncoders"
                ]
                .contains(&key.as_str()),
                "{key} is lost"
            );
        }
    }
}

fn sample(inside: &str) -> String {
    format!("{{\"protocol\":{{\"name\":\"OpenTrackIO\",\"version\":[1,0,1]}},{inside}}}\n")
}

fn checks(text: &str) -> Vec<String> {
    remarks(&read(text.as_bytes()).unwrap())
        .into_iter()
        .map(|r| r.check)
        .collect()
}

#[test]
fn defects_are_told_and_nothing_is_dropped() {
    let text = sample("\"lens\":{\"focusDistance\":\"far\",\"fStop\":null}");
    assert_eq!(checks(&text), ["wrong-type", "wrong-type"]);
    let found = flat(&read(text.as_bytes()).unwrap());
    assert_eq!(
        found.columns["extra/lens.focusDistance"].values,
        [Some("far".to_owned())]
    );
    assert_eq!(found.columns["extra/lens.fStop"].kind, "json");

    let text = sample("\"timing\":{\"sampleRate\":{\"num\":24,\"denom\":0}}");
    assert_eq!(checks(&text), ["rational-impossible"]);
    let found = flat(&read(text.as_bytes()).unwrap());
    assert_eq!(
        found.columns["extra/timing.sampleRate.denom"].values,
        [Some("0.0".to_owned())]
    );

    let text = sample("\"timing\":{\"timecode\":{\"hours\":1,\"frames\":2}}");
    assert_eq!(checks(&text), ["timecode-incomplete"]);
    assert!(
        flat(&read(text.as_bytes()).unwrap())
            .columns
            .contains_key("extra/timing.timecode.hours")
    );

    assert_eq!(checks("{\"lens\":{\"fStop\":2}}"), ["version-missing"]);
    assert_eq!(
        checks("{\"protocol\":{\"name\":\"Other\",\"version\":[1,0,0]}}"),
        ["protocol-name"]
    );
    assert_eq!(
        checks(&sample("\"custom\":{\"n\":123456789012345678901234}")),
        ["long-integer"]
    );
}

#[test]
fn a_value_of_another_kind_has_a_column_of_its_own() {
    let text = [
        sample("\"custom\":{\"a\":1}"),
        sample("\"custom\":{\"a\":\"x\"}"),
        sample("\"custom\":{\"a\":true}"),
    ]
    .concat();
    let found = flat(&read(text.as_bytes()).unwrap());
    assert_eq!(
        found.columns["extra/custom.a"].values,
        [Some("1.0".to_owned()), None, None]
    );
    assert_eq!(
        found.columns["extra/custom.a.\\json"].values,
        [None, Some("\"x\"".to_owned()), Some("true".to_owned())]
    );
}

#[test]
fn another_lens_within_the_take_shows_in_every_frame() {
    let lens = |serial: &str| {
        sample(&format!(
            "\"static\":{{\"lens\":{{\"model\":\"M\",\"serialNumber\":\"{serial}\"}}}}"
        ))
    };
    let plain = sample("\"lens\":{\"fStop\":2}");
    let text = [lens("1"), plain.clone(), lens("2"), plain].concat();
    let found = flat(&read(text.as_bytes()).unwrap());
    let of = |channel: &str| -> Vec<&str> {
        found.columns[channel]
            .values
            .iter()
            .map(|v| v.as_deref().unwrap())
            .collect()
    };
    assert_eq!(of("lens-serial"), ["1", "1", "2", "2"]);
    assert_eq!(of("lens-model"), ["M", "M", "M", "M"]);
    assert!(!found.columns.contains_key("lens-maker"));
    assert_eq!(
        found.lenses,
        [["lens-model = \"M\" []", "lens-serial = \"1\" []"]]
    );
}

#[test]
fn facts_that_change_become_extras_of_their_frames() {
    let slate = |name: &str| sample(&format!("\"tracker\":{{\"slate\":\"{name}\"}}"));
    let text = [slate("A"), slate("A"), slate("B")].concat();
    assert_eq!(checks(&text), ["fact-changes"]);
    let found = flat(&read(text.as_bytes()).unwrap());
    assert_eq!(found.facts, ["clip = \"A\" []"]);
    assert_eq!(
        found.columns["extra/tracker.slate"].values,
        [None, None, Some("B".to_owned())]
    );
}

#[test]
fn a_sample_rate_that_is_not_the_frame_rate_is_kept_apart() {
    let text = sample(
        "\"timing\":{\"sampleRate\":{\"num\":60000,\"denom\":1001},\"timecode\":{\"hours\":0,\"minutes\":0,\"seconds\":0,\"frames\":0,\"frameRate\":{\"num\":30000,\"denom\":1001}}}",
    );
    let items = read(text.as_bytes()).unwrap();
    assert!(remarks(&items).is_empty());
    let found = flat(&items);
    assert_eq!(found.facts, ["frame-rate = \"30000/1001\" []"]);
    assert_eq!(
        found.columns["extra/timing.sampleRate.num"].values,
        [Some("60000.0".to_owned())]
    );
    assert_eq!(
        found.columns["timecode"].values,
        [Some("00:00:00:00".to_owned())]
    );
    assert_eq!(common::write(&items).unwrap(), text);
}

#[test]
fn shutter_angle_and_speed_hold_until_they_change() {
    let angle = |angle: &str| {
        sample(&format!(
            "\"static\":{{\"camera\":{{\"shutterAngle\":{angle}}}}}"
        ))
    };
    let text = [
        sample("\"lens\":{\"fStop\":2.0}"),
        angle("180.0"),
        sample("\"lens\":{\"fStop\":2.0}"),
        angle("90.0"),
    ]
    .concat();
    let items = read(text.as_bytes()).unwrap();
    let found = flat(&items);
    let angles: Vec<_> = found.columns["shutter-angle"]
        .values
        .iter()
        .map(|v| v.as_deref())
        .collect();
    assert_eq!(angles, [None, Some("180.0"), Some("180.0"), Some("90.0")]);
    // Written back where it changes, and nowhere else.
    let again = common::write(&items).unwrap();
    assert_eq!(again.matches("shutterAngle").count(), 2);
    assert_eq!(flat(&read(again.as_bytes()).unwrap()), found);
}

#[test]
fn the_late_draft_is_read_by_its_own_names() {
    let text = "{\"protocol\":{\"name\":\"OpenTrackIO\",\"version\":[0,9,3]},\"lens\":{\"focalLength\":32.5,\"focusDistance\":10.0},\
        \"timing\":{\"timecode\":{\"hours\":1,\"minutes\":2,\"seconds\":3,\"frames\":4,\"format\":{\"frameRate\":{\"num\":25,\"denom\":1}}}}}";
    assert_eq!(checks(text), ["version-draft"]);
    let found = flat(&read(text.as_bytes()).unwrap());
    assert_eq!(value(&found, "pinhole-focal-length", 0), Some(32.5));
    assert_eq!(found.facts, ["frame-rate = \"25\" []"]);
    assert_eq!(
        found.columns["timecode"].values,
        [Some("01:02:03:04".to_owned())]
    );
    let old = "{\"protocol\":{\"name\":\"OpenTrackIO\",\"version\":\"0.9.0\"},\"lens\":{\"focusDistance\":1000}}";
    let failure = read(old.as_bytes()).unwrap_err();
    assert!(
        failure.message.contains("millimetres"),
        "{}",
        failure.message
    );
}

#[test]
fn a_change_of_version_ends_the_take() {
    let draft =
        "{\"protocol\":{\"name\":\"OpenTrackIO\",\"version\":[0,9,3]},\"lens\":{\"fStop\":2}}";
    let text = format!(
        "{}{}{draft}",
        sample("\"lens\":{\"fStop\":2}"),
        sample("\"lens\":{\"fStop\":2}")
    );
    let (items, failure) = common::read_until_failure(text.as_bytes());
    assert_eq!(frame_count(&items), 2);
    let failure = failure.unwrap();
    assert!(failure.message.contains("version"), "{}", failure.message);
    assert_eq!(
        failure.at.unwrap().offset as usize,
        text.len() - draft.len()
    );
}
