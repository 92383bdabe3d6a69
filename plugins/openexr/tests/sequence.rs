//! Values of files that PyPI OpenEXR 3.5.3 wrote, against what that library reads back.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::{Parts, Reading, exr_files, json, number_of, read, read_name, read_names, text_of};
use serde_json::Value;

/// Attribute names of the library's values and our channels.
const NUMBERS: [(&str, &str); 5] = [
    ("focus", "focus-distance"),
    ("aperture", "f-number"),
    ("tStop", "t-stop"),
    ("pinholeFocalLength", "pinhole-focal-length"),
    ("entrancePupilOffset", "entrance-pupil-offset"),
];

fn equal(found: &[f64], expected: impl Iterator<Item = Value>) {
    let expected: Vec<_> = expected.map(|v| v.as_f64().unwrap()).collect();
    assert_eq!(found, expected);
}

/// Source of the values: `rack_df2997/expected.json`, read back with PyPI OpenEXR 3.5.3; labels from PyPI opentimelineio.
#[test]
fn a_sequence_has_every_value_that_was_written() {
    let expected = json("rack_df2997/expected.json");
    let frames = expected["frames"].as_array().unwrap();
    let reading = read_names(&exr_files("rack_df2997/")).unwrap();
    assert_eq!(reading.remarks, []);
    assert_eq!(
        (
            reading.takes.len(),
            reading.lenses.len(),
            reading.frames.len()
        ),
        (1, 1, 1)
    );
    for (key, channel) in [
        ("frame", "frame"),
        ("focus_distance_m", "focus-distance"),
        ("pinhole_focal_length_mm", "pinhole-focal-length"),
        ("effective_focal_length_mm", "effective-focal-length"),
        ("nominal_focal_length_mm", "nominal-focal-length"),
        ("f_number", "f-number"),
        ("t_number", "t-stop"),
        ("entrance_pupil_offset_mm", "entrance-pupil-offset"),
        ("image_counter", "extra/imageCounter"),
        ("shutter_angle_deg", "shutter-angle"),
        ("exposure_time_s", "exposure-time"),
    ] {
        equal(
            &reading.numbers(0, channel),
            frames.iter().map(|f| f[key].clone()),
        );
    }
    let labels: Vec<_> = reading.texts(0, "timecode").into_iter().flatten().collect();
    let expected_labels: Vec<_> = frames
        .iter()
        .map(|f| f["timecode"]["label"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(labels, expected_labels);
    let files: Vec<_> = reading
        .texts(0, "source-file")
        .into_iter()
        .flatten()
        .collect();
    assert_eq!(files[47], frames[47]["file"].as_str().unwrap());
    let inputs: Vec<u32> = (0..48).collect();
    assert_eq!(reading.frames[0].inputs, inputs);

    let fixed = &expected["static"];
    assert_eq!(reading.numbers(0, "sensitivity"), vec![800.0; 48]);
    let (take, lens) = (&reading.takes[0], &reading.lenses[0]);
    assert_eq!(take.lens, Some(0));
    for (name, value) in [
        ("frame-rate", "30000/1001"),
        ("capture-rate", "30000/1001"),
        ("counting", "drop-frame"),
        ("clip", "rack_df2997"),
        ("reel", fixed["reel_name"].as_str().unwrap()),
        ("camera-maker", fixed["camera_make"].as_str().unwrap()),
        ("camera-model", fixed["camera_model"].as_str().unwrap()),
        ("camera-serial", fixed["camera_serial"].as_str().unwrap()),
    ] {
        assert_eq!(text_of(&take.facts, name), Some(value), "{name}");
    }
    for (name, key) in [
        ("sensor-width", "sensor_width_mm"),
        ("sensor-height", "sensor_height_mm"),
    ] {
        assert_eq!(number_of(&take.facts, name), fixed[key].as_f64(), "{name}");
    }
    assert_eq!(number_of(&take.facts, "resolution-width"), Some(8.0));
    assert_eq!(number_of(&take.facts, "resolution-height"), Some(4.0));
    for (name, key) in [
        ("lens-maker", "lens_make"),
        ("lens-model", "lens_model"),
        ("lens-serial", "lens_serial"),
        ("lens-firmware", "lens_firmware"),
    ] {
        assert_eq!(text_of(&lens.facts, name), fixed[key].as_str(), "{name}");
    }
    let offset = [0, 1].map(|n| reading.numbers(0, &format!("extra/sensorCenterOffset.{n}"))[0]);
    assert_eq!(offset, [12.5, -7.0]);
    let unit = |channel: &str| {
        let columns = &reading.frames[0].columns;
        let column = columns.iter().find(|c| c.channel == channel).unwrap();
        (column.unit.clone(), column.reference.clone())
    };
    assert_eq!(unit("extra/sensorPhotositePitch").0, "um");
    assert_eq!(
        unit("focus-distance"),
        ("m".to_owned(), "unstated".to_owned())
    );
    assert_eq!(
        unit("entrance-pupil-offset"),
        ("mm".to_owned(), String::new())
    );
}

fn check_part(reading: &Reading, take: u32, frame: usize, part: &Value) {
    for (key, channel) in NUMBERS {
        let found = reading.numbers(take, channel)[frame];
        match part.get(key).and_then(Value::as_f64) {
            Some(value) => assert_eq!(found, value, "{channel}"),
            None => assert!(found.is_nan(), "{channel}"),
        }
    }
    let text = |channel| reading.texts(take, channel)[frame].clone();
    assert_eq!(
        text("lens-serial").as_deref(),
        part["lensSerialNumber"].as_str()
    );
    assert_eq!(text("timecode").as_deref(), part["timecode"].as_str());
}

/// Source of the values: `written.json`, read back with PyPI OpenEXR 3.5.3.
#[test]
fn each_view_of_a_stereo_sequence_is_a_take() {
    let written = json("written.json");
    let names: Vec<_> = (1001..1004).map(|n| format!("stereo.{n}.exr")).collect();
    let reading = read_names(&names).unwrap();
    assert_eq!(reading.remarks, []);
    assert_eq!((reading.takes.len(), reading.lenses.len()), (2, 2));
    for (take, view) in ["left", "right"].into_iter().enumerate() {
        let facts = &reading.takes[take].facts;
        assert_eq!(text_of(facts, "extra/view"), Some(view));
        assert_eq!(
            text_of(facts, "clip"),
            Some(format!("stereo {view}").as_str())
        );
        assert_eq!(text_of(facts, "frame-rate"), Some("24/1"));
        assert_eq!(reading.takes[take].lens, Some(take as u32));
        // In the third file the right view comes first.
        for (frame, name) in names.iter().enumerate() {
            let parts = written[name].as_array().unwrap();
            let part = parts.iter().find(|part| part["view"] == view).unwrap();
            check_part(&reading, take as u32, frame, part);
        }
        assert_eq!(
            reading.numbers(take as u32, "frame"),
            [1001.0, 1002.0, 1003.0]
        );
    }
}

#[test]
fn parts_of_one_view_are_one_take() {
    let reading = read_name("two_parts_one_view.exr").unwrap();
    assert_eq!(reading.remarks, []);
    assert_eq!((reading.takes.len(), reading.frames.len()), (1, 1));
    check_part(
        &reading,
        0,
        0,
        &json("written.json")["two_parts_one_view.exr"][0],
    );
}

#[test]
fn attributes_may_come_later_and_lenses_may_change() {
    let written = json("written.json");
    let names: Vec<_> = (1001..1004).map(|n| format!("changes.{n}.exr")).collect();
    let reading = read_names(&names).unwrap();
    for (frame, name) in names.iter().enumerate() {
        check_part(&reading, 0, frame, &written[name][0]);
    }
    let serials: Vec<_> = reading
        .texts(0, "lens-serial")
        .into_iter()
        .flatten()
        .collect();
    assert_eq!(serials, ["H32-0042", "H32-0042", "H32-0077"]);
    assert_eq!(
        text_of(&reading.lenses[0].facts, "lens-serial"),
        Some("H32-0042")
    );
    assert_eq!(
        text_of(&reading.takes[0].facts, "counting"),
        Some("non-drop")
    );
}

#[test]
fn a_header_longer_than_one_read_is_read_whole() {
    let reading = read_name("long_header.exr").unwrap();
    assert_eq!(
        reading.text(0, "extra/halden_note").map(|t| t.len()),
        Some(9000)
    );
    assert_eq!(reading.numbers(0, "focus-distance"), [3.0]);
}

/// Source of the values: `misc.expected.json`, read back with PyPI OpenEXR 3.5.3.
#[test]
fn other_attributes_are_kept_as_extras() {
    let expected = &json("misc.expected.json")["custom_attributes.exr"];
    let custom = &expected["custom_values"];
    let reading = read_name("custom_attributes.exr").unwrap();
    assert_eq!(reading.remarks, []);
    let number = |name: &str| reading.numbers(0, &format!("extra/{name}"))[0];
    for name in [
        "a_very_long_attribute_name_that_is_more_than_thirty_one_bytes",
        "halden.encoder.focus",
        "halden.encoder.iris",
    ] {
        assert_eq!(Some(number(name)), custom[name].as_f64(), "{name}");
    }
    for name in [
        "halden.k",
        "halden.matrix",
        "halden.offset2d",
        "halden.offset2i",
        "halden.offset3f",
    ] {
        for (n, value) in custom[name].as_array().unwrap().iter().enumerate() {
            assert_eq!(
                Some(number(&format!("{name}.{n}"))),
                value.as_f64(),
                "{name}.{n}"
            );
        }
    }
    for (n, value) in expected["keycode"].as_array().unwrap().iter().enumerate() {
        assert_eq!(Some(number(&format!("keyCode.{n}"))), value.as_f64());
    }
    for (n, value) in [0.25, 0.5, 0.75, 1.0].into_iter().enumerate() {
        assert_eq!(number(&format!("halden.window.{n}")), value);
    }
    let text = |name: &str| reading.text(0, &format!("extra/{name}")).unwrap();
    assert_eq!(text("halden.note"), custom["halden.note"].as_str().unwrap());
    let list: Value = serde_json::from_str(&text("halden.tags")).unwrap();
    assert_eq!(list, custom["halden.tags"]);
    let views: Value = serde_json::from_str(&text("multiView")).unwrap();
    assert_eq!(views, expected["multi_view"]);
    for name in ["halden.opaque:haldenBlob", "halden.bytes:bytes"] {
        let attribute = &expected["attributes"][name.split(':').next().unwrap()];
        assert_eq!(text(name), attribute["hex"].as_str().unwrap());
    }
    assert_eq!(number("timeCode.userData"), f64::from(0x8765_4321u32));
    assert_eq!(
        reading.text(0, "timecode").unwrap(),
        expected["timecode"]["label"].as_str().unwrap()
    );
    assert_eq!(
        text_of(&reading.takes[0].facts, "frame-rate"),
        Some("24000/1001")
    );
    let channels: Vec<_> = reading.frames[0]
        .columns
        .iter()
        .map(|c| c.channel.as_str())
        .collect();
    for structural in ["dataWindow", "screenWindowWidth", "compression", "type"] {
        assert!(
            !channels
                .iter()
                .any(|c| c.starts_with(&format!("extra/{structural}")))
        );
    }
    assert!(channels.contains(&"extra/pixelAspectRatio"));
}

/// Source of the values and of what is flagged: `misc.expected.json`.
#[test]
fn odd_values_arrive_as_they_are() {
    let focus = |name: &str| read_name(name).unwrap().numbers(0, "focus-distance")[0];
    assert_eq!(focus("edge_focus_infinity.exr"), f64::INFINITY);
    assert_eq!(focus("edge_focus_negative.exr"), -1.0);
    assert!(focus("edge_focus_nan.exr").is_nan());
    for (name, check) in [
        ("edge_focus_infinity.exr", None),
        ("edge_focus_negative.exr", None),
        ("edge_focus_nan.exr", Some("value-not-a-number")),
        ("edge_tstop_below_fnumber.exr", None),
        ("edge_entrance_pupil_negative.exr", None),
        ("edge_empty_lens_model.exr", Some("text-empty")),
        ("edge_rate_zero_denominator.exr", Some("rate-invalid")),
    ] {
        let reading = read_name(name).unwrap();
        assert_eq!(reading.checks(), Vec::from_iter(check), "{name}");
        assert_eq!(reading.text(0, "source-file").as_deref(), Some(name));
    }
    let empty = read_name("edge_empty_lens_model.exr").unwrap();
    assert_eq!(empty.text(0, "lens-model"), None);
    let rate = read_name("edge_rate_zero_denominator.exr").unwrap();
    assert_eq!(text_of(&rate.takes[0].facts, "frame-rate"), None);
    let pupil = read_name("edge_entrance_pupil_negative.exr").unwrap();
    assert_eq!(pupil.numbers(0, "entrance-pupil-offset"), [-12.5]);
}

#[test]
fn the_frame_number_comes_from_the_counter_if_the_name_has_none() {
    let file = Parts::reference().build();
    let reading = read(&[("still.exr", &file)]).unwrap();
    assert_eq!(reading.numbers(0, "frame"), [86400.0]);
    let file = Parts::reference().without("imageCounter").build();
    let reading = read(&[("still.exr", &file)]).unwrap();
    assert!(
        reading.frames[0]
            .columns
            .iter()
            .all(|c| c.channel != "frame")
    );
}

#[test]
fn what_holds_for_a_take_must_not_change() {
    let first = Parts::reference();
    let second = first
        .clone()
        .with("reelName", "string", b"B002")
        .without("cameraLabel");
    let (a, b) = (first.build(), second.build());
    let reading = read(&[("x.1.exr", &a), ("x.2.exr", &b), ("x.3.exr", &b)]).unwrap();
    let messages: Vec<_> = reading.remarks.iter().map(|r| r.message.as_str()).collect();
    assert_eq!(
        messages,
        [
            "cameraLabel is missing, the file before has it",
            "reelName changes from “A017C003” to “B002”"
        ]
    );
    assert!(
        reading
            .remarks
            .iter()
            .all(|r| r.at.as_ref().unwrap().input == 1)
    );
    assert_eq!(text_of(&reading.takes[0].facts, "reel"), Some("A017C003"));
}

#[test]
fn a_fault_in_many_files_is_one_remark_and_one_count() {
    let file = Parts::reference()
        .with("focus", "float", &f32::NAN.to_le_bytes())
        .build();
    let files: Vec<_> = (0..5).map(|_| ("x.1.exr", file.as_slice())).collect();
    let reading = read(&files).unwrap();
    assert_eq!(
        reading.checks(),
        ["value-not-a-number", "value-not-a-number"]
    );
    assert!(reading.remarks[1].message.contains("4 more times"));
    assert_eq!(reading.remarks[1].severity, "note");
}

#[test]
fn long_sequences_come_in_batches() {
    let file = Parts::reference().build();
    let files: Vec<_> = (0..2500).map(|_| ("x.1.exr", file.as_slice())).collect();
    let reading = read(&files).unwrap();
    let counts: Vec<_> = reading.frames.iter().map(|f| (f.first, f.count)).collect();
    assert_eq!(counts, [(0, 1024), (1024, 1024), (2048, 452)]);
    assert_eq!(reading.numbers(0, "t-stop"), vec![2.0; 2500]);
}

#[test]
fn only_header_bytes_are_asked_for() {
    use ringmark_sdk::{Input, Reader};
    use std::cell::Cell;
    use std::rc::Rc;
    struct Counting(Vec<u8>, Rc<Cell<usize>>);
    impl Input for Counting {
        fn name(&self) -> String {
            "x.exr".to_owned()
        }
        fn size(&self) -> u64 {
            1 << 40
        }
        fn read(&self, offset: u64, length: u32) -> Vec<u8> {
            self.1
                .set(self.1.get().max(offset as usize + length as usize));
            let mut bytes = self.0.clone();
            bytes.resize(offset as usize + length as usize, 0xff);
            bytes.split_off(offset as usize)
        }
    }
    let most = Rc::new(Cell::new(0));
    let input = Box::new(Counting(Parts::reference().build(), Rc::clone(&most)));
    let mut sequence = ringmark_openexr::Sequence::open(vec![input], "{}").unwrap();
    while sequence.next().unwrap().is_some() {}
    assert_eq!(most.get(), 4096);
}
