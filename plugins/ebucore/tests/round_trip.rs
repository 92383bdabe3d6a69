//! Whatever take is written, it reads back exactly, and written again it is the same file.

#![allow(clippy::unwrap_used)]

mod common;

use common::{flat, frame_count, read, reference, remarks, write};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};
use ringmark_sdk::batch::LabelColumn;
use ringmark_sdk::{Column, Datum, Fact, Frames, Item, Lens, Take};

fn numbers() -> impl Strategy<Value = f64> {
    prop_oneof![
        2 => Just(f64::NAN),
        1 => select(vec![f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, -1.0, 1e300, 5e-324, 9007199254740993.0]),
        4 => select(vec![1.0, 0.5, 2.0, 180.0, 800.0, 65535.0, 24.0, 1.0 / 48.0, 29.97, 30000.0 / 1001.0]),
        2 => any::<f64>().prop_filter("NaN has one form", |v| !v.is_nan()),
    ]
}

fn texts() -> impl Strategy<Value = Option<String>> {
    let usual = [
        "A",
        "B",
        "",
        "On",
        "Halden 32 #H32-0042",
        "A\u{a0}B",
        "a\\b",
        "NaN",
        "Infinite",
        "1/8",
        "a<b>&\"c\"",
        " ",
        "line\nline",
        "01:00:00:00",
        "[1, 2]",
        "00ff",
    ];
    prop_oneof![
        2 => Just(None),
        6 => select(usual.to_vec()).prop_map(|t| Some(t.to_owned())),
        2 => any::<String>().prop_map(Some),
    ]
}

fn timecodes() -> impl Strategy<Value = Option<String>> {
    let usual = [
        "01:00:00:00",
        "01:00:00:01",
        "01:00:00:02",
        "01:00:00;02",
        "01:00:00.03",
        "00:59:59:23",
        "25:00:00:00",
        "01:00:00:119",
        "",
        "01:00:59;29",
        "01:01:00;02",
        "23:59:59:23",
        "00:00:00:00",
    ];
    prop_oneof![
        1 => Just(None),
        6 => select(usual.to_vec()).prop_map(|t| Some(t.to_owned())),
    ]
}

/// Name, unit and reference of columns of numbers.
const NUMBERS: &[(&str, &str, &str)] = &[
    ("frame", "", ""),
    ("focus-distance", "m", "image-plane"),
    ("near-limit", "m", "image-plane"),
    ("rangefinder-distance", "m", "entrance-pupil"),
    ("pinhole-focal-length", "mm", ""),
    ("nominal-focal-length", "mm", ""),
    ("equivalent-focal-length", "mm", ""),
    ("f-number", "f", ""),
    ("t-stop", "T", ""),
    ("entrance-pupil-offset", "mm", ""),
    ("focus-ring", "%", ""),
    ("iris-ring", "0..1", ""),
    ("focus-ring-raw", "count", ""),
    ("distortion-k1", "", ""),
    ("shutter-angle", "deg", ""),
    ("exposure-time", "s", ""),
    ("sensitivity", "ISO", ""),
    ("capture-rate", "fps", ""),
    ("extra/WhiteBalance", "", ""),
    ("extra/NeutralDensityFilterWheelSetting", "", ""),
    ("extra/CameraMasterGainAdjustment", "V", ""),
    ("extra/FocusPositionFromFrontLensVertex", "", ""),
    ("extra/ImageSensorDimensionEffectiveWidth", "mm", ""),
    ("extra/IrisTNumber", "", ""),
    ("extra/MacroSetting", "", ""),
    ("extra/voltage", "V", ""),
    ("extra/plain", "", ""),
    ("extra/frames", "frame", ""),
    ("extra/", "", ""),
    ("extra/a;b@c\\d", "a\tb", ""),
    ("extra/extra/x", "", ""),
    ("extra/ringmark.implied", "", ""),
];

/// Name and form of columns of texts.
const TEXTS: &[(&str, &str)] = &[
    ("lens", "text"),
    ("lens-maker", "text"),
    ("source-file", "text"),
    ("extra/AutoExposureMode", "text"),
    ("extra/ColorMatrix", "text"),
    ("extra/LensAttributes", "text"),
    ("extra/StageSerial", "text"),
    ("extra/tracker.recording", "json"),
    ("extra/TransferCharacteristic", "hex"),
    ("extra/note \"é\"\n", "text"),
    ("extra/ringmark:lens;text", "text"),
];

fn fact_value(text: bool) -> BoxedStrategy<Datum> {
    if text {
        let usual = [
            "A",
            "",
            "prime",
            "24",
            "24000/1001",
            "30000/1001",
            "23.976",
            "drop-frame",
            "non-drop",
            "NaN",
            "01:00:00:00",
            "01:00:00;02",
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
    ("capture-rate", "", true),
    ("counting", "", true),
    ("start-timecode", "", true),
    ("camera-maker", "", true),
    ("sensor-width", "mm", false),
    ("sensor-height", "in", false),
    ("resolution-width", "", false),
    ("focus-encoder-low", "count", false),
    ("extra/camera.fdlLink", "json", true),
    ("extra/weather", "", true),
    ("extra/height", "m", false),
];

const LENS_FACTS: &[(&str, &str, bool)] = &[
    ("lens-maker", "", true),
    ("lens-model", "", true),
    ("lens-serial", "", true),
    ("focal-length-min", "mm", false),
    ("squeeze", "", false),
    ("extra/owner", "", true),
];

fn labels(channel: &str, form: &'static str, texts: &[Option<String>]) -> ringmark_sdk::Labels {
    let mut column = LabelColumn::with_form(channel, form);
    for text in texts {
        match text {
            Some(text) => column.push(text),
            None => column.push_absent(),
        }
    }
    column.take()
}

fn batch() -> impl Strategy<Value = Frames> {
    let number_rows = subsequence(NUMBERS.to_vec(), 0..=NUMBERS.len());
    let text_rows = subsequence(TEXTS.to_vec(), 0..=TEXTS.len());
    (1usize..5, number_rows, text_rows, any::<bool>()).prop_flat_map(
        |(count, number_rows, text_rows, timecode)| {
            let numbers = vec(vec(numbers(), count), number_rows.len());
            let texts = vec(vec(texts(), count), text_rows.len());
            let timecodes = vec(timecodes(), count);
            (numbers, texts, timecodes).prop_map(move |(numbers, texts, timecodes)| Frames {
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
                    .map(|((channel, form), texts)| labels(channel, form, &texts))
                    .chain(timecode.then(|| labels("timecode", "text", &timecodes)))
                    .collect(),
                inputs: Vec::new(),
                offsets: Vec::new(),
            })
        },
    )
}

fn rate() -> impl Strategy<Value = Option<Fact>> {
    let rates = [
        "24",
        "25",
        "30000/1001",
        "60000/1001",
        "24000/1001",
        "120",
        "23.976",
        "1/3",
        "x",
    ];
    proptest::option::of(
        select(rates.to_vec()).prop_map(|rate| ringmark_sdk::fact("frame-rate", rate, None)),
    )
}

fn take() -> impl Strategy<Value = Vec<Item>> {
    let references = select(vec![
        "",
        "unstated",
        "image-plane",
        "entrance-pupil",
        "front-vertex",
    ]);
    (
        vec(facts(LENS_FACTS), 0..3),
        any::<Option<u32>>(),
        rate(),
        facts(TAKE_FACTS),
        vec((batch(), references), 1..4),
    )
        .prop_map(|(lenses, lens, rate, facts, batches)| {
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
            let facts = rate.into_iter().chain(facts).collect();
            items.push(Item::Take(Take { lens, facts }));
            let reference = batches[0].1;
            let mut first = 0;
            for (mut batch, _) in batches {
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
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, max_shrink_iters: 4000, ..ProptestConfig::default() })]

    #[test]
    fn every_take_reads_back_exactly_and_is_stable(items in take()) {
        let text = match write(&items) {
            Ok(text) => text,
            Err(failure) => {
                prop_assert!(failure.message.contains("no frame rate"), "{}", failure.message);
                return Ok(());
            }
        };
        let back = match read(text.as_bytes()) {
            Ok(back) => back,
            Err(failure) => return Err(TestCaseError::fail(format!("{failure:?}\n{text}"))),
        };
        // Time code that jumps is a gap between segments: that is told, and nothing else.
        for remark in remarks(&back) {
            prop_assert_eq!(&remark.check, "segments-gap", "{}\n{}", remark.message, text);
        }
        prop_assert_eq!(flat(&back), flat(&items), "{}", text);
        prop_assert_eq!(write(&back).unwrap(), text);
    }
}

fn column(channel: &str, unit: &str, reference: &str, values: &[f64]) -> Column {
    Column {
        channel: channel.into(),
        unit: unit.into(),
        reference: reference.into(),
        values: values.to_vec(),
    }
}

fn head(facts: &[(&str, &str)]) -> Item {
    let facts = facts
        .iter()
        .map(|(name, text)| ringmark_sdk::fact(*name, *text, None));
    Item::Take(Take {
        lens: None,
        facts: facts.collect(),
    })
}

fn frames(first: u64, columns: Vec<Column>, labels: Vec<ringmark_sdk::Labels>) -> Item {
    let count = columns
        .first()
        .map_or_else(|| labels[0].index.len(), |c| c.values.len());
    Item::Frames(Frames {
        take: 0,
        first,
        count: count as u32,
        columns,
        labels,
        inputs: Vec::new(),
        offsets: Vec::new(),
    })
}

#[test]
fn a_document_from_elsewhere_survives() {
    let items = read(&reference("segment_parameter.xml")).unwrap();
    let text = write(&items).unwrap();
    assert_eq!(flat(&read(text.as_bytes()).unwrap()), flat(&items));
    assert_eq!(write(&read(text.as_bytes()).unwrap()).unwrap(), text);
    // All of it has a parameter in the standard.
    assert!(!text.contains("ringmark"), "{text}");
    assert!(
        text.contains("<ebucore:segment startTime=\"01:00:59;00\" endTime=\"01:01:00;20\">"),
        "{text}"
    );
    assert!(text.contains("<ebucore:parameter name=\"LensAttributes\">Halden\u{a0}32\u{a0}#H32-0042</ebucore:parameter>"));
}

#[test]
fn a_take_of_many_segments_does_not_depend_on_batches() {
    let count = 10_500u64;
    let label = |frame: u64| {
        format!(
            "{:02}:{:02}:{:02}:{:02}",
            frame / 90_000,
            frame / 1500 % 60,
            frame / 25 % 60,
            frame % 25
        )
    };
    let piece = |from: u64, to: u64| {
        let distance: Vec<f64> = (from..to).map(|f| 1.0 + f as f64 / 7.0).collect();
        let texts: Vec<_> = (from..to).map(|f| Some(label(f + 90_000))).collect();
        frames(
            from,
            vec![
                column("focus-distance", "m", "image-plane", &distance),
                column("t-stop", "T", "", &vec![2.8; distance.len()]),
            ],
            vec![labels("timecode", "text", &texts)],
        )
    };
    let rate = head(&[("frame-rate", "25"), ("counting", "non-drop")]);
    let whole = write(&[rate.clone(), piece(0, count)]).unwrap();
    let mut cut = vec![rate];
    let mut from = 0;
    for size in [1, 999, 1000, 1001, 4096, 3, 3400] {
        cut.push(piece(from, from + size));
        from += size;
    }
    assert_eq!(from, count);
    assert_eq!(write(&cut).unwrap(), whole);
    assert_eq!(whole.matches("<ebucore:segment ").count(), 11);
    let back = read(whole.as_bytes()).unwrap();
    assert_eq!(frame_count(&back), count as usize);
    assert!(remarks(&back).is_empty());
    assert_eq!(flat(&back), flat(&cut));
    assert_eq!(write(&back).unwrap(), whole);
    assert!(!whole.contains("ringmark"));
}

#[test]
fn what_frames_do_not_say_is_shown_to_others_and_not_read_back() {
    let fact = |name: &str, text: &str| ringmark_sdk::fact(name, text, None);
    let items = [
        Item::Lens(Lens {
            facts: vec![
                fact("lens-model", "Halden 32"),
                fact("lens-serial", "H32-0042"),
            ],
            rings: Vec::new(),
            tables: Vec::new(),
        }),
        Item::Take(Take {
            lens: Some(0),
            facts: vec![fact("frame-rate", "25"), fact("capture-rate", "50")],
        }),
        frames(0, vec![column("t-stop", "T", "", &[2.0, 4.0])], Vec::new()),
    ];
    let text = write(&items).unwrap();
    for line in [
        "<ebucore:parameter name=\"LensAttributes\">Halden\u{a0}32\u{a0}H32-0042</ebucore:parameter>",
        "<ebucore:parameter name=\"CaptureFrameRate\" unit=\"fps\">50</ebucore:parameter>",
        "<ebucore:parameter name=\"ringmark.implied\">timecode LensAttributes CaptureFrameRate</ebucore:parameter>",
        "<ebucore:segment startTime=\"00:00:00:00\" endTime=\"00:00:00:02\">",
    ] {
        assert!(text.contains(line), "{line}\n{text}");
    }
    assert_eq!(flat(&read(text.as_bytes()).unwrap()), flat(&items));
}

#[test]
fn a_reference_without_a_word_in_the_standard_is_kept() {
    for (reference, parameter, marked) in [
        ("image-plane", "FocusPositionFromImagePlane", false),
        ("front-vertex", "FocusPositionFromFrontLensVertex", false),
        ("unstated", "FocusPositionFromImagePlane", true),
        ("entrance-pupil", "FocusPositionFromImagePlane", true),
    ] {
        let items = [
            head(&[("frame-rate", "25")]),
            frames(
                0,
                vec![column(
                    "focus-distance",
                    "m",
                    reference,
                    &[2.0, f64::INFINITY],
                )],
                Vec::new(),
            ),
        ];
        let text = write(&items).unwrap();
        let line = format!("name=\"{parameter}\" interval=\"1\" unit=\"meter\">2 Infinite<");
        assert!(text.contains(&line), "{text}");
        assert_eq!(text.contains("ringmark.focus-reference"), marked, "{text}");
        assert_eq!(flat(&read(text.as_bytes()).unwrap()), flat(&items));
    }
}

#[test]
fn the_rate_of_capture_stands_in_for_the_frame_rate() {
    // A stream of acquisition sets has the rate of capture only.
    let rate = 24000.0 / 1001.0;
    let items = [
        head(&[]),
        frames(
            0,
            vec![column("capture-rate", "fps", "", &[rate, rate])],
            Vec::new(),
        ),
    ];
    let text = write(&items).unwrap();
    let line =
        "<ebucore:acquisitionFrameRate factorNumerator=\"1000\" factorDenominator=\"1001\">24<";
    assert!(text.contains(line), "{text}");
    assert_eq!(flat(&read(text.as_bytes()).unwrap()), flat(&items));
}

#[test]
fn time_code_that_jumps_begins_a_segment_and_time_code_that_goes_back_is_kept() {
    let texts = |texts: &[&str]| {
        labels(
            "timecode",
            "text",
            &texts
                .iter()
                .map(|t| Some((*t).to_owned()))
                .collect::<Vec<_>>(),
        )
    };
    let jump = texts(&["10:00:00:00", "10:00:00:01", "10:00:05:00"]);
    let back = texts(&["10:00:00:00", "09:59:59:24", "10:00:00:01"]);
    let facts = [("frame-rate", "25"), ("counting", "non-drop")];
    let text = write(&[head(&facts), frames(0, Vec::new(), vec![jump])]).unwrap();
    assert!(
        text.contains("<ebucore:segment startTime=\"10:00:05:00\" endTime=\"10:00:05:01\">"),
        "{text}"
    );
    assert!(!text.contains("ringmark"));
    let items = [head(&facts), frames(0, Vec::new(), vec![back])];
    let text = write(&items).unwrap();
    assert!(text.contains("<ebucore:parameter name=\"ringmark:timecode;text\" interval=\"1\">10:00:00:00 09:59:59:24 10:00:00:01<"), "{text}");
    assert_eq!(flat(&read(text.as_bytes()).unwrap()), flat(&items));
}

#[test]
fn times_are_exact_at_every_rate() {
    for (rate, counting, start, end) in [
        ("30000/1001", "drop-frame", "00:00:59;29", "00:01:00;03"),
        ("60000/1001", "drop-frame", "00:00:59;59", "00:01:00;05"),
        ("120", "non-drop", "00:00:00:119", "00:00:01:01"),
        ("120000/1001", "non-drop", "23:59:59:119", "00:00:00:01"),
        ("25/2", "non-drop", "00:00:00:12", "00:00:01:01"),
    ] {
        let items = [
            head(&[
                ("frame-rate", rate),
                ("counting", counting),
                ("start-timecode", start),
            ]),
            frames(0, vec![column("t-stop", "T", "", &[2.0, 4.0])], Vec::new()),
        ];
        let text = write(&items).unwrap();
        let tag = format!("<ebucore:segment startTime=\"{start}\" endTime=\"{end}\">");
        assert!(text.contains(&tag), "{rate}\n{text}");
        assert_eq!(flat(&read(text.as_bytes()).unwrap()), flat(&items));
    }
}

#[test]
fn what_cannot_be_written_is_refused() {
    let rate = head(&[("frame-rate", "25")]);
    let one = |values: Vec<f64>| frames(0, vec![column("frame", "", "", &values)], Vec::new());
    let says = |items: &[Item]| write(items).unwrap_err();
    assert!(
        says(std::slice::from_ref(&rate))
            .message
            .contains("no frame")
    );
    assert!(
        says(&[rate.clone(), one(vec![1.0]), rate.clone()])
            .message
            .contains("more than one take")
    );
    assert!(says(&[one(vec![1.0])]).message.contains("before the head"));
    let failure = says(&[head(&[]), one(vec![1.0])]);
    assert!(failure.message.contains("no frame rate") && !failure.help.is_empty());
    let mut lying = one(vec![1.0, 2.0]);
    let Item::Frames(lie) = &mut lying else {
        panic!()
    };
    lie.count = 1;
    assert!(
        says(&[rate.clone(), lying])
            .message
            .contains("2 values in a batch of 1 frames")
    );
    let twice = frames(0, vec![column("t-stop", "T", "", &[2.0]); 2], Vec::new());
    assert!(says(&[rate.clone(), twice]).message.contains("comes twice"));
    let text =
        |texts: &[Option<String>]| frames(0, Vec::new(), vec![labels("extra/a", "text", texts)]);
    let changed = [
        rate.clone(),
        text(&[Some("x".into())]),
        frames(1, vec![column("extra/a", "", "", &[1.0])], Vec::new()),
    ];
    assert!(
        says(&changed)
            .message
            .contains("changes its kind of values at frame 1")
    );
    let failure = says(&[rate, text(&[None, Some("x".repeat(2 << 20))])]);
    assert!(
        failure
            .message
            .starts_with("frame 1: the text of extra/a, 'xxx")
            || failure.message.starts_with("frame 1: the text of a, 'xxx"),
        "{}",
        failure.message
    );
}
