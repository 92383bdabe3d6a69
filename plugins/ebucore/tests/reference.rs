//! Reading documents whose values are known.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Flat, by_parameter, by_segment, document, flat, read, reference, remarks, value};
use ringmark_sdk::Item;
use serde_json::Value;

fn checks(items: &[Item]) -> Vec<String> {
    remarks(items).into_iter().map(|r| r.check).collect()
}

/// Compares every value of the reference take.
fn assert_rack(flat: &Flat) {
    let expected: Value = serde_json::from_slice(&reference("expected.json")).unwrap();
    assert_eq!(flat.frames, 48);
    let frames = expected["frames"].as_array().unwrap();
    assert_eq!(frames.len(), 48);
    for (frame, truth) in frames.iter().enumerate() {
        for (channel, key) in [
            ("t-stop", "t_number"),
            ("f-number", "f_number"),
            ("focus-distance", "focus_distance_m"),
            ("nominal-focal-length", "focal_length_mm"),
            ("shutter-angle", "shutter_angle_deg"),
            ("extra/WhiteBalance", "white_balance_k"),
        ] {
            assert_eq!(
                value(flat, channel, frame),
                truth[key].as_f64(),
                "{channel} {frame}"
            );
        }
        // The document has per cent, the truth 0 to 1: the program converts, the plugin does not.
        let ring = value(flat, "focus-ring", frame).unwrap() / 100.0;
        assert!((ring - truth["focus_ring"].as_f64().unwrap()).abs() < 1e-15);
        let density = value(flat, "extra/NeutralDensityFilterWheelSetting", frame).unwrap();
        assert_eq!(1.0 / density, truth["nd_transmittance"].as_f64().unwrap());
        assert_eq!(
            flat.columns["lens"].values[frame].as_deref(),
            Some("Halden 32 #H32-0042")
        );
    }
    for (channel, kind) in [
        ("focus-distance", "number m image-plane"),
        ("focus-ring", "number % "),
        ("nominal-focal-length", "number mm "),
        ("shutter-angle", "number deg "),
        ("t-stop", "number T "),
        ("extra/WhiteBalance", "number  "),
    ] {
        assert_eq!(flat.columns[channel].kind, kind);
    }
    assert_eq!(
        flat.facts,
        [
            "counting = \"drop-frame\" []",
            "frame-rate = \"30000/1001\" []"
        ]
    );
    let labels = &flat.columns["timecode"].values;
    // Source: the first label is stated, the others by the drop-frame rule of SMPTE ST 12-1.
    for (frame, label) in [
        (0, "01:00:59;00"),
        (29, "01:00:59;29"),
        (30, "01:01:00;02"),
        (47, "01:01:00;19"),
    ] {
        assert_eq!(labels[frame].as_deref(), Some(label));
    }
}

#[test]
fn every_value_of_the_rack_segment_by_segment() {
    let items = read(&reference("segment_parameter.xml")).unwrap();
    assert_eq!(checks(&items), [""; 0]);
    assert_rack(&flat(&items));
}

#[test]
fn places_are_those_of_the_segments() {
    let bytes = reference("segment_parameter.xml");
    let items = read(&bytes).unwrap();
    let Some(Item::Frames(frames)) = items.last() else {
        panic!()
    };
    for (frame, offset) in frames.offsets.iter().enumerate() {
        let start = if frame < 24 {
            "01:00:59;00"
        } else {
            "01:00:59;24"
        };
        let tag = format!("<ebucore:segment startTime=\"{start}\"");
        assert!(
            bytes[*offset as usize..].starts_with(tag.as_bytes()),
            "{frame}"
        );
    }
}

#[test]
fn minutes_of_61_are_told_and_the_values_read() {
    let bytes = reference("malformed/ebucore_bad_timecode.xml");
    let items = read(&bytes).unwrap();
    assert_rack(&flat(&items));
    let told = remarks(&items);
    assert_eq!(told.len(), 1);
    assert_eq!(
        (&*told[0].check, &*told[0].severity),
        ("timecode-impossible", "error")
    );
    assert!(told[0].message.contains("01:61:59;00") && told[0].message.contains("minutes"));
    let at = told[0].at.as_ref().unwrap();
    let tag = &bytes[at.offset as usize..(at.offset + at.length) as usize];
    assert!(tag.starts_with(b"<ebucore:segment ") && tag.ends_with(b">"));
}

#[test]
fn another_namespace_is_refused() {
    let failure = read(&reference("malformed/ebucore_wrong_namespace.xml")).unwrap_err();
    assert!(
        failure.message.contains("urn:example:other"),
        "{}",
        failure.message
    );
    assert!(failure.help.contains("urn:ebu:metadata-schema:ebucore"));
    assert_eq!(failure.at.unwrap().offset, 39);
}

#[test]
fn older_namespaces_are_told() {
    let text = String::from_utf8(reference("segment_parameter.xml")).unwrap();
    for older in ["ebuCore_2014", "ebuCore_2015"] {
        let text = text.replace("schema:ebucore\"", &format!("schema:{older}\""));
        let items = read(text.as_bytes()).unwrap();
        assert_eq!(checks(&items), ["version-older"]);
        assert_rack(&flat(&items));
    }
}

#[test]
fn any_prefix_and_none() {
    let text = String::from_utf8(reference("segment_parameter.xml")).unwrap();
    for (prefix, declared) in [("e:", ":e"), ("", "")] {
        let text = text
            .replace("xmlns:ebucore", &format!("xmlns{declared}"))
            .replace("ebucore:", prefix)
            .replace(&format!("metadata-schema:{prefix}"), "metadata-schema:")
            .replace(
                "urn:ebu:metadata-schema:\"",
                "urn:ebu:metadata-schema:ebucore\"",
            );
        assert_rack(&flat(&read(text.as_bytes()).unwrap()));
    }
}

/// Both forms of the same take in one document.
fn both(first: &str) -> String {
    let segments = String::from_utf8(reference("segment_parameter.xml")).unwrap();
    let parameters = String::from_utf8(reference("malformed/ebucore_bad_timecode.xml")).unwrap();
    let parameters = parameters
        .replace("01:61:59;00", "01:00:59;00")
        .replace("2.000000", first);
    let from = parameters.find("<ebucore:parameterSegment").unwrap();
    let to = parameters.find("</ebucore:acquisitionData>").unwrap();
    segments.replace(
        "<ebucore:segmentParameterDataOutput>",
        &format!(
            "{}<ebucore:segmentParameterDataOutput>",
            &parameters[from..to]
        ),
    )
}

#[test]
fn both_forms_in_one_document_are_one_take() {
    let items = read(both("2.0").as_bytes()).unwrap();
    assert_eq!(checks(&items), [""; 0]);
    assert_rack(&flat(&items));
}

#[test]
fn forms_that_differ_are_told() {
    let items = read(both("2.8").as_bytes()).unwrap();
    let told = remarks(&items);
    assert_eq!(told.len(), 1);
    assert_eq!(
        (&*told[0].check, &*told[0].severity),
        ("values-disagree", "warning")
    );
    assert!(
        told[0]
            .message
            .contains("IrisTNumber is stated twice for the same frame, as 2 and as 2.8")
    );
    assert_rack(&flat(&items));
}

#[test]
fn several_acquisition_data_are_several_takes() {
    let one = by_segment("00:00:00:00", "00:00:00:02", &[("IrisTNumber", "", "2")]);
    let text = document("25", "", &one);
    let second = one.replace(">2<", ">4<");
    let text = text.replace(
        "</acquisitionData>",
        &format!("</acquisitionData><acquisitionData><acquisitionFrameRate>24</acquisitionFrameRate>{second}</acquisitionData>"),
    );
    let items = read(text.as_bytes()).unwrap();
    let heads: Vec<_> = items
        .iter()
        .filter(|i| matches!(i, Item::Take(_)))
        .collect();
    assert_eq!(heads.len(), 2);
    let Some(Item::Frames(frames)) = items.last() else {
        panic!()
    };
    assert_eq!((frames.take, frames.first), (1, 0));
    assert_eq!(frames.columns[0].values, [4.0, 4.0]);
}

#[test]
fn a_parameter_in_fewer_segments_is_not_recorded_elsewhere() {
    let body = by_parameter(&[
        (
            "IrisTNumber",
            &[("00:00:00:00", "00:00:00:04", "interval='1'", "2 2.8 4 5.6")],
        ),
        (
            "ShutterSpeed_Angle",
            &[
                ("00:00:00:00", "00:00:00:01", "", "180"),
                ("00:00:00:03", "00:00:00:04", "", "90"),
            ],
        ),
    ]);
    let items = read(document("25", "", &body).as_bytes()).unwrap();
    let flat = flat(&items);
    let angles: Vec<_> = (0..4)
        .map(|frame| value(&flat, "shutter-angle", frame))
        .collect();
    assert_eq!(angles, [Some(180.0), None, None, Some(90.0)]);
    let told = remarks(&items);
    assert_eq!(told[0].check, "segments-gap");
    assert!(
        told[0]
            .message
            .contains("from 00:00:00:01 to 00:00:00:02 (2 frames)"),
        "{}",
        told[0].message
    );
}

#[test]
fn frames_in_no_segment_are_left_out_and_told() {
    let body = format!(
        "<segmentParameterDataOutput>{}{}</segmentParameterDataOutput>",
        "<segment startTime='00:00:00:00' endTime='00:00:00:02'><parameter name='IrisTNumber'>2</parameter></segment>",
        "<segment startTime='00:00:01:00' endTime='00:00:01:02'><parameter name='IrisTNumber'>4</parameter></segment>"
    );
    let items = read(document("25", "", &body).as_bytes()).unwrap();
    let flat = flat(&items);
    assert_eq!(flat.frames, 4);
    let labels: Vec<_> = flat.columns["timecode"].values.iter().flatten().collect();
    assert_eq!(
        labels,
        ["00:00:00:00", "00:00:00:01", "00:00:01:00", "00:00:01:01"]
    );
    let told = remarks(&items);
    assert_eq!((&*told[0].check, told.len()), ("segments-gap", 1));
    assert!(
        told[0]
            .message
            .contains("00:00:00:02 to 00:00:00:24 (23 frames)"),
        "{}",
        told[0].message
    );
}

#[test]
fn segments_that_overlap_are_told() {
    let body = format!(
        "<segmentParameterDataOutput>{}{}</segmentParameterDataOutput>",
        "<segment startTime='00:00:00:00' endTime='00:00:00:03'><parameter name='IrisTNumber'>2</parameter></segment>",
        "<segment startTime='00:00:00:01' endTime='00:00:00:05'><parameter name='IrisTNumber' interval='1'>4 5 6 7</parameter></segment>"
    );
    let items = read(document("25", "", &body).as_bytes()).unwrap();
    let told = remarks(&items);
    assert_eq!(
        (&*told[0].check, &*told[0].severity),
        ("segments-overlap", "error")
    );
    assert!(
        told[0]
            .message
            .contains("00:00:00:01 to 00:00:00:02 again (2 frames)"),
        "{}",
        told[0].message
    );
    let flat = flat(&items);
    let stops: Vec<_> = (0..5)
        .map(|frame| value(&flat, "t-stop", frame).unwrap())
        .collect();
    assert_eq!(stops, [2.0, 2.0, 2.0, 6.0, 7.0]);
}

#[test]
fn segments_across_midnight() {
    let body = by_segment(
        "23:59:59:23",
        "00:00:00:03",
        &[("IrisTNumber", "interval='1'", "1 2 3 4 5")],
    );
    let items = read(document("25", "23:59:59:23", &body).as_bytes()).unwrap();
    assert_eq!(checks(&items), [""; 0]);
    let flat = flat(&items);
    let labels: Vec<_> = flat.columns["timecode"].values.iter().flatten().collect();
    assert_eq!(labels[1..4], ["23:59:59:24", "00:00:00:00", "00:00:00:01"]);
}

#[test]
fn the_first_values_of_a_fact_are_the_takes() {
    let body = format!(
        "<segmentParameterDataOutput>{}{}</segmentParameterDataOutput>",
        "<segment startTime='00:00:00:00' endTime='00:00:00:02'><parameter name='ImageSensorDimensionEffectiveWidth' unit='millimeter'>27.99</parameter></segment>",
        "<segment startTime='00:00:00:02' endTime='00:00:00:03'><parameter name='ImageSensorDimensionEffectiveWidth' unit='millimeter'>24</parameter></segment>"
    );
    let items = read(document("25", "", &body).as_bytes()).unwrap();
    let flat = flat(&items);
    assert!(
        flat.facts.contains(&"sensor-width = 27.99 [mm]".to_owned()),
        "{:?}",
        flat.facts
    );
    assert_eq!(checks(&items), ["fact-changes"]);
    let extra = "extra/ImageSensorDimensionEffectiveWidth";
    assert_eq!(value(&flat, extra, 1), None);
    assert_eq!(value(&flat, extra, 2), Some(24.0));
}
