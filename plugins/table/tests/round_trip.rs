//! What is written reads back as the same: every channel, NaN, infinity, and extras of any name.
#![allow(missing_docs, clippy::unwrap_used)]

use std::collections::BTreeMap;

use proptest::collection::{btree_map, vec};
use proptest::prelude::*;
use ringmark_sdk::batch::{LabelColumn, label_text};
use ringmark_sdk::native::{MemoryOutput, read_all};
use ringmark_sdk::{
    Column, Datum, Fact, Failure, Format, Frames, Item, Lens, Mark, Ring, Take, Writer,
};
use ringmark_table::{Table, TableReader, TableWriter};

fn written(items: &[Item]) -> Result<Vec<u8>, Failure> {
    let output = MemoryOutput::default();
    let mut writer = TableWriter::open(vec![output.boxed()], Vec::new(), "{}")?;
    for item in items {
        writer.put(item.clone())?;
    }
    writer.finish()?;
    Ok(output.bytes())
}

/// Name and unit of everything of one kind that the manifest lists.
fn listed(kind: &str) -> Vec<(String, String)> {
    let manifest: serde_json::Value = serde_json::from_str(Table::MANIFEST).unwrap();
    let all = manifest["carries"][kind].as_array().unwrap().clone();
    all.iter()
        .map(|one| {
            let text = |key: &str| one[key].as_str().unwrap_or_default().to_owned();
            (text("name"), text("unit"))
        })
        .collect()
}

const TEXT_CHANNELS: [&str; 6] = [
    "timecode",
    "lens",
    "lens-maker",
    "lens-model",
    "lens-serial",
    "source-file",
];
const DISTANCES: [&str; 5] = [
    "focus-distance",
    "rangefinder-distance",
    "near-limit",
    "far-limit",
    "hyperfocal",
];

/// Everything that must survive, place and order aside, one line each.
fn content(items: &[Item]) -> BTreeMap<String, String> {
    let mut all = BTreeMap::new();
    let datum = |datum: &Datum| match datum {
        Datum::Number(value) => format!("{:x}", value.to_bits()),
        Datum::Text(text) => format!("{text:?}"),
    };
    let mut facts = |owner: String, facts: &[Fact]| {
        for fact in facts {
            let value = format!("{} {:?}", datum(&fact.value), fact.unit);
            let twice = all.insert(format!("{owner} {}", fact.name), value);
            assert_eq!(twice, None, "{owner} {}", fact.name);
        }
    };
    for item in items {
        match item {
            Item::Lens(lens) => {
                facts("lens".to_owned(), &lens.facts);
                for ring in &lens.rings {
                    facts(format!("ring {}", ring.axis), &ring.facts);
                }
            }
            Item::Take(take) => facts("take".to_owned(), &take.facts),
            Item::Frames(_) | Item::Remark(_) => {}
        }
    }
    for item in items {
        match item {
            Item::Lens(lens) => {
                for ring in &lens.rings {
                    let line = all.entry(format!("marks {}", ring.axis)).or_default();
                    line.push_str(&format!("{} {} ", ring.position_unit, ring.value_unit));
                    for mark in &ring.marks {
                        line.push_str(&format!(
                            "{} {} {:?}; ",
                            mark.position, mark.value, mark.engraved
                        ));
                    }
                }
            }
            Item::Take(take) => {
                all.insert("lens of take".to_owned(), format!("{:?}", take.lens));
            }
            Item::Frames(frames) => {
                for column in &frames.columns {
                    let head = format!(
                        "column {} {:?} {}",
                        column.channel, column.unit, column.reference
                    );
                    let line = all.entry(head).or_default();
                    for value in &column.values {
                        let bits = if value.is_nan() {
                            f64::NAN.to_bits()
                        } else {
                            value.to_bits()
                        };
                        line.push_str(&format!("{bits:x} "));
                    }
                }
                for labels in &frames.labels {
                    let line = all
                        .entry(format!("labels {} {}", labels.channel, labels.form))
                        .or_default();
                    for row in 0..frames.count as usize {
                        line.push_str(&format!("{:?} ", label_text(labels, row)));
                    }
                }
            }
            Item::Remark(remark) => panic!("{remark:?}"),
        }
    }
    all
}

fn any_text() -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-zA-Z0-9 ,;:#\"'\\[\\]/\t\r\n.-]{0,12}",
        "[^\\x00]{0,6}",
        Just("frame".to_owned()),
        Just("extra/clip".to_owned()),
        Just("a [m]".to_owned()),
        Just(" focus distance [m] ".to_owned()),
        Just("#".to_owned()),
        Just("\"\"".to_owned()),
        Just("\u{feff}∞".to_owned()),
    ]
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        prop::num::f64::ANY,
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(0.0),
        (0i32..100_000).prop_map(|whole| f64::from(whole) / 1000.0),
    ]
}

fn any_unit() -> impl Strategy<Value = String> {
    "[a-zA-Z%°/ ]{0,4}".prop_filter("a form", |unit| {
        !["text", "json", "hex"].contains(&unit.as_str())
    })
}

#[derive(Debug, Clone)]
enum Kind {
    Number(String),
    Text(&'static str),
}

fn any_kind() -> impl Strategy<Value = Kind> {
    prop_oneof![
        any_unit().prop_map(Kind::Number),
        prop::sample::select(vec!["text", "json", "hex"]).prop_map(Kind::Text),
    ]
}

fn any_reference() -> impl Strategy<Value = String> {
    prop::sample::select(vec![
        "image-plane",
        "entrance-pupil",
        "front-vertex",
        "unstated",
    ])
    .prop_map(str::to_owned)
}

/// Facts of the registry, each there or not, and extras.
fn any_facts(owner: &'static str) -> impl Strategy<Value = Vec<Fact>> {
    let lens = [
        "lens-",
        "focal-",
        "close-",
        "widest-",
        "smallest-",
        "squeeze",
        "image-circle",
    ];
    let ring = ["reference", "encoder-low", "encoder-high", "rotation"];
    let known: Vec<(String, String)> = listed("facts")
        .into_iter()
        .filter(|(name, _)| !ring.contains(&name.as_str()))
        .filter(|(name, _)| lens.iter().any(|start| name.starts_with(start)) == (owner == "lens"))
        .collect();
    let one = |(name, unit): (String, String)| {
        let value: BoxedStrategy<Datum> = match name.as_str() {
            "lens-kind" => prop::sample::select(vec!["prime", "zoom"])
                .prop_map(|t| Datum::Text(t.to_owned()))
                .boxed(),
            "counting" => prop::sample::select(vec!["drop-frame", "non-drop"])
                .prop_map(|t| Datum::Text(t.to_owned()))
                .boxed(),
            "close-focus-reference" => prop::sample::select(vec!["image-plane", "front-vertex"])
                .prop_map(|t| Datum::Text(t.to_owned()))
                .boxed(),
            "frame-rate" | "capture-rate" => prop::sample::select(vec!["24", "24000/1001"])
                .prop_map(|t| Datum::Text(t.to_owned()))
                .boxed(),
            "squeeze" | "resolution-width" | "resolution-height" => {
                any_number().prop_map(Datum::Number).boxed()
            }
            _ if !unit.is_empty() => any_number().prop_map(Datum::Number).boxed(),
            _ => any_text().prop_map(Datum::Text).boxed(),
        };
        prop::option::of(value)
            .prop_map(move |value| value.map(|value| (name.clone(), value, unit.clone())))
    };
    let known: Vec<_> = known.into_iter().map(one).collect();
    let extra = prop_oneof![
        any_text().prop_map(|text| (Datum::Text(text), String::new())),
        (any_number(), any_unit()).prop_map(|(value, unit)| (Datum::Number(value), unit)),
    ];
    (known, btree_map(any_text(), extra, 0..4)).prop_map(|(known, extras)| {
        let extras = extras
            .into_iter()
            .map(|(name, (value, unit))| (format!("extra/{name}"), value, unit));
        known
            .into_iter()
            .flatten()
            .chain(extras)
            // A fact that is not recorded is not there.
            .filter(|(_, value, _)| !matches!(value, Datum::Number(value) if value.is_nan()))
            // Infinite encoders are no encoders.
            .filter(|(name, value, _)| {
                !name.contains("encoder")
                    || !matches!(value, Datum::Number(value) if value.is_infinite())
            })
            .map(|(name, value, unit)| Fact {
                name,
                value,
                unit,
                at: None,
            })
            .collect()
    })
}

type Columns = (Vec<Column>, Vec<ringmark_sdk::Labels>);

fn any_columns(rows: usize) -> impl Strategy<Value = Columns> {
    let known = prop::sample::subsequence(listed("channels"), 0..=34);
    let extras = btree_map(any_text(), any_kind(), 0..4);
    (known, extras, vec(any_reference(), 5))
        .prop_filter("no column", |(known, extras, _)| {
            known.len() + extras.len() > 0
        })
        .prop_flat_map(move |(known, extras, references)| {
            let mut numbers = Vec::new();
            let mut texts = Vec::new();
            for (name, unit) in known {
                if TEXT_CHANNELS.contains(&name.as_str()) {
                    texts.push((name, "text"));
                } else {
                    let distance = DISTANCES.iter().position(|distance| *distance == name);
                    let reference = distance
                        .map(|index| references[index].clone())
                        .unwrap_or_default();
                    numbers.push((name, unit, reference));
                }
            }
            for (name, kind) in extras {
                match kind {
                    Kind::Number(unit) => {
                        numbers.push((format!("extra/{name}"), unit, String::new()))
                    }
                    Kind::Text(form) => texts.push((format!("extra/{name}"), form)),
                }
            }
            let values = vec(vec(any_number(), rows), numbers.len());
            let cells = vec(vec(prop::option::of(any_text()), rows), texts.len());
            (Just(numbers), Just(texts), values, cells)
        })
        .prop_map(|(numbers, texts, values, cells)| {
            let columns = numbers
                .into_iter()
                .zip(values)
                .map(|((channel, unit, reference), values)| Column {
                    channel,
                    unit,
                    reference,
                    values,
                })
                .collect();
            let labels = texts
                .into_iter()
                .zip(cells)
                .map(|((channel, form), cells)| {
                    let known = !channel.starts_with("extra/");
                    let mut labels = LabelColumn::with_form(channel, form);
                    for cell in cells {
                        match cell {
                            // A name or label that is empty was not recorded.
                            Some(text) if !(known && text.is_empty()) => labels.push(&text),
                            _ => labels.push_absent(),
                        }
                    }
                    labels.take()
                })
                .collect();
            (columns, labels)
        })
}

fn any_take() -> impl Strategy<Value = Vec<Item>> {
    (
        prop::option::of(any_facts("lens")),
        any_facts("take"),
        (1usize..6).prop_flat_map(any_columns),
    )
        .prop_map(|(lens, take, (columns, labels))| {
            let lens = lens.filter(|facts| !facts.is_empty());
            let count = columns
                .first()
                .map(|column| column.values.len())
                .or(labels.first().map(|labels| labels.index.len()))
                .unwrap();
            let head = Item::Take(Take {
                lens: lens.is_some().then_some(0),
                facts: take,
            });
            let lens = lens.map(|facts| {
                Item::Lens(Lens {
                    facts,
                    rings: Vec::new(),
                    tables: Vec::new(),
                })
            });
            let frames = Item::Frames(Frames {
                take: 0,
                first: 0,
                count: count as u32,
                columns,
                labels,
                inputs: Vec::new(),
                offsets: Vec::new(),
            });
            lens.into_iter().chain([head, frames]).collect()
        })
}

fn any_ring(axis: &'static str, units: &'static [&'static str]) -> impl Strategy<Value = Ring> {
    let engraved = prop_oneof![
        any_text(),
        Just("∞".to_owned()),
        Just("5'6\"".to_owned()),
        Just("2.8".to_owned())
    ];
    let value = prop_oneof![
        (1e-3..1e6f64),
        (1u32..1000).prop_map(|whole| f64::from(whole) / 16.0),
        Just(f64::INFINITY),
        Just(66.0),
        Just(2.8),
    ];
    let marks = vec(((-2.0..70_000.0f64), value, engraved), 1..5);
    let raw = prop::sample::select(vec!["0..1", "%", "count", "deg"]);
    (
        marks,
        raw,
        prop::sample::select(units),
        any_reference(),
        any::<bool>(),
    )
        .prop_map(move |(marks, position_unit, value_unit, reference, turn)| {
            let number = |name: &str, value: f64, unit: &str| Fact {
                name: name.to_owned(),
                value: Datum::Number(value),
                unit: unit.to_owned(),
                at: None,
            };
            let mut facts = Vec::new();
            if axis == "focus" {
                facts.push(ringmark_sdk::fact("reference", reference, None));
            }
            if ["count", "deg"].contains(&position_unit) {
                facts.push(number("encoder-low", 12.5, position_unit));
                facts.push(number("encoder-high", -3.0, position_unit));
            }
            if turn {
                facts.push(number("rotation", 300.0, "deg"));
            }
            let marks = marks
                .into_iter()
                .map(|(position, value, engraved)| Mark {
                    position,
                    value,
                    engraved,
                    at: None,
                })
                .collect();
            Ring {
                axis: axis.to_owned(),
                position_unit: position_unit.to_owned(),
                value_unit: value_unit.to_owned(),
                facts,
                marks,
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn takes(items in any_take()) {
        let bytes = written(&items).unwrap();
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let read = read_all::<TableReader>("t.csv", &bytes, "{}")
            .unwrap_or_else(|failure| panic!("{} {}\n{text}", failure.message, failure.help));
        prop_assert_eq!(content(&read), content(&items), "{}", text);
    }

    #[test]
    fn calibrations(
        focus in any_ring("focus", &["m", "cm", "mm", "ft", "ft-in", "in"]),
        iris in prop::option::of(any_ring("iris", &["T", "f"])),
        zoom in prop::option::of(any_ring("zoom", &["mm"])),
        facts in any_facts("lens"),
    ) {
        let rings = [Some(focus), iris, zoom].into_iter().flatten().collect();
        let items = vec![Item::Lens(Lens { facts, rings, tables: Vec::new() })];
        let bytes = written(&items).unwrap();
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let read = read_all::<TableReader>("t.csv", &bytes, "{}")
            .unwrap_or_else(|failure| panic!("{} {}\n{text}", failure.message, failure.help));
        prop_assert_eq!(content(&read), content(&items), "{}", text);
    }
}

#[test]
fn samples_come_back() {
    for sample in [
        &include_bytes!("data/prime_metric.csv")[..],
        include_bytes!("data/prime_feet_inches.csv"),
        include_bytes!("data/take_drop_frame.csv"),
    ] {
        let first = read_all::<TableReader>("t.csv", sample, "{}").unwrap();
        let second = read_all::<TableReader>("t.csv", &written(&first).unwrap(), "{}").unwrap();
        assert_eq!(content(&second), content(&first));
    }
}

#[test]
fn a_take_as_people_see_it() {
    let text = "# document: take\n# clip: A001\n# frame rate: 24000/1001\n# timecode: drop-frame\n# sensor width: 27.99 mm\n\
        # focus encoder: 0..65535\n# operator: K. Aas\n# lens maker: Halden Optikk\n# focal length: 24-70 mm\n\
        # measured from: image plane\n\
        frame,timecode,focus ring [0..1],focus distance [m],T-stop,\"note, long\",pan [deg]\n";
    let rows = "1001,01:00:00;02,0.5,1.5,2.8,\"say \"\"go\"\"\",-0.25\n1002,01:00:00;03,,inf,,,\n";
    let bytes = format!("{text}{rows}");
    let items = read_all::<TableReader>("t.csv", bytes.as_bytes(), "{}").unwrap();
    let again = String::from_utf8(written(&items).unwrap()).unwrap();
    // Columns of numbers come before columns of texts outside the registry.
    let order = |text: &str| {
        text.replace("\"note, long\",pan [deg]", "pan [deg],\"note, long\"")
            .replace("\"say \"\"go\"\"\",-0.25", "-0.25,\"say \"\"go\"\"\"")
    };
    assert_eq!(again, order(&bytes));
}

#[test]
fn what_a_table_cannot_hold() {
    let lens = Item::Lens(Lens {
        facts: Vec::new(),
        rings: Vec::new(),
        tables: Vec::new(),
    });
    let take = Item::Take(Take {
        lens: None,
        facts: Vec::new(),
    });
    let frames = |channel: &str, unit: &str| {
        Item::Frames(Frames {
            take: 0,
            first: 0,
            count: 1,
            columns: vec![Column {
                channel: channel.to_owned(),
                unit: unit.to_owned(),
                reference: String::new(),
                values: vec![1.0],
            }],
            labels: Vec::new(),
            inputs: Vec::new(),
            offsets: Vec::new(),
        })
    };
    for (items, words) in [
        (vec![], "nothing to write"),
        (vec![lens.clone()], "no marks"),
        (vec![lens.clone(), lens.clone()], "more than one lens"),
        (vec![take.clone(), take.clone()], "more than one take"),
        (vec![take.clone()], "no frames"),
        (
            vec![take.clone(), frames("frame", ""), frames("t-stop", "T")],
            "starts inside the take",
        ),
        (
            vec![
                take.clone(),
                frames("extra/a", "m"),
                frames("extra/a", "mm"),
            ],
            "changes its unit",
        ),
        (vec![take.clone(), frames("extra/a\0", "")], "NUL"),
        (
            vec![take.clone(), frames("extra/a", "[")],
            "cannot be named",
        ),
    ] {
        let failure = written(&items).unwrap_err();
        assert!(failure.message.contains(words), "{}", failure.message);
    }
}
