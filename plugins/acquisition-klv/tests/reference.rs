//! Streams made by an independent byte writer, cross-checked with Debian mediainfo 23.04.

#![allow(clippy::unwrap_used)]

mod common;

use common::{
    CAMERA, FILL, Flat, LENS, USER_DEFINED, column, data, flat, klv, read, remarks, set, take,
    told, write,
};
use ringmark_sdk::Item;
use serde_json::Value;

/// Our name, factor from the unit of the expected value to ours, its name there.
const NUMBERS: &[(&str, &str, f64)] = &[
    ("f-number", "f_number", 1.0),
    ("t-stop", "t_number", 1.0),
    ("focus-distance", "focus_from_image_plane_m", 1.0),
    (
        "extra/FocusPositionFromFrontLensVertex",
        "focus_from_front_vertex_m",
        1.0,
    ),
    ("equivalent-focal-length", "focal_length_35mm_equiv_m", 1.0),
    ("nominal-focal-length", "focal_length_m", 1.0),
    (
        "extra/OpticalExtenderMagnification",
        "optical_extender_magnification",
        100.0,
    ),
    ("iris-ring", "iris_ring", 1.0),
    ("focus-ring", "focus_ring", 1.0),
    ("zoom-ring", "zoom_ring", 1.0),
    ("shutter-angle", "shutter_angle_deg", 60.0),
    ("exposure-time", "exposure_time_s", 1.0),
    ("extra/CameraMasterGainAdjustment", "master_gain_db", 1.0),
    ("sensitivity", "iso", 1.0),
    (
        "extra/ElectricalExtenderMagnification",
        "electrical_extender_magnification",
        100.0,
    ),
    ("extra/WhiteBalance", "white_balance_k", 1.0),
    ("extra/CameraMasterBlackLevel", "black_level_percent", 1.0),
    ("extra/CameraKneePoint", "knee_point_percent", 1.0),
    ("extra/CameraKneeSlope", "knee_slope", 1.0),
    (
        "extra/CameraLuminanceDynamicRange",
        "luminance_dynamic_range_percent",
        1.0,
    ),
    ("extra/ExposureIndexofPhotoMeter", "exposure_index", 1.0),
];

fn compare(read: &Flat, shift: u64) {
    let expected: Value = serde_json::from_slice(&data("rack_48f.expected.json")).unwrap();
    let expected = expected["frames"].as_array().unwrap();
    assert_eq!(read.frames, expected.len());
    let mut compared = 0;
    for (ours, theirs, factor) in NUMBERS {
        for (frame, value) in read.numbers(ours).into_iter().enumerate() {
            let wanted = expected[frame][theirs].as_f64().unwrap() * factor;
            assert!(
                (value - wanted).abs() <= 1e-12 * wanted.abs(),
                "{ours} {frame}: {value} {wanted}"
            );
            compared += 1;
        }
    }
    let nd = read.numbers("extra/NeutralDensityFilterWheelSetting");
    let rate = read.numbers("capture-rate");
    for (frame, row) in expected.iter().enumerate() {
        assert_eq!(nd[frame], 1.0 / row["nd_transmittance"].as_f64().unwrap());
        assert_eq!(nd[frame].log2(), row["nd_stops"].as_f64().unwrap());
        let parts = [0, 1].map(|n| row["capture_rate"][n].as_f64().unwrap());
        assert_eq!(rate[frame], parts[0] / parts[1]);
        assert_eq!(
            read.offsets[frame],
            row["byte_offset"].as_u64().unwrap() + shift
        );
        compared += 3;
    }
    for (name, text) in [
        ("lens", "Halden 32 #H32-0042"),
        ("extra/CameraAttributes", "K1 Testbench #K1-00017"),
        ("extra/MacroSetting", "Off"),
        ("extra/AutoExposureMode", "Manual"),
        ("extra/AutoFocusSensingAreaSetting", "Manual"),
        ("extra/ImageSensorReadoutMode", "Progressive frame"),
        ("extra/AutoWhiteBalanceMode", "Preset"),
    ] {
        assert!(
            read.texts(name).iter().all(|t| t.as_deref() == Some(text)),
            "{name}"
        );
        compared += read.frames;
    }
    assert_eq!(compared, 31 * 48);
    assert_eq!(read.columns.len(), 30);
    assert_eq!(
        read.facts,
        [
            "sensor-height = 19220.0 [um]",
            "sensor-width = 27990.0 [um]"
        ]
    );
    assert_eq!(read.kind("focus-distance"), "number m image-plane");
}

#[test]
fn every_value_of_the_stream_and_of_the_container() {
    for (name, shift) in [("rack_48f.klv", 0), ("rack_48f.mxf", 108)] {
        let items = read(&data(name)).unwrap();
        assert!(remarks(&items).is_empty());
        compare(&flat(&items), shift);
    }
}

#[test]
fn the_stream_is_written_as_it_was() {
    let bytes = data("rack_48f.klv");
    assert_eq!(write(&read(&bytes).unwrap()).unwrap(), bytes);
}

#[test]
fn a_focal_length_is_stored_in_metres() {
    // 32.21 mm is 3221 · 10^-5 m. Taken for millimetres it would be a lens of 32 m.
    let read_back = flat(&read(&set(LENS, &[(0x8005, &[0xbc, 0x95])])).unwrap());
    assert_eq!(read_back.numbers("nominal-focal-length"), [0.03221]);
    assert_eq!(read_back.kind("nominal-focal-length"), "number m ");
    let written = write(&take(vec![column(
        "nominal-focal-length",
        "m",
        "",
        &[0.03221],
    )]))
    .unwrap();
    assert_eq!(written, set(LENS, &[(0x8005, &[0xbc, 0x95])]));
    // A column in another unit than the manifest asks for is not taken for metres.
    let written = write(&take(vec![column(
        "nominal-focal-length",
        "mm",
        "",
        &[32.21],
    )]))
    .unwrap();
    assert!(written.starts_with(&klv(LENS, &[])));
    assert_eq!(
        flat(&read(&written).unwrap()).kind("nominal-focal-length"),
        "number mm "
    );
}

#[test]
fn the_35_mm_equivalent_is_no_focal_length_of_the_lens() {
    let read = flat(&read(&set(LENS, &[(0x8004, &[0xc1, 0x9b])])).unwrap());
    assert_eq!(read.numbers("equivalent-focal-length"), [0.0411]);
    assert!(!read.columns.contains_key("nominal-focal-length"));
}

#[test]
fn a_shutter_angle_is_stored_in_minutes_of_arc() {
    let camera = set(CAMERA, &[(0x8108, &10_368u32.to_be_bytes())]);
    let read_back = flat(&read(&camera).unwrap());
    assert_eq!(read_back.numbers("shutter-angle"), [10_368.0]);
    assert_eq!(read_back.kind("shutter-angle"), "number arcmin ");
    assert_eq!(read_back.numbers("shutter-angle")[0] / 60.0, 172.8);
}

#[test]
fn f_number_and_t_number_are_two_channels() {
    let both = set(LENS, &[(0x8000, &[0xe2, 0x5e]), (0x8008, &[0xe0, 0])]);
    let read = flat(&read(&both).unwrap());
    assert_eq!(read.numbers("t-stop"), [2.0]);
    assert!((read.numbers("f-number")[0] - 1.9).abs() < 1e-4);
}

#[test]
fn a_number_of_1_or_less_has_no_code() {
    for (channel, unit) in [("f-number", "f"), ("t-stop", "T")] {
        let written = write(&take(vec![column(channel, unit, "", &[0.95, 1.0, 2.0])])).unwrap();
        assert!(written.starts_with(&klv(LENS, &[])));
        assert_eq!(
            flat(&read(&written).unwrap()).numbers(channel),
            [0.95, 1.0, 2.0]
        );
    }
}

#[test]
fn infinity_has_no_code_and_0_is_no_distance() {
    let far = [
        (0x7fffu16, f64::INFINITY),
        (0x33e8, f64::INFINITY),
        (0x2fff, 409_500.0),
    ];
    for (code, expected) in far {
        let items = read(&set(LENS, &[(0x8001, &code.to_be_bytes())])).unwrap();
        assert_eq!(
            flat(&items).numbers("focus-distance"),
            [expected],
            "{code:04x}"
        );
        let told = told(&items);
        assert_eq!(told.is_empty(), expected.is_finite());
        assert!(
            told.iter()
                .all(|t| t.0 == "infinity-by-size" && t.1 == "warning")
        );
    }
    let zero = set(LENS, &[(0x8001, &[0x10, 0]), (0x8005, &[0, 0])]);
    let items = read(&zero).unwrap();
    let read_back = flat(&items);
    assert_eq!(
        read_back.texts("extra/lens.8001"),
        [Some("1000".to_owned())]
    );
    assert!(!read_back.columns.contains_key("focus-distance"));
    assert_eq!(told(&items)[0].0, "value-zero");
    assert_eq!(write(&items).unwrap(), zero);
    let infinite = write(&take(vec![column(
        "focus-distance",
        "m",
        "image-plane",
        &[f64::INFINITY],
    )]))
    .unwrap();
    assert!(infinite.starts_with(&klv(LENS, &[])));
    assert_eq!(
        flat(&read(&infinite).unwrap()).numbers("focus-distance"),
        [f64::INFINITY]
    );
}

#[test]
fn the_image_plane_goes_before_the_front_vertex() {
    let vertex = set(LENS, &[(0x8002, &[0xd7, 0x08])]);
    let read_vertex = flat(&read(&vertex).unwrap());
    assert_eq!(read_vertex.kind("focus-distance"), "number m front-vertex");
    assert_eq!(read_vertex.numbers("focus-distance"), [1.8]);
    let both = set(LENS, &[(0x8001, &[0xd7, 0xd0]), (0x8002, &[0xd7, 0x08])]);
    let read_both = flat(&read(&both).unwrap());
    assert_eq!(read_both.kind("focus-distance"), "number m image-plane");
    assert_eq!(
        read_both.numbers("extra/FocusPositionFromFrontLensVertex"),
        [1.8]
    );
    // A frame with one of both only changes nothing about the take.
    let stream = [vertex.clone(), both.clone(), vertex.clone()].concat();
    let items = read(&stream).unwrap();
    let mixed = flat(&items);
    assert_eq!(mixed.kind("focus-distance"), "number m image-plane");
    assert_eq!(
        flat(&read(&write(&items).unwrap()).unwrap()).columns,
        mixed.columns
    );
    for bytes in [vertex, both] {
        assert_eq!(write(&read(&bytes).unwrap()).unwrap(), bytes);
    }
}

#[test]
fn what_distances_are_measured_from_is_kept() {
    for reference in ["image-plane", "front-vertex", "entrance-pupil", "unstated"] {
        let items = take(vec![column(
            "focus-distance",
            "m",
            reference,
            &[f64::NAN, 2.0, f64::INFINITY],
        )]);
        let written = write(&items).unwrap();
        let back = flat(&read(&written).unwrap());
        assert_eq!(back.kind("focus-distance"), format!("number m {reference}"));
        assert_eq!(back.columns, flat(&items).columns);
        let item = if reference == "front-vertex" {
            [0x80, 2, 0, 2, 0xd7, 0xd0]
        } else {
            [0x80, 1, 0, 2, 0xd7, 0xd0]
        };
        assert!(written.windows(6).any(|w| w == item), "{reference}");
    }
}

#[test]
fn every_form_of_length_version_coding_and_fill() {
    let two = [0xe0, 0];
    let plain = set(LENS, &[(0x8008, &two)]);
    let mut version = plain.clone();
    version[7] = 2;
    let value = &plain[20..];
    let mut forms = vec![plain.clone(), version];
    for length in [
        &[6u8][..],
        &[0x81, 6],
        &[0x82, 0, 6],
        &[0x84, 0, 0, 0, 6],
        &[0x88, 0, 0, 0, 0, 0, 0, 0, 6],
    ] {
        forms.push([&LENS[..], length, value].concat());
    }
    let mut four = LENS;
    four[5] = 0x63;
    forms.push(klv(four, &[0x80, 8, 0, 0, 0, 2, 0xe0, 0]));
    forms.push([klv(FILL, &[0; 9]), plain.clone(), klv(FILL, &[])].concat());
    for bytes in forms {
        let items = read(&bytes).unwrap();
        assert_eq!(flat(&items).numbers("t-stop"), [2.0]);
        assert!(remarks(&items).is_empty());
        assert_eq!(write(&items).unwrap(), plain);
    }
    let mut one = LENS;
    one[5] = 0x43;
    let items = read(&klv(one, &[0x80, 0, 1, 7])).unwrap();
    assert_eq!(
        flat(&items).texts("extra/lens.0080"),
        [Some("07".to_owned())]
    );
}

#[test]
fn frames_are_pairs_in_order() {
    let lens = |n: u8| set(LENS, &[(0x800b, &[n, 0])]);
    let camera = |n: u8| set(CAMERA, &[(0x810b, &[n, 0])]);
    let user = || set(USER_DEFINED, &[(0xe000, &[1; 16])]);
    // Which lens and which camera set each frame has.
    for (stream, frames) in [
        (vec![lens(1), camera(2), lens(3), camera(4)], "12 34"),
        (vec![camera(1), lens(2), camera(3), lens(4)], "21 43"),
        (vec![lens(1), lens(2), camera(3), lens(4)], "1- 23 4-"),
        (
            vec![lens(1), camera(2), camera(3), lens(4), camera(5)],
            "12 -3 45",
        ),
        (vec![camera(1), camera(2)], "-1 -2"),
        (vec![lens(1), user(), camera(2), user(), lens(3)], "12 3-"),
        (vec![user(), lens(1), camera(2), user(), lens(3)], "12 3-"),
    ] {
        let read = flat(&read(&stream.concat()).unwrap());
        let values = |name: &str| match read.columns.contains_key(name) {
            true => read.numbers(name),
            false => vec![f64::NAN; read.frames],
        };
        let shown: Vec<String> = values("zoom-ring")
            .into_iter()
            .map(|v| v * 256.0)
            .zip(values("sensitivity").into_iter().map(|v| v / 256.0))
            .map(|(a, b)| format!("{a}{b}").replace("NaN", "-"))
            .collect();
        assert_eq!(shown.join(" "), frames);
    }
}

#[test]
fn what_is_unknown_is_kept_at_its_place() {
    let mut other = LENS;
    other[12] = 9;
    let mut foreign = LENS;
    foreign[9] = 0x77;
    let stream = [
        set(LENS, &[(0x7000, b"a"), (0x8008, &[0xe0, 0]), (0x80ff, b"")]),
        set(
            CAMERA,
            &[(0x8101, &[9]), (0x810b, &[3, 32]), (0xfffe, &[1, 2, 3])],
        ),
        set(USER_DEFINED, &[(0xe000, &[7; 16]), (0xe001, b"opaque")]),
        set(USER_DEFINED, &[(0xe000, &[8; 16])]),
        klv(other, b"set"),
        klv(foreign, &[]),
        set(LENS, &[]),
    ]
    .concat();
    let items = read(&stream).unwrap();
    let read_back = flat(&items);
    assert_eq!(read_back.frames, 2);
    let text = |name: &str| read_back.texts(name)[0].clone().unwrap();
    assert_eq!(text("extra/lens.7000"), "61");
    assert_eq!(text("extra/lens.80FF"), "");
    assert_eq!(text("extra/camera.8101"), "09");
    assert_eq!(text("extra/camera.FFFE"), "010203");
    assert!(text("extra/UserDefined").ends_with("6f7061717565"));
    assert!(text("extra/UserDefined#2").starts_with("e0000010080808"));
    assert_eq!(text("extra/set.060e2b34025301010c02010109010000"), "736574");
    assert_eq!(text("extra/set.060e2b34025301010c77010101010000"), "");
    assert_eq!(
        told(&items),
        [("value-unknown".to_owned(), "note".to_owned())]
    );
    let written = write(&items).unwrap();
    // The user-defined sets and the others stand in the order of their names.
    assert_eq!(written.len(), stream.len());
    assert_eq!(flat(&read(&written).unwrap()).columns, read_back.columns);
    assert_eq!(write(&read(&written).unwrap()).unwrap(), written);
}

#[test]
fn the_sensor_is_a_fact_and_changes_are_told() {
    let camera = |width: u16| set(CAMERA, &[(0x8104, &width.to_be_bytes())]);
    let stream = [27_990, 27_990, 24_000, 27_990].map(camera).concat();
    let items = read(&stream).unwrap();
    let read_back = flat(&items);
    assert_eq!(read_back.facts, ["sensor-width = 27990.0 [um]"]);
    let other = read_back.numbers("extra/ImageSensorDimensionEffectiveWidth");
    assert!(other[0].is_nan() && other[1].is_nan() && other[3].is_nan());
    assert_eq!(other[2], 24.0);
    let told = remarks(&items);
    assert_eq!((&*told[0].check, told.len()), ("attribute-changes", 1));
    assert_eq!(told[0].at.as_ref().unwrap().offset, 2 * 26);
    let written = write(&items).unwrap();
    let again = read(&written).unwrap();
    assert_eq!(flat(&again).columns, read_back.columns);
    assert_eq!(flat(&again).facts, read_back.facts);
    assert_eq!(write(&again).unwrap(), written);
}

#[test]
fn the_capture_rate_is_not_the_frame_rate() {
    let rates: Vec<u8> = [(24, 1), (30_000, 1001), (120, 1)]
        .iter()
        .flat_map(|(num, den): &(u32, u32)| {
            set(
                CAMERA,
                &[(0x8106, &[num.to_be_bytes(), den.to_be_bytes()].concat())],
            )
        })
        .collect();
    let items = read(&rates).unwrap();
    let read_back = flat(&items);
    assert_eq!(
        read_back.numbers("capture-rate"),
        [24.0, 30_000.0 / 1001.0, 120.0]
    );
    assert!(read_back.facts.is_empty());
    assert_eq!(
        write(&read(&write(&items).unwrap()).unwrap()).unwrap(),
        write(&items).unwrap()
    );
}

#[test]
fn a_capture_rate_of_the_whole_take_stands_in_every_frame() {
    let mut items = take(vec![column("t-stop", "T", "", &[2.0, 2.0])]);
    let Item::Take(head) = &mut items[0] else {
        panic!()
    };
    head.facts
        .push(ringmark_sdk::fact("capture-rate", "24000/1001", None));
    let written = write(&items).unwrap();
    let item = [0x81, 0x06, 0, 8, 0, 0, 0x5d, 0xc0, 0, 0, 3, 0xe9];
    assert_eq!(written.windows(12).filter(|w| *w == item).count(), 2);
    let back = read(&written).unwrap();
    assert_eq!(flat(&back).facts, flat(&items).facts);
    assert!(!flat(&back).columns.contains_key("capture-rate"));
    assert_eq!(write(&back).unwrap(), written);
}

#[test]
fn a_gain_below_0_is_read_as_such_and_told() {
    let bytes = set(CAMERA, &[(0x810a, &(-300i16).to_be_bytes())]);
    let items = read(&bytes).unwrap();
    assert_eq!(
        flat(&items).numbers("extra/CameraMasterGainAdjustment"),
        [-3.0]
    );
    assert_eq!(
        told(&items)[0],
        ("sign-assumed".to_owned(), "note".to_owned())
    );
    // The lens set of a frame is written even without items.
    assert_eq!(write(&items).unwrap(), [klv(LENS, &[]), bytes].concat());
}
