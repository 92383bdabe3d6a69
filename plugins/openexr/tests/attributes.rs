//! Which attributes a take becomes, and what is read back from them.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::{
    Layout, TakeOf, bytes, data, number_fact, number_of, read, text_of, write, write_one,
};

fn one(take: TakeOf) -> Layout {
    let file = write_one(&data("scan_no.exr"), with_frame(take).alone()).unwrap();
    Layout::of(&file)
}

fn with_frame(take: TakeOf) -> TakeOf {
    take.number("frame", "", &[1001.0])
}

fn refused(take: TakeOf) -> String {
    let failure = write_one(&data("scan_no.exr"), with_frame(take).alone()).unwrap_err();
    assert!(!failure.help.is_empty());
    failure.message
}

/// Names, types and units: *Standard Attributes* of the OpenEXR documentation.
#[test]
fn standard_attributes() {
    let file = one(TakeOf::default()
        .number("focus-distance", "m", &[2.75])
        .number("f-number", "f", &[1.9])
        .number("t-stop", "T", &[2.0])
        .number("nominal-focal-length", "mm", &[32.0])
        .number("pinhole-focal-length", "mm", &[32.25])
        .number("effective-focal-length", "mm", &[32.5])
        .number("entrance-pupil-offset", "mm", &[-72.0])
        .number("shutter-angle", "deg", &[172.8])
        .number("exposure-time", "s", &[0.02])
        .number("sensitivity", "ISO", &[800.0])
        .lens_fact("lens-maker", "Brannvik")
        .lens_fact("lens-model", "Brannvik 40")
        .lens_fact("lens-serial", "BV40-0117")
        .lens_fact("lens-firmware", "2.1")
        .fact("reel", "B002")
        .fact("camera-maker", "Halden")
        .fact("camera-model", "H1")
        .fact("camera-serial", "77")
        .fact("camera-firmware", "9")
        .fact("camera-label", "B")
        .fact("frame-rate", "24000/1001")
        .fact("capture-rate", "48")
        .fact_number("sensor-width", 27.5, "mm")
        .fact_number("sensor-height", 18.1, "mm"));
    for (name, value) in [
        ("focus", 2.75),
        ("aperture", 1.9f32),
        ("tStop", 2.0),
        ("nominalFocalLength", 32.0),
        ("pinholeFocalLength", 32.25),
        ("effectiveFocalLength", 32.5),
        ("entrancePupilOffset", -72.0),
        ("shutterAngle", 172.8),
        ("expTime", 0.02),
        ("isoSpeed", 800.0),
    ] {
        assert_eq!(file.float(0, name), Some(value), "{name}");
    }
    for (name, value) in [
        ("lensMake", "Brannvik"),
        ("lensModel", "Brannvik 40"),
        ("lensSerialNumber", "BV40-0117"),
        ("lensFirmwareVersion", "2.1"),
        ("reelName", "B002"),
        ("cameraMake", "Halden"),
        ("cameraModel", "H1"),
        ("cameraSerialNumber", "77"),
        ("cameraFirmwareVersion", "9"),
        ("cameraLabel", "B"),
        ("halden.note", "kept as it is"),
    ] {
        assert_eq!(file.text(0, name).as_deref(), Some(value), "{name}");
    }
    let pair = |a: u32, b: u32| [a.to_le_bytes(), b.to_le_bytes()].concat();
    let value = |name| file.value(0, name).unwrap();
    assert_eq!(value("framesPerSecond"), ("rational", &*pair(24_000, 1001)));
    assert_eq!(value("captureRate"), ("rational", &*pair(48, 1)));
    let sensor = pair(27.5f32.to_bits(), 18.1f32.to_bits());
    assert_eq!(value("sensorOverallDimensions"), ("v2f", &*sensor));
    // Nothing of our own is needed for that.
    assert!(
        file.parts[0]
            .iter()
            .all(|(name, ..)| !name.starts_with("ringmark"))
    );
}

/// New attributes come in one order, whatever the order of the columns.
#[test]
fn new_attributes_have_an_order() {
    let template = data("scan_no.exr");
    let columns = [
        ("t-stop", "T"),
        ("extra/b", ""),
        ("focus-ring", "0..1"),
        ("f-number", "f"),
        ("extra/a", ""),
    ];
    let build = |order: &mut dyn Iterator<Item = &(&str, &str)>| {
        let take = order.fold(TakeOf::default(), |take, (name, unit)| {
            take.number(name, unit, &[0.5])
        });
        write_one(&template, with_frame(take).alone()).unwrap()
    };
    let file = build(&mut columns.iter());
    assert_eq!(file, build(&mut columns.iter().rev()));
    let old = Layout::of(&template).parts[0].len();
    let file = Layout::of(&file);
    let new: Vec<_> = file.parts[0][old..].iter().map(|a| a.0.as_str()).collect();
    assert_eq!(new, ["aperture", "tStop", "a", "b", "ringmark:focus-ring"]);
}

#[test]
fn infinity_is_stored_and_absence_leaves_the_file_as_it_is() {
    let file = one(TakeOf::default().number("focus-distance", "m", &[f64::INFINITY]));
    assert_eq!(file.float(0, "focus"), Some(f32::INFINITY));
    let file = one(TakeOf::default().number("focus-distance", "m", &[f64::NAN]));
    assert_eq!(file.float(0, "focus"), Some(2.5));
    let file = one(TakeOf::default().texts("lens-model", "text", &[None]));
    assert_eq!(file.text(0, "lensModel").as_deref(), Some("Halden 32"));
}

#[test]
fn a_value_that_no_float_holds_is_kept_aside() {
    for number in [1e39, -4e38, 1e-50] {
        let file = one(TakeOf::default().number("focus-distance", "m", &[number]));
        assert_eq!(file.double(0, "ringmark:focus-distance"), Some(number));
        // The file's own stays: that of the take is not for other programs.
        let before = Layout::of(&data("scan_no.exr"));
        assert_eq!(file.float(0, "focus"), before.float(0, "focus"));
    }
}

#[test]
fn a_column_in_another_unit_is_refused() {
    let message = refused(TakeOf::default().number("entrance-pupil-offset", "m", &[0.07]));
    assert!(
        message.contains("'m'") && message.contains("'mm'"),
        "{message}"
    );
}

#[test]
fn time_code_labels_become_words() {
    let word = |file: &Layout| {
        let (kind, value) = file.value(0, "timeCode").unwrap();
        assert_eq!(kind, "timecode");
        u32::from_le_bytes(value[..4].try_into().unwrap())
    };
    for (label, rate, expected) in [
        ("01:00:59;00", "30000/1001", 0x0100_5940),
        ("10:00:01:23", "24", 0x1000_0123),
        // Above 30 fps two frames share a label.
        ("01:00:00:47", "48", 0x0100_8023),
        ("01:01:00;04", "60000/1001", 0x0101_0042),
    ] {
        let file = one(TakeOf::default()
            .text("timecode", label)
            .fact("frame-rate", rate));
        assert_eq!(word(&file), expected, "{label} at {rate}");
    }
}

#[test]
fn labels_beyond_the_attribute_are_kept_aside() {
    let template = data("scan_no.exr");
    for (label, rate) in [
        ("01:00:00:119", "120"),
        ("01:00:00:45", "24"),
        ("a label of its own", "25"),
        ("1:00:00:00", "25"),
    ] {
        let take = TakeOf::default()
            .text("timecode", label)
            .fact("frame-rate", rate)
            .fact("counting", "non-drop");
        let file = write_one(&template, with_frame(take).alone()).unwrap();
        let reading = read(&[("x.1001.exr", &file)]).unwrap();
        assert_eq!(reading.text(0, "timecode").as_deref(), Some(label));
        assert_eq!(
            text_of(&reading.takes[0].facts, "counting"),
            Some("non-drop")
        );
        // A label that fits takes its place again.
        let take = TakeOf::default()
            .text("timecode", "01:00:00:01")
            .fact("frame-rate", "25");
        let file = write_one(&file, with_frame(take).alone()).unwrap();
        assert!(Layout::of(&file).value(0, "ringmark:timecode").is_none());
        let reading = read(&[("x.1001.exr", &file)]).unwrap();
        assert_eq!(reading.text(0, "timecode").as_deref(), Some("01:00:00:01"));
    }
}

/// Above 30 fps pairs of frames share the digits: each comes back as its own label.
#[test]
fn pairs_of_frames_read_back() {
    let template = data("scan_no.exr");
    let names: Vec<_> = (0..50).map(|n| format!("x.{n:04}.exr")).collect();
    let files: Vec<_> = names
        .iter()
        .map(|name| (name.as_str(), template.as_slice()))
        .collect();
    let labels: Vec<_> = (0..50).map(|n| format!("23:59:59:{n:02}")).collect();
    let shown: Vec<_> = labels.iter().map(|label| Some(label.as_str())).collect();
    let numbers: Vec<_> = (0..50).map(f64::from).collect();
    let take = TakeOf::default()
        .number("frame", "", &numbers)
        .texts("timecode", "text", &shown)
        .fact("frame-rate", "50");
    let written = write(&files, take.alone()).unwrap();
    let files: Vec<_> = names
        .iter()
        .zip(&written)
        .map(|(n, f)| (n.as_str(), f.as_slice()))
        .collect();
    let reading = read(&files).unwrap();
    let back: Vec<_> = reading.texts(0, "timecode").into_iter().flatten().collect();
    assert_eq!(back, labels);
    assert_eq!(reading.checks(), [""; 0]);
    assert!(
        reading
            .texts(0, "extra/timeCode.flags")
            .iter()
            .all(Option::is_none)
    );
}

#[test]
fn user_bits_of_the_file_stay() {
    let template = bytes("custom_attributes.exr");
    let word = |file: &[u8]| Layout::of(file).value(0, "timeCode").unwrap().1.to_vec();
    // Two files of one label: it pairs nothing, and can be replaced.
    let names = ["x.1001.exr", "x.1002.exr"];
    let take = TakeOf::default()
        .number("frame", "", &[1001.0, 1002.0])
        .texts("timecode", "text", &[Some("05:06:07:08"), None]);
    let files = write(&names.map(|name| (name, template.as_slice())), take.alone()).unwrap();
    assert_eq!(files[1], template);
    assert_eq!(word(&files[0])[4..], word(&template)[4..]);
    assert_ne!(word(&files[0])[..4], word(&template)[..4]);
    let reading = read(&[("x.1001.exr", &files[0])]).unwrap();
    assert_eq!(reading.text(0, "timecode").as_deref(), Some("05:06:07:08"));
    let user = f64::from(0x8765_4321u32);
    assert_eq!(reading.numbers(0, "extra/timeCode.userData"), [user]);
    // Recorded ones are written.
    let take = TakeOf::default().number("frame", "", &[1001.0]).number(
        "extra/timeCode.userData",
        "",
        &[5.0],
    );
    let file = write_one(&template, take.alone()).unwrap();
    assert_eq!(word(&file)[4..], [5, 0, 0, 0]);
    assert_eq!(word(&file)[..4], word(&template)[..4]);
}

/// What has no attribute of the standard is read back exactly, unit and reference included.
#[test]
fn channels_and_facts_without_an_attribute() {
    let take = TakeOf::default()
        .number("focus-ring", "0..1", &[0.1 + 0.2])
        .number("focus-ring-raw", "count", &[40_000.0])
        .distance("near-limit", "front-vertex", &[1.0 / 3.0])
        .distance("far-limit", "unstated", &[f64::INFINITY])
        .distance("focus-distance", "image-plane", &[2.75])
        .number("equivalent-focal-length", "mm", &[48.7])
        .text("lens", "40 mm, rental 7")
        .number("frame", "", &[7.0])
        .text("timecode", "01:00:00:00")
        .text("source-file", "roll/A.mov")
        .number("extra/stop ring torque", "N", &[0.5])
        .texts("extra/labels", "hex", &[Some("00ff")])
        .texts("extra/flags", "json", &[Some("{\"a\":1}")])
        .text("extra/aperture", "wide open")
        .number("extra/name", "", &[3.0])
        .number(&format!("extra/{}", "n".repeat(300)), "", &[4.0])
        .fact("clip", "A017")
        .fact("start-timecode", "01:00:00:00")
        .fact("extra/stage", "B")
        .fact_number("focus-encoder-low", 12.0, "count")
        .fact_number("extra/height", f64::INFINITY, "ft")
        .lens_fact("lens-kind", "prime")
        .lens_fact("lens-model", "Brannvik 40");
    let files = [("x.1001.exr", data("scan_no.exr"))];
    let mut templates: Vec<(&str, &[u8])> = files.iter().map(|(n, f)| (*n, f.as_slice())).collect();
    // Paired by the label: the number in the name is another.
    let label = TakeOf::default()
        .number("frame", "", &[1001.0])
        .text("timecode", "01:00:00:00");
    let labelled = write_one(&files[0].1, label.alone()).unwrap();
    templates[0].1 = &labelled;
    let written = write(&templates, take.clone().alone()).unwrap();
    let reading = read(&[("x.1001.exr", &written[0])]).unwrap();
    assert_eq!(reading.checks(), [""; 0]);
    for (channel, unit, reference, values) in &take.columns {
        let batch = &reading.frames[0];
        let column = batch.columns.iter().find(|c| c.channel == *channel);
        let column = column.unwrap_or_else(|| panic!("{channel} is missing"));
        assert_eq!(
            (&column.unit, &column.reference),
            (unit, reference),
            "{channel}"
        );
        assert_eq!(column.values, *values, "{channel}");
    }
    for (channel, form, values) in &take.labels {
        let labels = reading.frames[0]
            .labels
            .iter()
            .find(|l| l.channel == *channel);
        let labels = labels.unwrap_or_else(|| panic!("{channel} is missing"));
        assert_eq!(labels.form, *form, "{channel}");
        assert_eq!(reading.texts(0, channel), *values, "{channel}");
    }
    let facts = &reading.takes[0].facts;
    assert_eq!(text_of(facts, "clip"), Some("A017"));
    assert_eq!(text_of(facts, "start-timecode"), Some("01:00:00:00"));
    assert_eq!(text_of(facts, "extra/stage"), Some("B"));
    assert_eq!(number_of(facts, "focus-encoder-low"), Some(12.0));
    assert_eq!(number_of(facts, "extra/height"), Some(f64::INFINITY));
    assert_eq!(
        text_of(&reading.lenses[0].facts, "lens-kind"),
        Some("prime")
    );
    // The attributes that other programs look for are there as ever.
    let file = Layout::of(&written[0]);
    assert_eq!(file.float(0, "focus"), Some(2.75));
    assert_eq!(file.double(0, "ringmark:focus-ring"), Some(0.1 + 0.2));
    assert_eq!(file.double(0, "stop ring torque"), Some(0.5));
    assert_eq!(file.text(0, "labels").as_deref(), Some("00ff"));
}

/// Extras that came from an OpenEXR file keep the types of their attributes in another file.
#[test]
fn extras_keep_their_types() {
    let source = bytes("custom_attributes.exr");
    let items = common::items(&[("x.1001.exr", &source)]);
    let file = write_one(&data("scan_no.exr"), items).unwrap();
    let (old, new) = (Layout::of(&source), Layout::of(&file));
    let mut compared = 0;
    for (name, kind, value) in &old.parts[0] {
        if name.starts_with("halden") || name.starts_with("sensor") || name == "keyCode" {
            assert_eq!(
                new.value(0, name),
                Some((kind.as_str(), value.as_slice())),
                "{name}"
            );
            compared += 1;
        }
    }
    assert!(compared > 8, "{compared}");
    // And the take is the same when it is read again.
    let (before, after) = (
        read(&[("x.1001.exr", &source)]).unwrap(),
        read(&[("x.1001.exr", &file)]).unwrap(),
    );
    for column in &before.frames[0].columns {
        let back = after.numbers(0, &column.channel);
        assert_eq!(back, column.values, "{}", column.channel);
    }
    for labels in &before.frames[0].labels {
        let back = after.texts(0, &labels.channel);
        assert_eq!(back, before.texts(0, &labels.channel), "{}", labels.channel);
    }
}

/// How the pixels of a file are to be taken is not for a take to change.
#[test]
fn attributes_about_the_pixels_stay() {
    let template = data("scan_no.exr");
    let take = TakeOf::default()
        .number("extra/pixelAspectRatio", "", &[2.0])
        .texts("extra/multiView", "json", &[Some("[\"left\"]")]);
    let file = write_one(&template, with_frame(take).alone()).unwrap();
    let layout = Layout::of(&file);
    assert_eq!(layout.float(0, "pixelAspectRatio"), Some(1.0));
    assert!(layout.value(0, "multiView").is_none());
    let reading = read(&[("x.1001.exr", &file)]).unwrap();
    assert_eq!(reading.numbers(0, "extra/pixelAspectRatio"), [2.0]);
    assert_eq!(
        reading.text(0, "extra/multiView").as_deref(),
        Some("[\"left\"]")
    );
    assert_eq!(reading.checks(), [""; 0]);
}

#[test]
fn numbers_that_a_type_cannot_hold_get_another() {
    let template = bytes("custom_attributes.exr");
    let take = TakeOf::default()
        .number("frame", "", &[1001.0])
        .number("extra/halden.own", "", &[0.1])
        .number("extra/cameraCCTSetting", "", &[5600.1])
        .number("extra/cameraTintSetting", "", &[0.5])
        .number("extra/halden.window.2", "", &[0.1])
        .number("extra/keyCode.3", "", &[1.5]);
    let file = write_one(&template, take.alone()).unwrap();
    let layout = Layout::of(&file);
    assert_eq!(layout.double(0, "halden.own"), Some(0.1));
    // The standard says the type: what it cannot hold stands beside.
    assert!(layout.value(0, "cameraCCTSetting").is_none());
    assert_eq!(
        layout.double(0, "ringmark:extra.cameraCCTSetting"),
        Some(5600.1)
    );
    assert_eq!(layout.float(0, "cameraTintSetting"), Some(0.5));
    assert_eq!(
        layout.value(0, "halden.window"),
        Layout::of(&template).value(0, "halden.window")
    );
    let reading = read(&[("x.1001.exr", &file)]).unwrap();
    assert_eq!(reading.checks(), [""; 0]);
    for (name, value) in [
        ("halden.own", 0.1),
        ("cameraCCTSetting", 5600.1),
        ("halden.window.2", 0.1),
        ("keyCode.3", 1.5),
    ] {
        assert_eq!(
            reading.numbers(0, &format!("extra/{name}")),
            [value],
            "{name}"
        );
    }
    // What fits again takes its place again.
    let take = TakeOf::default().number("frame", "", &[1001.0]).number(
        "extra/cameraCCTSetting",
        "",
        &[5600.0],
    );
    let layout = Layout::of(&write_one(&file, take.alone()).unwrap());
    assert_eq!(layout.float(0, "cameraCCTSetting"), Some(5600.0));
    assert!(layout.value(0, "ringmark:extra.cameraCCTSetting").is_none());
}

#[test]
fn two_views_get_the_values_of_their_takes() {
    let template = data("two_views.exr");
    let take = |view: &str, focus: f64| {
        TakeOf::default()
            .number("frame", "", &[1001.0])
            .number("focus-distance", "m", &[focus])
            .text("timecode", "01:02:03:04")
            .fact("extra/view", view)
    };
    let mut items = take("right", 8.0).items(0, 0);
    items.extend(take("left", 4.0).items(1, 0));
    let file = Layout::of(&write_one(&template, items).unwrap());
    assert_eq!(
        (file.float(0, "focus"), file.float(1, "focus")),
        (Some(4.0), Some(8.0))
    );
    // One view alone: the other gets what all parts share.
    let file = Layout::of(&write_one(&template, take("left", 4.0).items(0, 0)).unwrap());
    assert_eq!(
        (file.float(0, "focus"), file.float(1, "focus")),
        (Some(4.0), Some(2.5))
    );
    assert_eq!(file.value(0, "timeCode"), file.value(1, "timeCode"));
    assert!(file.value(0, "timeCode").is_some());
    // A take of no view is for all parts.
    let all =
        TakeOf::default()
            .number("frame", "", &[1001.0])
            .number("focus-distance", "m", &[9.0]);
    let file = Layout::of(&write_one(&template, all.alone()).unwrap());
    assert_eq!(
        (file.float(0, "focus"), file.float(1, "focus")),
        (Some(9.0), Some(9.0))
    );
    // A view that the file lacks.
    let failure = write_one(&template, take("centre", 4.0).items(0, 0)).unwrap_err();
    assert!(
        failure.message.contains("no part of the view “centre”"),
        "{}",
        failure.message
    );
    // Two takes for the same parts.
    let mut items = take("left", 4.0).items(0, 0);
    items.extend(take("left", 5.0).items(1, 0));
    let failure = write_one(&template, items).unwrap_err();
    assert!(
        failure.message.contains("take 1 and take 2"),
        "{}",
        failure.message
    );
}

#[test]
fn two_lenses_in_one_view_are_told_apart_by_serial_number() {
    let template = data("two_lenses.exr");
    let take = |serial: &str, focus: f64| {
        TakeOf::default()
            .number("frame", "", &[1001.0])
            .number("focus-distance", "m", &[focus])
            .lens_fact("lens-serial", serial)
    };
    let mut items = take("H32-0043", 8.0).items(0, 0);
    items.extend(take("H32-0042", 4.0).items(1, 1));
    let file = Layout::of(&write_one(&template, items).unwrap());
    assert_eq!(
        (file.float(0, "focus"), file.float(1, "focus")),
        (Some(4.0), Some(8.0))
    );
    // Another lens is that of all parts.
    let file = Layout::of(&write_one(&template, take("X", 5.0).alone()).unwrap());
    assert_eq!(
        (file.float(0, "focus"), file.float(1, "focus")),
        (Some(5.0), Some(5.0))
    );
}

#[test]
fn a_file_is_for_one_take() {
    let take = TakeOf::default().number("frame", "", &[1001.0]);
    let mut items = take.clone().items(0, 0);
    items.extend(take.items(1, 0));
    let failure = write_one(&data("scan_no.exr"), items).unwrap_err();
    assert!(
        failure
            .message
            .contains("take 2 both have a frame for 'x.1001.exr'"),
        "{}",
        failure.message
    );
}

#[test]
fn a_view_goes_into_files_without_views() {
    let take = TakeOf::default()
        .number("frame", "", &[1001.0])
        .fact("extra/view", "left")
        .fact("clip", "x left");
    let file = write_one(&data("scan_no.exr"), take.alone()).unwrap();
    let facts = &read(&[("x.1001.exr", &file)]).unwrap().takes[0].facts;
    assert_eq!(text_of(facts, "extra/view"), Some("left"));
    assert_eq!(text_of(facts, "clip"), Some("x left"));
}

/// A sequence in which the reference of a distance changes.
#[test]
fn a_reference_that_changes_is_flagged() {
    let template = data("scan_no.exr");
    let file = |reference: &str| {
        let take = TakeOf::default().number("frame", "", &[1001.0]).distance(
            "focus-distance",
            reference,
            &[2.0],
        );
        write_one(&template, take.alone()).unwrap()
    };
    let (a, b) = (file("image-plane"), file("front-vertex"));
    let reading = read(&[("x.1.exr", &a), ("x.2.exr", &b)]).unwrap();
    assert_eq!(reading.checks(), ["attribute-changes"]);
    assert!(
        reading.remarks[0].message.contains("focus"),
        "{}",
        reading.remarks[0].message
    );
}

#[test]
fn lenses_that_the_take_does_not_use_are_kept() {
    let lens = |model: &str| {
        ringmark_sdk::Item::Lens(ringmark_sdk::Lens {
            facts: vec![
                ringmark_sdk::fact("lens-model", model, None),
                number_fact("squeeze", 2.0, ""),
            ],
            rings: Vec::new(),
            tables: Vec::new(),
        })
    };
    let mut items = vec![lens("A"), lens("B"), lens("C")];
    let mut take = TakeOf::default().number("frame", "", &[1001.0]).items(0, 1);
    if let ringmark_sdk::Item::Take(head) = &mut take[0] {
        head.lens = Some(1);
    }
    items.append(&mut take);
    let file = write_one(&data("scan_no.exr"), items).unwrap();
    assert_eq!(Layout::of(&file).text(0, "lensModel").as_deref(), Some("B"));
    let reading = read(&[("x.1001.exr", &file)]).unwrap();
    let models: Vec<_> = reading
        .lenses
        .iter()
        .map(|lens| text_of(&lens.facts, "lens-model").unwrap())
        .collect();
    assert_eq!(
        (models, reading.takes[0].lens),
        (vec!["A", "B", "C"], Some(1))
    );
    assert!(
        reading
            .lenses
            .iter()
            .all(|lens| number_of(&lens.facts, "squeeze") == Some(2.0))
    );
}

#[test]
fn a_lens_of_which_nothing_is_known_stays_a_lens() {
    let mut take = TakeOf::default().number("frame", "", &[1001.0]);
    take.lens = Some(Vec::new());
    let plain = common::Parts::of(&data("scan_no.exr"));
    let template = data("scan_no.exr");
    assert!(plain.attributes.iter().any(|a| a.0 == "lensModel"));
    let file = write_one(&template, take.alone()).unwrap();
    assert_eq!(read(&[("x.1001.exr", &file)]).unwrap().lenses.len(), 1);
}

#[test]
fn damaged_private_attributes_are_flagged_and_replaced() {
    let good = write_one(
        &data("scan_no.exr"),
        TakeOf::default()
            .number("frame", "", &[1001.0])
            .number("extra/torque", "N", &[0.5])
            .fact("extra/stage", "B")
            .alone(),
    )
    .unwrap();
    let mut bad = good.clone();
    for name in ["ringmark:columns", "ringmark:take-facts"] {
        let at = bad
            .windows(name.len())
            .position(|w| w == name.as_bytes())
            .unwrap();
        bad[at + name.len() + 12] = b'!';
    }
    let reading = read(&[("x.1001.exr", &bad)]).unwrap();
    assert_eq!(reading.checks(), ["private-part-damaged"; 2]);
    assert_eq!(reading.numbers(0, "extra/torque"), [0.5]);
    let again = write_one(
        &bad,
        TakeOf::default()
            .number("frame", "", &[1001.0])
            .number("extra/torque", "N", &[0.5])
            .fact("extra/stage", "B")
            .alone(),
    )
    .unwrap();
    assert_eq!(again, good);
}
