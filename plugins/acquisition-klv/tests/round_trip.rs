//! Whatever take is written, it reads back as the manifest says, and the second pass gives the
//! same bytes.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::LazyLock;

use common::{Cell, column, flat, read, read_until_failure, remarks, take, write};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};
use ringmark_acquisition_klv::AcquisitionKlv;
use ringmark_sdk::batch::LabelColumn;
use ringmark_sdk::{Column, Datum, Fact, Format, Frames, Item, Labels, Lens, Take};

/// Rows of channels in the manifest.
static CHANNELS: LazyLock<Vec<serde_json::Value>> = LazyLock::new(|| {
    let manifest: serde_json::Value = serde_json::from_str(AcquisitionKlv::MANIFEST).unwrap();
    manifest["carries"]["channels"].as_array().unwrap().clone()
});

/// How far a number of a channel may be off, by the manifest; `None` where it must be exact.
fn tolerance(name: &str, kind: &str, value: f64) -> Option<f64> {
    let row = CHANNELS.iter().find(|row| row["name"] == name)?;
    let unit = row["unit"].as_str()?;
    if kind.split(' ').nth(1) != Some(unit) {
        return None;
    }
    let limit = |key: &str| row[key].as_f64();
    let refused = value > limit("at_most").unwrap_or(f64::MAX)
        || limit("above").is_some_and(|above| value <= above)
        || limit("at_least").is_some_and(|least| value < least);
    if refused {
        return None;
    }
    let precision = &row["precision"];
    match (precision["relative"].as_f64(), precision["step"].as_f64()) {
        (Some(part), _) => Some(part * value.abs()),
        (_, Some(step)) => Some(step / 2.0 * (1.0 + 1e-12)),
        _ => None,
    }
}

fn numbers() -> impl Strategy<Value = f64> {
    prop_oneof![
        3 => Just(f64::NAN),
        2 => select(vec![f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, -1.0, 1.0, 256.0, 1e300, 5e-324, 65_535.0, 65_536.0, 999_000.0, 1e6, 4.095e10, 4_294_967_295.0]),
        4 => select(vec![0.5, 2.0, 1.9, 2.5, 0.0321, 27.99, 180.0, 800.0, 24.0, 30_000.0 / 1001.0, 1.0 / 48.0, 0.999_99]),
        3 => (-6.0..6.0f64).prop_map(|power| 10f64.powf(power)),
        1 => any::<f64>().prop_filter("NaN has one form", |v| !v.is_nan()),
    ]
}

/// Name, unit and reference.
const NUMBERS: &[(&str, &str, &str)] = &[
    ("frame", "", ""),
    ("f-number", "f", ""),
    ("t-stop", "T", ""),
    ("equivalent-focal-length", "m", ""),
    ("nominal-focal-length", "m", ""),
    ("pinhole-focal-length", "mm", ""),
    ("entrance-pupil-offset", "mm", ""),
    ("iris-ring", "0..1", ""),
    ("focus-ring", "0..1", ""),
    ("zoom-ring", "%", ""),
    ("focus-ring-raw", "count", ""),
    ("capture-rate", "fps", ""),
    ("shutter-angle", "arcmin", ""),
    ("exposure-time", "s", ""),
    ("sensitivity", "ISO", ""),
    ("near-limit", "m", "image-plane"),
    ("extra/FocusPositionFromFrontLensVertex", "", ""),
    ("extra/FocusPositionFromImagePlane", "", ""),
    ("extra/OpticalExtenderMagnification", "", ""),
    ("extra/NeutralDensityFilterWheelSetting", "", ""),
    ("extra/ImageSensorDimensionEffectiveWidth", "", ""),
    ("extra/ImageSensorDimensionEffectiveHeight", "", ""),
    ("extra/CameraMasterGainAdjustment", "", ""),
    ("extra/CameraMasterBlackLevel", "", ""),
    ("extra/CameraKneePoint", "", ""),
    ("extra/CameraKneeSlope", "", ""),
    ("extra/WhiteBalance", "K", ""),
    ("extra/MacroSetting", "", ""),
    ("extra/lens.8001", "", ""),
    ("extra/voltage", "V", ""),
    ("extra/", "", ""),
];

const LABELS: &[(&str, &str)] = &[
    ("timecode", "text"),
    ("lens", "text"),
    ("lens-serial", "text"),
    ("extra/AutoExposureMode", "text"),
    ("extra/AutoFocusSensingAreaSetting", "text"),
    ("extra/ColorCorrectionFilterWheelSetting", "text"),
    ("extra/ImageSensorReadoutMode", "text"),
    ("extra/AutoWhiteBalanceMode", "text"),
    ("extra/GammaForCDL", "text"),
    ("extra/ASC_CDL_V12", "text"),
    ("extra/ColorMatrix", "text"),
    ("extra/CameraSettingFileURI", "text"),
    ("extra/CameraAttributes", "json"),
    ("extra/CaptureGammaEquation", "hex"),
    ("extra/ColorPrimaries", "hex"),
    ("extra/CodingEquations", "text"),
    ("extra/WhiteBalance", "text"),
    ("extra/lens.8000", "hex"),
    ("extra/lens.8003", "hex"),
    ("extra/lens.80FF", "hex"),
    ("extra/lens.80fe", "hex"),
    ("extra/camera.8101", "hex"),
    ("extra/camera.8106", "hex"),
    ("extra/camera.8109", "hex"),
    ("extra/camera.0001", "hex"),
    ("extra/camera.0002", "text"),
    ("extra/UserDefined", "hex"),
    ("extra/UserDefined#2", "hex"),
    ("extra/UserDefined#3", "hex"),
    ("extra/UserDefined#1", "hex"),
    ("extra/set.060e2b34025301010c02010103010000", "hex"),
    ("extra/set.060e2b34025301010c02010101010000", "hex"),
    ("extra/set.060e2b34025301010d01010101013b00", "hex"),
    ("extra/set.060e2b34020501010d01020101020400", "hex"),
    ("extra/set.060e2b34010101020301021001000000", "hex"),
    ("extra/set.060e2b34025301020c0201017f010000", "hex"),
    ("extra/set.00", "hex"),
    ("extra/note \"é\"\n", "text"),
];

fn texts() -> impl Strategy<Value = Option<String>> {
    let private = "e0000010".to_owned() + "7d1c529b3e604f87a10ec44b93d82675" + "e001000101";
    let usual = [
        "A",
        "",
        "\u{0}",
        "A\u{0}",
        "On",
        "Off",
        "Manual",
        "Automatic",
        "One Push",
        "Undefined",
        "Scene Linear",
        "Cross effect",
        "Progressive frame",
        "Iris Priority Auto",
        "00",
        "0000",
        "09",
        "ff",
        "0000000000000001",
        "0000000100000000",
        "060e2b340401010b0510010101030000",
        "sR=1 sG=1.5 sB=1 oR=0 oG=-0.5 oB=0 pR=1 pG=1 pB=1 sat=1",
        "RR=1/1 GR=2/3 BR=-1/4 RG=5/1 GG=1/1 BG=7/8 RB=1/1000 GB=0/1 BB=1/1",
        "é",
        "ABCD",
        &private,
    ]
    .map(str::to_owned);
    prop_oneof![
        3 => Just(None),
        8 => select(usual.to_vec()).prop_map(Some),
        1 => any::<String>().prop_map(Some),
        1 => select(vec!["ä".repeat(40_000), "00".repeat(70_000)]).prop_map(Some),
    ]
}

fn fact_list(rows: &'static [(&'static str, &'static str, bool)]) -> BoxedStrategy<Vec<Fact>> {
    let words = [
        "24",
        "24000/1001",
        "0",
        "drop-frame",
        "01:00:00:00",
        "A",
        "",
        "ä",
    ];
    let each: Vec<_> = rows
        .iter()
        .map(|(name, unit, text)| {
            let value = if *text {
                select(words.map(str::to_owned).to_vec())
                    .prop_map(Datum::Text)
                    .boxed()
            } else {
                let sizes = select(vec![27_990.0, 27_990.4, 0.0, 0.4, 70_000.0, 500.0, -1.0]);
                sizes.prop_map(Datum::Number).boxed()
            };
            value.prop_map(move |value| Fact {
                name: (*name).to_owned(),
                value,
                unit: (*unit).to_owned(),
                at: None,
            })
        })
        .collect();
    (
        each,
        subsequence((0..rows.len()).collect::<Vec<_>>(), 0..=rows.len()),
    )
        .prop_map(|(facts, chosen)| chosen.into_iter().map(|i| facts[i].clone()).collect())
        .boxed()
}

/// Name, unit, whether it is a text.
const TAKE_FACTS: &[(&str, &str, bool)] = &[
    ("clip", "", true),
    ("frame-rate", "", true),
    ("capture-rate", "", true),
    ("counting", "", true),
    ("start-timecode", "", true),
    ("sensor-width", "um", false),
    ("sensor-height", "um", false),
    ("resolution-width", "", false),
    ("extra/height", "m", false),
    ("extra/weather", "", true),
];

const LENS_FACTS: &[(&str, &str, bool)] = &[
    ("lens-model", "", true),
    ("lens-serial", "", true),
    ("focal-length-min", "mm", false),
    ("extra/owner", "", true),
];

fn labels_of((name, form): (&'static str, &'static str), texts: Vec<Option<String>>) -> Labels {
    let mut column = LabelColumn::with_form(name, form);
    for text in texts {
        match text {
            Some(text) => column.push(&text),
            None => column.push_absent(),
        }
    }
    column.take()
}

fn take_items() -> impl Strategy<Value = Vec<Item>> {
    let chosen = (
        1usize..6,
        subsequence(NUMBERS.to_vec(), 0..=NUMBERS.len()),
        subsequence(LABELS.to_vec(), 0..=LABELS.len()),
        prop_oneof![
            1 => Just(None),
            3 => select(vec!["image-plane", "front-vertex", "entrance-pupil", "unstated"]).prop_map(Some),
        ],
    );
    let frames = chosen.prop_flat_map(|(count, mut rows, names, focus)| {
        rows.extend(focus.map(|reference| ("focus-distance", "m", reference)));
        let values = vec(vec(numbers(), count), rows.len());
        let texts = vec(vec(texts(), count), names.len());
        (values, texts).prop_map(move |(values, texts)| {
            let columns: Vec<Column> = rows
                .iter()
                .zip(values)
                .map(|((name, unit, reference), values)| column(name, unit, reference, &values))
                .collect();
            let free = |name: &str| columns.iter().all(|c| c.channel != name);
            let labels = names
                .iter()
                .zip(texts)
                .filter(|((name, _), _)| free(name))
                .map(|(head, texts)| labels_of(*head, texts))
                .collect();
            Frames {
                take: 0,
                first: 0,
                count: count as u32,
                columns,
                labels,
                inputs: Vec::new(),
                offsets: Vec::new(),
            }
        })
    });
    let lenses = vec(fact_list(LENS_FACTS), 0..3);
    (frames, fact_list(TAKE_FACTS), lenses, any::<bool>()).prop_map(
        |(frames, facts, lenses, with_lens)| {
            let lens = if with_lens {
                (lenses.len() as u32).checked_sub(1)
            } else {
                None
            };
            let mut items: Vec<Item> = lenses
                .into_iter()
                .map(|facts| {
                    Item::Lens(Lens {
                        facts,
                        rings: Vec::new(),
                        tables: Vec::new(),
                    })
                })
                .collect();
            items.push(Item::Take(Take { lens, facts }));
            items.push(Item::Frames(frames));
            items
        },
    )
}

/// Cuts the frames into batches of one.
fn one_by_one(items: &[Item]) -> Vec<Item> {
    let mut cut = Vec::new();
    for item in items {
        let Item::Frames(frames) = item else {
            cut.push(item.clone());
            continue;
        };
        for row in 0..frames.count as usize {
            cut.push(Item::Frames(Frames {
                first: row as u64,
                count: 1,
                columns: frames
                    .columns
                    .iter()
                    .map(|c| Column {
                        values: vec![c.values[row]],
                        ..c.clone()
                    })
                    .collect(),
                labels: frames
                    .labels
                    .iter()
                    .map(|l| Labels {
                        index: vec![l.index[row]],
                        ..l.clone()
                    })
                    .collect(),
                ..frames.clone()
            }));
        }
    }
    cut
}

/// A fact of the sensor's size is a whole number of micrometres, where the items can say it.
fn rounded(facts: &[String]) -> Vec<String> {
    facts
        .iter()
        .map(|fact| fact.replace("27990.4", "27990.0"))
        .collect()
}

fn passes(items: &[Item]) {
    let given = flat(items);
    let written = write(items).unwrap();
    let back = read(&written).unwrap();
    for remark in remarks(&back) {
        // What the bytes of extras mean may be told; all else is right.
        let about_extras = [
            "value-unknown",
            "value-zero",
            "fraction-invalid",
            "rate-invalid",
            "sign-assumed",
            "attribute-changes",
            "infinity-by-size",
        ];
        assert!(about_extras.contains(&&*remark.check), "{remark:?}");
    }
    let read_back = flat(&back);
    assert_eq!(read_back.frames, given.frames);
    assert_eq!(read_back.lenses, given.lenses);
    assert_eq!(read_back.lens, given.lens);
    assert_eq!(rounded(&read_back.facts), rounded(&given.facts));
    assert!(
        read_back.columns.keys().eq(given.columns.keys()),
        "{:?}\n{:?}",
        read_back.columns.keys(),
        given.columns.keys()
    );
    for (name, (kind, cells)) in &given.columns {
        let (kind_back, cells_back) = &read_back.columns[name];
        assert_eq!(kind_back, kind, "{name}");
        assert!(
            cells_back.keys().eq(cells.keys()),
            "{name} {cells:?} {cells_back:?}"
        );
        for (frame, cell) in cells {
            match (cell, &cells_back[frame]) {
                (Cell::Number(a), Cell::Number(b)) => match tolerance(name, kind, *a) {
                    Some(error) => assert!((a - b).abs() <= error, "{name} {frame}: {a} {b}"),
                    None => assert_eq!(a, b, "{name} {frame}"),
                },
                (a, b) => assert_eq!(a, b, "{name} {frame}"),
            }
        }
    }
    assert_eq!(write(&back).unwrap(), written, "the second pass differs");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, ..ProptestConfig::default() })]

    #[test]
    fn any_take_reads_back_and_the_second_pass_is_the_same(items in take_items()) {
        passes(&items);
    }

    #[test]
    fn batches_do_not_matter(items in take_items()) {
        let read_back = flat(&items);
        // Which of two distances is `focus-distance` is seen in the batch of the first one.
        let either = read_back.columns.contains_key("extra/FocusPositionFromFrontLensVertex");
        let reference = read_back.kind("focus-distance");
        if !either || ["", "number m image-plane"].contains(&reference) {
            prop_assert_eq!(write(&one_by_one(&items)).unwrap(), write(&items).unwrap());
        }
    }

    #[test]
    fn any_bytes_end_without_a_panic(bytes in vec(any::<u8>(), 0..400), at in 0usize..300) {
        let _ = read_until_failure(&bytes);
        let mut stream = common::data("rack_48f.mxf")[..108 + 299].to_vec();
        let at = at.min(stream.len());
        stream.splice(at..at, bytes);
        let (items, _) = read_until_failure(&stream);
        let frames = flat(&items).frames;
        if frames > 0 {
            let written = write(&items).unwrap();
            prop_assert_eq!(flat(&read(&written).unwrap()).frames, frames);
        }
    }
}

#[test]
fn a_ring_at_its_end_keeps_a_code_and_its_value() {
    let items = take(vec![column("focus-ring", "0..1", "", &[0.0, 0.5, 1.0])]);
    let written = write(&items).unwrap();
    assert!(
        written
            .windows(6)
            .any(|w| w == [0x80, 0x0a, 0, 2, 255, 255])
    );
    assert_eq!(
        flat(&read(&written).unwrap()).numbers("focus-ring"),
        [0.0, 0.5, 1.0]
    );
}

#[test]
fn a_long_take_is_cut_into_batches_and_comes_back() {
    let values: Vec<f64> = (0..10_000).map(|n| 1.0 + f64::from(n) / 100.0).collect();
    let mut items = take(vec![
        column("focus-distance", "m", "image-plane", &values),
        column("frame", "", "", &values),
    ]);
    if let Item::Frames(frames) = &mut items[1] {
        let mut names = LabelColumn::text("timecode");
        (0..10_000).for_each(|n| names.push(&format!("label {n}")));
        frames.labels.push(names.take());
    }
    let back = read(&write(&items).unwrap()).unwrap();
    let counts: Vec<u32> = back
        .iter()
        .filter_map(|item| match item {
            Item::Frames(frames) => Some(frames.count),
            _ => None,
        })
        .collect();
    assert_eq!(counts, [4096, 4096, 1808]);
    let (given, read_back) = (flat(&items), flat(&back));
    assert_eq!(read_back.numbers("frame"), values);
    assert_eq!(read_back.texts("timecode"), given.texts("timecode"));
    passes(&items);
}

#[test]
fn what_no_stream_can_hold_is_refused() {
    let head = || {
        Item::Take(Take {
            lens: None,
            facts: Vec::new(),
        })
    };
    let frames = |columns: Vec<Column>| take(columns).remove(1);
    let mut long = LabelColumn::text("extra/long");
    long.push(&"x".repeat(17 << 20));
    let mut too_long = frames(vec![column("frame", "", "", &[1.0])]);
    if let Item::Frames(frames) = &mut too_long {
        frames.labels.push(long.take());
    }
    let ring = || column("focus-ring", "0..1", "", &[0.5]);
    for (items, says) in [
        (vec![], "no frame to write"),
        (vec![head()], "no frame to write"),
        (vec![frames(vec![ring()])], "before the head"),
        (vec![head(), head()], "more than one take"),
        (
            vec![head(), frames(vec![ring(), ring()])],
            "focus-ring comes twice",
        ),
        (vec![head(), too_long], "frame 0 of the take has more data"),
        (
            vec![
                head(),
                frames(vec![column(
                    &format!("extra/{}", "x".repeat(70_000)),
                    "",
                    "",
                    &[1.0],
                )]),
            ],
            "frame 0 of the take has a name",
        ),
        (
            vec![
                head(),
                frames(vec![column("focus-distance", "m", "image-plane", &[2.0])]),
                frames(vec![column("focus-distance", "m", "unstated", &[2.0])]),
            ],
            "frame 1",
        ),
        (
            vec![
                head(),
                frames(vec![column("extra/v", "V", "", &[2.0])]),
                frames(vec![column("extra/v", "mV", "", &[2.0])]),
            ],
            "extra/v changes its unit",
        ),
    ] {
        let failure = write(&items).unwrap_err();
        assert!(
            failure.message.contains(says),
            "{says}: {}",
            failure.message
        );
        assert!(!failure.help.is_empty());
    }
}
