//! Whatever take is written, it reads back exactly and every line is a legal sample.

#![allow(clippy::unwrap_used)]

mod common;

use std::sync::OnceLock;

use common::{flat, frame_count, read, reference, write};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};
use ringmark_sdk::batch::LabelColumn;
use ringmark_sdk::{Column, Datum, Fact, Frames, Item, Lens, Take};

fn schema() -> &'static jsonschema::Validator {
    static SCHEMA: OnceLock<jsonschema::Validator> = OnceLock::new();
    SCHEMA.get_or_init(|| {
        let schema = serde_json::from_slice(&reference("schema_v1_rebuilt.json")).unwrap();
        jsonschema::validator_for(&schema).unwrap()
    })
}

fn assert_legal(text: &str) {
    for line in text.lines() {
        let sample = serde_json::from_str(line).unwrap();
        if let Err(error) = schema().validate(&sample) {
            panic!("{error} at {}\n{line}", error.instance_path());
        }
    }
}

fn numbers() -> impl Strategy<Value = f64> {
    prop_oneof![
        3 => Just(f64::NAN),
        1 => select(vec![f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, -1.0, 1e300, 5e-324, 9007199254740993.0, 4294967296.0]),
        4 => select(vec![1.0, 0.5, 2.0, 180.0, 800.0, 65535.0, 24.0, 1001.0, 30000.0]),
        2 => any::<f64>().prop_filter("NaN has one form", |v| !v.is_nan()),
    ]
}

fn texts() -> impl Strategy<Value = Option<String>> {
    let usual = [
        "A",
        "B",
        "",
        "true",
        "false",
        "null",
        "{}",
        "9007199254740993",
        "inf",
        "ok",
        "external",
        "genlock",
        "Brown-Conrady D-U",
        "urn:uuid:1d0d3694-65b1-597c-8acc-c80535f0d0a2",
        "01:00:00:00",
        "01:00:00;02",
        "25:00:00:00",
        "01:00:00:119",
        "01:00:00:120",
        "01:00:00.00",
        "[1, 2]",
    ];
    prop_oneof![
        2 => Just(None),
        6 => select(usual.to_vec()).prop_map(|t| Some(t.to_owned())),
        1 => any::<String>().prop_map(Some),
        1 => Just(Some("ä".repeat(1024))),
    ]
}

/// Name, unit and reference of columns of numbers.
const NUMBERS: &[(&str, &str, &str)] = &[
    ("frame", "", ""),
    ("focus-distance", "m", "unstated"),
    ("near-limit", "m", "image-plane"),
    ("pinhole-focal-length", "mm", ""),
    ("effective-focal-length", "mm", ""),
    ("f-number", "f", ""),
    ("t-stop", "T", ""),
    ("entrance-pupil-offset", "m", ""),
    ("focus-ring", "0..1", ""),
    ("iris-ring", "%", ""),
    ("focus-ring-raw", "count", ""),
    ("zoom-ring-raw", "count", ""),
    ("distortion-k1", "", ""),
    ("distortion-k2", "", ""),
    ("distortion-k3", "", ""),
    ("distortion-p1", "", ""),
    ("distortion-p2", "", ""),
    ("shutter-angle", "deg", ""),
    ("sensitivity", "ISO", ""),
    ("extra/lens.distortion.0.radial.3", "", ""),
    ("extra/lens.distortion.0.overscan", "", ""),
    ("extra/lens.distortion.1.radial.0", "", ""),
    ("extra/lens.distortionOffset.x", "", ""),
    ("extra/lens.distortionOffset.y", "", ""),
    ("extra/lens.exposureFalloff.a2", "", ""),
    ("extra/lens.custom.0", "", ""),
    ("extra/lens.custom.1", "", ""),
    ("extra/lens.fStop", "", ""),
    ("extra/transforms.0.translation.x", "", ""),
    ("extra/transforms.0.translation.y", "", ""),
    ("extra/transforms.0.translation.z", "", ""),
    ("extra/transforms.0.rotation.pan", "", ""),
    ("extra/transforms.0.rotation.tilt", "", ""),
    ("extra/transforms.0.rotation.roll", "", ""),
    ("extra/sourceNumber", "", ""),
    ("extra/timing.sequenceNumber", "", ""),
    ("extra/timing.sampleRate.num", "", ""),
    ("extra/timing.sampleRate.denom", "", ""),
    ("extra/timing.timecode.frameRate.num", "", ""),
    ("extra/timing.timecode.subFrame", "", ""),
    ("extra/static.duration.num", "", ""),
    ("extra/static.duration.denom", "", ""),
    ("extra/static.camera.shutterAngle", "", ""),
    ("extra/static.camera.anamorphicSqueeze.num", "", ""),
    ("extra/static.lens.nominalFocalLength", "", ""),
    ("extra/custom.a.b", "", ""),
    ("extra/custom.a.0", "", ""),
    ("extra/custom.list.0", "", ""),
    ("extra/custom.list.1", "", ""),
    ("extra/custom.list.5", "", ""),
    ("extra/custom.n.\\0.\\e.x\\.y", "", ""),
    ("extra/voltage", "V", ""),
    ("extra/", "", ""),
    ("extra/a..b\\", "", ""),
    ("extra/ringmark.channels.frame", "", ""),
];

/// Name and form of columns of texts.
const TEXTS: &[(&str, &str)] = &[
    ("timecode", "text"),
    ("lens", "text"),
    ("lens-maker", "text"),
    ("lens-serial", "text"),
    ("source-file", "text"),
    ("extra/sampleId", "text"),
    ("extra/relatedSampleIds.0", "text"),
    ("extra/tracker.recording", "json"),
    ("extra/tracker.slate", "text"),
    ("extra/tracker.status", "text"),
    ("extra/timing.mode", "text"),
    ("extra/timing.synchronization.locked", "json"),
    ("extra/timing.synchronization.source", "text"),
    ("extra/timing.timecode.hours", "text"),
    ("extra/lens.distortion.0.model", "text"),
    ("extra/lens.focusDistance", "text"),
    ("extra/static.camera.make", "text"),
    ("extra/static.lens.serialNumber", "text"),
    ("extra/static.lens.calibrationHistory.0", "text"),
    ("extra/protocol.name", "text"),
    ("extra/custom.a", "json"),
    ("extra/custom.t", "text"),
    ("extra/custom.t.\\json", "json"),
    ("extra/blob", "hex"),
    ("extra/note \"é\"\n", "text"),
];

fn fact_value(text: bool) -> BoxedStrategy<Datum> {
    if text {
        let usual = [
            "A",
            "",
            "prime",
            "zoom",
            "24",
            "24000/1001",
            "30000/1001",
            "24/1",
            "drop-frame",
            "non-drop",
            "Brown-Conrady U-D",
            "Brown-Conrady D-U",
            "true",
        ];
        prop_oneof![
            5 => select(usual.to_vec()).prop_map(|t| Datum::Text(t.to_owned())),
            1 => any::<String>().prop_map(Datum::Text),
        ]
        .boxed()
    } else {
        numbers().prop_map(Datum::Number).boxed()
    }
}

fn facts(rows: &'static [(&'static str, &'static str, bool)]) -> BoxedStrategy<Vec<Fact>> {
    let each: Vec<_> = rows
        .iter()
        .map(|(name, unit, text)| {
            fact_value(*text).prop_map(move |value| Fact {
                name: (*name).to_owned(),
                value,
                unit: (*unit).to_owned(),
                at: None,
            })
        })
        .collect();
    let count = rows.len();
    (each, subsequence((0..count).collect::<Vec<_>>(), 0..=count))
        .prop_map(|(facts, chosen)| chosen.into_iter().map(|i| facts[i].clone()).collect())
        .boxed()
}

/// Name, unit, and whether it is a text.
const TAKE_FACTS: &[(&str, &str, bool)] = &[
    ("clip", "", true),
    ("reel", "", true),
    ("frame-rate", "", true),
    ("capture-rate", "", true),
    ("counting", "", true),
    ("distortion-model", "", true),
    ("camera-maker", "", true),
    ("sensor-width", "mm", false),
    ("sensor-height", "mm", false),
    ("resolution-width", "", false),
    ("resolution-height", "", false),
    ("focus-encoder-low", "count", false),
    ("extra/static.duration.num", "", false),
    ("extra/static.duration.denom", "", false),
    ("extra/static.lens.calibrationHistory.0", "", true),
    ("extra/static.camera.fdlLink", "json", true),
    ("extra/static.camera.shutterAngle", "", false),
    ("extra/static.lens.nominalFocalLength", "", false),
    ("extra/weather", "", true),
    ("extra/height", "m", false),
];

const LENS_FACTS: &[(&str, &str, bool)] = &[
    ("lens-maker", "", true),
    ("lens-model", "", true),
    ("lens-serial", "", true),
    ("lens-kind", "", true),
    ("focal-length-min", "mm", false),
    ("focal-length-max", "mm", false),
    ("close-focus", "m", false),
    ("squeeze", "", false),
    ("extra/owner", "", true),
];

fn batch() -> impl Strategy<Value = Frames> {
    let number_rows = subsequence(NUMBERS.to_vec(), 0..=NUMBERS.len());
    let text_rows = subsequence(TEXTS.to_vec(), 0..=TEXTS.len());
    (1usize..5, number_rows, text_rows).prop_flat_map(|(count, number_rows, text_rows)| {
        let numbers = vec(vec(numbers(), count), number_rows.len());
        let texts = vec(vec(texts(), count), text_rows.len());
        (numbers, texts).prop_map(move |(numbers, texts)| Frames {
            take: 0,
            first: 0,
            count: count as u32,
            columns: number_rows
                .iter()
                .zip(numbers)
                .map(|((channel, unit, reference), values)| Column {
                    channel: (*channel).to_owned(),
                    unit: (*unit).to_owned(),
                    reference: (*reference).to_owned(),
                    values,
                })
                .collect(),
            labels: text_rows
                .iter()
                .zip(texts)
                .map(|((channel, form), texts)| {
                    let mut column = LabelColumn::with_form(*channel, form);
                    for text in &texts {
                        match text {
                            Some(text) => column.push(text),
                            None => column.push_absent(),
                        }
                    }
                    column.take()
                })
                .collect(),
            inputs: Vec::new(),
            offsets: Vec::new(),
        })
    })
}

fn take() -> impl Strategy<Value = Vec<Item>> {
    let lenses = vec(facts(LENS_FACTS), 0..3);
    let references = select(vec!["unstated", "image-plane", "entrance-pupil"]);
    (
        lenses,
        any::<Option<u32>>(),
        facts(TAKE_FACTS),
        vec(batch(), 1..4),
        references,
    )
        .prop_map(|(lenses, lens, facts, batches, reference)| {
            let lens = match lenses.len() as u32 {
                0 => None,
                count => lens.map(|lens| lens % count),
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
            let mut first = 0;
            for mut batch in batches {
                batch.first = first;
                first += u64::from(batch.count);
                for column in &mut batch.columns {
                    if column.channel == "focus-distance" {
                        reference.clone_into(&mut column.reference);
                    }
                }
                items.push(Item::Frames(batch));
            }
            items
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, max_shrink_iters: 4000, ..ProptestConfig::default() })]

    #[test]
    fn every_take_reads_back_exactly(items in take()) {
        let text = write(&items).unwrap();
        assert_legal(&text);
        let back = read(text.as_bytes()).unwrap();
        prop_assert_eq!(flat(&back), flat(&items), "{}", text);
        // Written again it is the same take, whatever went to keys and what aside.
        let again = read(write(&back).unwrap().as_bytes()).unwrap();
        prop_assert_eq!(flat(&again), flat(&items));
    }
}

#[test]
fn samples_from_elsewhere_survive() {
    let items = read(&reference("rack_48.jsonl")).unwrap();
    let text = write(&items).unwrap();
    assert_legal(&text);
    assert_eq!(flat(&read(text.as_bytes()).unwrap()), flat(&items));
    // All of it has a place in the standard: no private part is needed.
    assert!(!text.contains("ringmark"), "{text}");
    // JSON has one kind of number: 4 and 4.0 are the same.
    fn floats(value: &mut serde_json::Value) {
        match value {
            serde_json::Value::Number(number) => *value = number.as_f64().unwrap().into(),
            serde_json::Value::Array(values) => values.iter_mut().for_each(floats),
            serde_json::Value::Object(members) => members.values_mut().for_each(floats),
            _ => {}
        }
    }
    let value = |text: &str| -> Vec<serde_json::Value> {
        let mut samples: Vec<_> = text
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect();
        samples.iter_mut().for_each(floats);
        samples
    };
    let source = String::from_utf8(reference("rack_48.jsonl")).unwrap();
    for (line, (written, mut expected)) in value(&text).into_iter().zip(value(&source)).enumerate()
    {
        // A later sample repeats `static`: what holds already is not written again.
        if line > 0 {
            expected.as_object_mut().unwrap().remove("static");
        }
        assert_eq!(written, expected, "line {}", line + 1);
    }
    assert_eq!(text.lines().count(), 48);
}

/// Found by fuzzing: columns come up in another order when what was written is read.
#[test]
fn the_second_writing_is_the_first() {
    let sample = |rest: &str| {
        format!(
            "{{\"protocol\":{{\"name\":\"OpenTrackIO\",\"version\":[1,0,1]}},\"lens\":{{\"fStop\":2}}{rest}}}\n"
        )
    };
    // The second sample has keys that the standard forbids, and parts without what it requires.
    let source = [
        sample(
            ",\"custom\":{\"b\":1,\"a\":2},\"timing\":{\"synchronization\":{\"source\":\"genlock\",\"locked\":true}}",
        ),
        sample(
            ",\"custom\":{\"c\":3,\"a\":2},\"timing\":{\"wrong\":1,\"timecode\":{\"hours\":1,\"frames\":2,\"early\":3},\"synchronization\":{\"source\":\"genlock\"}},\"also\":\"x\"",
        ),
    ]
    .concat();
    let once = write(&read(source.as_bytes()).unwrap()).unwrap();
    assert!(once.contains("ringmark"), "nothing went aside: {once}");
    let twice = write(&read(once.as_bytes()).unwrap()).unwrap();
    assert_eq!(once, twice);
}

#[test]
fn a_take_of_many_batches() {
    let mut source = String::new();
    for frame in 0..10_000 {
        source.push_str(&format!(
            "{{\"protocol\":{{\"name\":\"OpenTrackIO\",\"version\":[1,0,1]}},\"lens\":{{\"focusDistance\":{:?}}}}}\n",
            1.0 + f64::from(frame) / 7.0
        ));
    }
    let items = read(source.as_bytes()).unwrap();
    assert_eq!(frame_count(&items), 10_000);
    assert!(
        items
            .iter()
            .filter(|i| matches!(i, Item::Frames(_)))
            .count()
            > 2
    );
    let text = write(&items).unwrap();
    for (line, (written, expected)) in text.lines().zip(source.lines()).enumerate() {
        assert_eq!(written, expected, "line {}", line + 1);
    }
    assert_eq!(text.len(), source.len());
}

#[test]
fn a_value_outside_the_standard_goes_aside() {
    let column = |channel: &str, unit: &str, reference: &str, values: &[f64]| Column {
        channel: channel.into(),
        unit: unit.into(),
        reference: reference.into(),
        values: values.to_vec(),
    };
    let items = [
        Item::Take(Take {
            lens: None,
            facts: Vec::new(),
        }),
        Item::Frames(Frames {
            take: 0,
            first: 0,
            count: 2,
            columns: vec![
                column("frame", "", "", &[1001.0, 1002.0]),
                column("focus-distance", "m", "image-plane", &[2.5, f64::INFINITY]),
                column("distortion-k1", "", "", &[0.1, 0.1]),
            ],
            labels: Vec::new(),
            inputs: Vec::new(),
            offsets: Vec::new(),
        }),
    ];
    let text = write(&items).unwrap();
    let lines: Vec<serde_json::Value> = text
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    assert_eq!(lines[0]["lens"], serde_json::json!({"focusDistance": 2.5}));
    assert_eq!(
        lines[0]["ringmark"]["channels"],
        serde_json::json!({"frame": 1001, "distortion-k1": 0.1})
    );
    assert!(lines[1].get("lens").is_none());
    assert_eq!(lines[1]["ringmark"]["channels"]["focus-distance"], "inf");
}

#[test]
fn what_cannot_be_written_is_refused() {
    let take = || {
        Item::Take(Take {
            lens: None,
            facts: Vec::new(),
        })
    };
    let frames = |values: Vec<f64>| {
        Item::Frames(Frames {
            take: 0,
            first: 0,
            count: 1,
            columns: vec![Column {
                channel: "frame".into(),
                unit: String::new(),
                reference: String::new(),
                values,
            }],
            labels: Vec::new(),
            inputs: Vec::new(),
            offsets: Vec::new(),
        })
    };
    let says = |items: &[Item]| write(items).unwrap_err().message;
    assert!(says(&[take()]).contains("no frame"));
    assert!(says(&[take(), frames(vec![1.0]), take()]).contains("more than one take"));
    assert!(says(&[frames(vec![1.0])]).contains("before the head"));
    assert!(says(&[take(), frames(vec![1.0, 2.0])]).contains("2 values in a batch of 1 frames"));
}
