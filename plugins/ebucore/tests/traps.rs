//! Traps of the format, one test each.

#![allow(clippy::unwrap_used)]

mod common;

use common::{by_parameter, by_segment, document, flat, read, remarks, value};
use ringmark_sdk::Item;

fn one(name: &str, attributes: &str, text: &str) -> Vec<Item> {
    let body = by_segment("00:00:00:00", "00:00:00:04", &[(name, attributes, text)]);
    read(document("25", "00:00:00:00", &body).as_bytes()).unwrap()
}

fn told(items: &[Item]) -> Vec<String> {
    remarks(items).into_iter().map(|r| r.check).collect()
}

#[test]
fn focal_length_in_metres_where_the_unit_says_so() {
    for (attributes, kind) in [
        ("unit='meter'", "number m "),
        ("unit='millimeter'", "number mm "),
        ("", "number mm "),
    ] {
        let items = one("LensZoomActualFocalLength", attributes, "0.032");
        let flat = flat(&items);
        assert_eq!(flat.columns["nominal-focal-length"].kind, kind);
        assert_eq!(value(&flat, "nominal-focal-length", 3), Some(0.032));
    }
}

#[test]
fn focus_distance_without_a_unit_is_in_metres() {
    let flat = flat(&one("FocusPositionFromImagePlane", "", "2.5"));
    assert_eq!(flat.columns["focus-distance"].kind, "number m image-plane");
}

#[test]
fn an_unknown_unit_is_named() {
    let body = by_segment(
        "00:00:00:00",
        "00:00:00:01",
        &[("FocusPositionFromImagePlane", "unit='furlong'", "2")],
    );
    let text = document("25", "", &body);
    let failure = read(text.as_bytes()).unwrap_err();
    assert!(
        failure.message.contains("'furlong'") && failure.message.contains("'meter'"),
        "{}",
        failure.message
    );
    let at = failure.at.unwrap();
    assert!(text[at.offset as usize..].starts_with("<parameter name='Focus"));
    assert_eq!(at.field, "parameter FocusPositionFromImagePlane");
    // A unit of another quantity is no unit of it.
    let text = text.replace("furlong", "degree");
    assert!(
        read(text.as_bytes())
            .unwrap_err()
            .message
            .contains("'degree'")
    );
}

#[test]
fn the_unit_of_the_interval_is_not_the_unit_of_the_values() {
    let items = one(
        "FocusPositionFromImagePlane",
        "interval='1' unit='frames'",
        "1 2 3 4",
    );
    assert_eq!(told(&items), ["unit-of-interval"]);
    assert_eq!(
        flat(&items).columns["focus-distance"].kind,
        "number m image-plane"
    );
}

#[test]
fn infinity_is_a_word() {
    let items = one(
        "FocusPositionFromImagePlane",
        "interval='1' unit='meter'",
        "10 Infinite NaN 0",
    );
    let flat = flat(&items);
    let values: Vec<_> = (0..4)
        .map(|frame| value(&flat, "focus-distance", frame))
        .collect();
    assert_eq!(values, [Some(10.0), Some(f64::INFINITY), None, Some(0.0)]);
    let items = one("FocusPositionFromImagePlane", "", "Infinite");
    assert_eq!(
        value(&common::flat(&items), "focus-distance", 3),
        Some(f64::INFINITY)
    );
}

#[test]
fn digits_that_overflow_are_no_infinity() {
    let items = one("FocusPositionFromImagePlane", "", "1e999");
    assert_eq!(told(&items), ["value-not-a-number"]);
    assert_eq!(value(&flat(&items), "focus-distance", 0), None);
}

#[test]
fn a_held_value_is_told() {
    let items = one("IrisTNumber", "interval='3'", "2 4");
    assert_eq!(told(&items), ["value-held"]);
    let flat = flat(&items);
    let values: Vec<_> = (0..4)
        .map(|frame| value(&flat, "t-stop", frame).unwrap())
        .collect();
    assert_eq!(values, [2.0, 2.0, 2.0, 4.0]);
}

#[test]
fn the_attribute_decides_about_drop_frame_and_not_the_mark() {
    let rate = "30\" factorNumerator=\"1000\" factorDenominator=\"1001";
    let document = |drop: &str, start: &str, end: &str| {
        let body = by_segment(start, end, &[("IrisTNumber", "", "2")]);
        let text = document(rate, start, &body);
        text.replace(
            "<extractionStartTime",
            &format!("<extractionStartTime dropframe=\"{drop}\""),
        )
    };
    for (drop, start, end, frames, first) in [
        ("true", "00:00:59:28", "00:01:00:03", 3, "00:00:59;28"),
        ("true", "00:00:59;28", "00:01:00;03", 3, "00:00:59;28"),
        ("false", "00:00:59;28", "00:01:00;03", 5, "00:00:59:28"),
        ("0", "00:00:59:28", "00:01:00:03", 5, "00:00:59:28"),
    ] {
        let items = read(document(drop, start, end).as_bytes()).unwrap();
        let flat = flat(&items);
        assert_eq!(flat.frames, frames, "{drop} {start}");
        assert_eq!(flat.columns["timecode"].values[0].as_deref(), Some(first));
    }
    // Without the attribute the mark decides.
    let text = document("true", "00:00:59;28", "00:01:00;03").replace(" dropframe=\"true\"", "");
    let items = read(text.as_bytes()).unwrap();
    assert_eq!(flat(&items).frames, 3);
    assert!(
        !flat(&items)
            .facts
            .iter()
            .any(|fact| fact.starts_with("counting"))
    );
}

#[test]
fn drop_frame_at_a_rate_without_it_is_told() {
    let body = by_segment("00:00:00;00", "00:00:00;04", &[("IrisTNumber", "", "2")]);
    let text = document("25", "00:00:00;00", &body);
    let text = text.replace(
        "<extractionStartTime",
        "<extractionStartTime dropframe='true'",
    );
    let items = read(text.as_bytes()).unwrap();
    assert_eq!(told(&items), ["drop-frame-impossible"]);
    assert!(
        flat(&items)
            .facts
            .contains(&"counting = \"non-drop\" []".to_owned())
    );
}

#[test]
fn frames_beyond_the_rate_are_told() {
    // The pattern of the schema lets 75 frames pass at 25 frames a second.
    let body = by_segment("00:00:00:75", "00:00:00:04", &[("IrisTNumber", "", "2")]);
    let items = read(document("25", "00:00:00:00", &body).as_bytes()).unwrap();
    assert_eq!(told(&items), ["timecode-impossible"]);
    assert!(
        remarks(&items)[0]
            .message
            .contains("from 00 to 24 at 25 fps")
    );
    let body = by_segment("00:00:00:00", "00:00:00:75", &[("IrisTNumber", "", "2")]);
    let failure = read(document("25", "", &body).as_bytes()).unwrap_err();
    assert!(
        failure.message.contains("endTime '00:00:00:75'"),
        "{}",
        failure.message
    );
}

#[test]
fn rates_of_120_have_frames_of_three_digits() {
    let body = by_segment(
        "00:00:00:118",
        "00:00:01:02",
        &[("IrisTNumber", "interval='1'", "1 2 3 4")],
    );
    let flat = flat(&read(document("120", "00:00:00:118", &body).as_bytes()).unwrap());
    let labels: Vec<_> = flat.columns["timecode"].values.iter().flatten().collect();
    assert_eq!(
        labels,
        ["00:00:00:118", "00:00:00:119", "00:00:01:00", "00:00:01:01"]
    );
}

#[test]
fn rates_are_rational() {
    let body = by_segment("00:00:00:00", "00:00:00:01", &[("IrisTNumber", "", "2")]);
    for (rate, fact) in [
        ("24", "24"),
        (
            "24\" factorNumerator=\"1000\" factorDenominator=\"1001",
            "24000/1001",
        ),
        ("30000\" factorDenominator=\"1001", "30000/1001"),
        ("50\" factorNumerator=\"2\" factorDenominator=\"4", "25"),
    ] {
        let items = read(document(rate, "", &body).as_bytes()).unwrap();
        assert!(
            flat(&items)
                .facts
                .contains(&format!("frame-rate = \"{fact}\" []")),
            "{rate}"
        );
        assert!(remarks(&items).is_empty());
    }
    let items = read(document("29.97", "", &body).as_bytes()).unwrap();
    assert!(
        flat(&items)
            .facts
            .contains(&"frame-rate = \"30000/1001\" []".to_owned())
    );
    assert_eq!(told(&items), ["rate-not-whole"]);
    for rate in [
        "0",
        "x",
        "25\" factorDenominator=\"0",
        "99999999999999999999",
        "-25",
    ] {
        let failure = read(document(rate, "", &body).as_bytes()).unwrap_err();
        assert!(
            failure.message.contains("no rate above 0"),
            "{rate}: {}",
            failure.message
        );
    }
    let text = document("25", "", &body).replace("acquisitionFrameRate", "frameRate");
    let failure = read(text.as_bytes()).unwrap_err();
    assert!(
        failure.message.contains("no acquisitionFrameRate"),
        "{}",
        failure.message
    );
}

#[test]
fn times_as_durations() {
    // As an independent exporter writes them: from the start of the file, in seconds.
    let body = by_parameter(&[(
        "IrisTNumber",
        &[
            ("PT0S", "PT0.083S", "", "2"),
            ("PT0.083S", "PT0.167S", "", "4"),
        ],
    )]);
    let items = read(document("24", "", &body).as_bytes()).unwrap();
    assert_eq!(told(&items), ["time-as-duration"]);
    let flat = flat(&items);
    let stops: Vec<_> = (0..4)
        .map(|frame| value(&flat, "t-stop", frame).unwrap())
        .collect();
    assert_eq!(stops, [2.0, 2.0, 4.0, 4.0]);
    // There is no time code; frame numbers say which frames these are.
    assert!(!flat.columns.contains_key("timecode"));
    assert_eq!(value(&flat, "frame", 3), Some(3.0));
}

#[test]
fn the_unit_on_a_parameter_instead_of_its_segments() {
    let body = by_parameter(&[(
        "LensZoomActualFocalLength",
        &[("00:00:00:00", "00:00:00:02", "", "0.05")],
    )]);
    let body = body.replace("<parameter ", "<parameter unit='meter' ");
    let items = read(document("24", "", &body).as_bytes()).unwrap();
    assert_eq!(told(&items), ["unit-misplaced"]);
    assert_eq!(
        flat(&items).columns["nominal-focal-length"].kind,
        "number m "
    );
}

#[test]
fn a_text_with_blanks_is_several_items_and_one_text() {
    let items = one("LensAttributes", "", "Halden  32\n #H32-0042");
    assert_eq!(
        flat(&items).columns["lens"].values[0].as_deref(),
        Some("Halden 32 #H32-0042")
    );
    // One a frame: a blank inside a value has to be a no-break space.
    let items = one("LensAttributes", "interval='1'", "A\u{a0}1 A\u{a0}1 NaN B");
    let texts = &flat(&items).columns["lens"].values;
    let texts: Vec<_> = texts.iter().map(Option::as_deref).collect();
    assert_eq!(texts, [Some("A 1"), Some("A 1"), None, Some("B")]);
}

#[test]
fn a_wrong_number_of_values_is_an_error_with_its_place() {
    for (attributes, values, says, help) in [
        (
            "interval='1'",
            "1 2 3",
            "has 3 values in a segment of 4 frames (interval 1",
            "incomplete",
        ),
        (
            "interval='1'",
            "1 2 3 4 5",
            "has 5 values in a segment of 4 frames (interval 1",
            "endTime is the first frame after",
        ),
        (
            "interval='1'",
            "1 2 3 4 5 6 7",
            "has 7 values",
            "incomplete",
        ),
        (
            "interval='2'",
            "1",
            "has 1 value in a segment of 4 frames (interval 2, so 2 values)",
            "incomplete",
        ),
        (
            "",
            "1 2 3 4",
            "has 4 values in a segment of 4 frames (no interval",
            "incomplete",
        ),
        ("", "", "has 0 values", "incomplete"),
    ] {
        let body = by_segment(
            "00:00:00:00",
            "00:00:00:04",
            &[("IrisTNumber", attributes, values)],
        );
        let text = document("25", "", &body);
        let failure = read(text.as_bytes()).unwrap_err();
        assert!(failure.message.contains(says), "{}", failure.message);
        assert!(failure.help.contains(help), "{}", failure.help);
        let at = failure.at.unwrap();
        assert!(text[at.offset as usize..].starts_with("<parameter name='IrisTNumber'"));
        assert_eq!(at.field, "parameter IrisTNumber");
    }
    let body = by_segment(
        "00:00:00:00",
        "00:00:00:04",
        &[("IrisTNumber", "interval='0'", "1")],
    );
    let failure = read(document("25", "", &body).as_bytes()).unwrap_err();
    assert!(
        failure.message.contains("interval '0'"),
        "{}",
        failure.message
    );
}

#[test]
fn frames_before_a_defect_are_read() {
    let good = "<segment startTime='00:00:00:00' endTime='00:00:00:03'><parameter name='IrisTNumber'>2</parameter></segment>";
    let bad = "<segment startTime='00:00:00:03' endTime='00:00:00:05'><parameter name='IrisTNumber'>2 3</parameter></segment>";
    let body = format!("<segmentParameterDataOutput>{good}{bad}</segmentParameterDataOutput>");
    let text = document("25", "", &body);
    for text in [
        text.clone(),
        text[..text.find(bad).unwrap() + 20].to_owned(),
    ] {
        let (items, failure) = common::read_until_failure(text.as_bytes());
        assert!(failure.is_some());
        assert_eq!(common::frame_count(&items), 3);
    }
}

#[test]
fn the_distance_from_the_front_alone_is_the_focus_distance() {
    let items = one("FocusPositionFromFrontLensVertex", "unit='meter'", "1.5");
    assert_eq!(
        flat(&items).columns["focus-distance"].kind,
        "number m front-vertex"
    );
    let both = [
        ("FocusPositionFromFrontLensVertex", "unit='meter'", "1.5"),
        ("FocusPositionFromImagePlane", "unit='meter'", "1.8"),
    ];
    let two = by_parameter(&[
        (both[0].0, &[("00:00:00:00", "00:00:00:01", "", "1.5")]),
        (both[1].0, &[("00:00:00:00", "00:00:00:01", "", "1.8")]),
    ]);
    for body in [by_segment("00:00:00:00", "00:00:00:01", &both), two] {
        let flat = flat(&read(document("25", "", &body).as_bytes()).unwrap());
        assert_eq!(value(&flat, "focus-distance", 0), Some(1.8));
        assert_eq!(flat.columns["focus-distance"].kind, "number m image-plane");
        assert_eq!(
            value(&flat, "extra/FocusPositionFromFrontLensVertex", 0),
            Some(1.5)
        );
    }
}

#[test]
fn density_is_the_divisor_and_clear_is_one() {
    let items = one(
        "NeutralDensityFilterWheelSetting",
        "interval='1'",
        "Clear 1/8 1/64 dark",
    );
    let flat = flat(&items);
    let values: Vec<_> = (0..4)
        .map(|frame| value(&flat, "extra/NeutralDensityFilterWheelSetting", frame))
        .collect();
    assert_eq!(values, [Some(1.0), Some(8.0), Some(64.0), None]);
    assert_eq!(told(&items), ["value-not-a-number"]);
}

#[test]
fn exposure_times_are_fractions_of_a_second() {
    let flat = flat(&one("ShutterSpeed_Time", "unit='second'", "1/48"));
    assert_eq!(value(&flat, "exposure-time", 0), Some(1.0 / 48.0));
    assert_eq!(flat.columns["exposure-time"].kind, "number s ");
}

#[test]
fn unknown_parameters_pass_through() {
    // A serial number keeps its zeros; a unit says that the values are numbers.
    let items = one("StageSerial", "", "0042");
    assert_eq!(
        flat(&items).columns["extra/StageSerial"].values[0].as_deref(),
        Some("0042")
    );
    let items = one("LensTemperature", "unit='celsius'", "21.5");
    let flat = flat(&items);
    assert_eq!(
        flat.columns["extra/LensTemperature"].kind,
        "number celsius "
    );
    assert_eq!(value(&flat, "extra/LensTemperature", 0), Some(21.5));
    assert_eq!(told(&items), [""; 0]);
}

#[test]
fn a_unit_that_changes_ends_the_batch() {
    let body = by_parameter(&[(
        "FocusPositionFromImagePlane",
        &[
            ("00:00:00:00", "00:00:00:02", "unit='meter'", "2"),
            ("00:00:00:02", "00:00:00:04", "unit='foot'", "6"),
        ],
    )]);
    let items = read(document("25", "", &body).as_bytes()).unwrap();
    let units: Vec<_> = items
        .iter()
        .filter_map(|item| match item {
            Item::Frames(frames) => Some((frames.columns[0].unit.as_str(), frames.count)),
            _ => None,
        })
        .collect();
    assert_eq!(units, [("m", 2), ("ft", 2)]);
}
