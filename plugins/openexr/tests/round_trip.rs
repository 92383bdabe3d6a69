//! Written, read, written again: nothing changes from the second pass on.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::{TakeOf, data, items, read, write};
use proptest::prelude::*;
use ringmark_sdk::{Datum, Fact};

/// Channels that are stored as 32-bit floats, with their units.
const FLOATS: [(&str, &str); 10] = [
    ("focus-distance", "m"),
    ("t-stop", "T"),
    ("f-number", "f"),
    ("nominal-focal-length", "mm"),
    ("pinhole-focal-length", "mm"),
    ("effective-focal-length", "mm"),
    ("entrance-pupil-offset", "mm"),
    ("shutter-angle", "deg"),
    ("exposure-time", "s"),
    ("sensitivity", "ISO"),
];

/// Channels without an attribute of the standard.
const ASIDE: [(&str, &str); 6] = [
    ("focus-ring", "0..1"),
    ("iris-ring-raw", "count"),
    ("equivalent-focal-length", "mm"),
    ("distortion-k1", ""),
    ("capture-rate", "fps"),
    ("field-of-view", "deg"),
];

/// Names of extras: own ones, ones of the standard with and without a type that fits, of parts of
/// attributes, of structure, and such that no attribute can have.
const EXTRAS: [&str; 14] = [
    "stage note",
    "halden.note",
    "imageCounter",
    "cameraUuid",
    "sensorCenterOffset.0",
    "sensorCenterOffset.1",
    "own.3",
    "focus",
    "name",
    "view",
    "own:float",
    "ringmark:own",
    "pixelAspectRatio",
    "\u{7}",
];

fn single() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => (-1e6f32..1e6).prop_map(f64::from),
        1 => Just(f64::INFINITY),
        1 => Just(f64::NAN),
        1 => Just(0.0),
    ]
}

fn double() -> impl Strategy<Value = f64> {
    prop_oneof![
        3 => any::<f64>(),
        1 => (-99i32..99).prop_map(f64::from),
        1 => Just(f64::NAN),
        1 => Just(0.1 + 0.2),
    ]
}

fn label() -> impl Strategy<Value = Option<String>> {
    prop_oneof![
        Just(None),
        Just(Some(String::new())),
        "[a-z0-9:;\u{e9}\u{0}]{1,12}".prop_map(Some),
        (0..99u32, 0..99u32, 0..130u32, any::<bool>()).prop_map(|(h, s, f, drop)| {
            let mark = if drop { ';' } else { ':' };
            Some(format!("{h:02}:00:{s:02}{mark}{f:02}"))
        }),
    ]
}

fn form(form: &'static str) -> impl Strategy<Value = Option<String>> {
    match form {
        "json" => prop_oneof![
            Just(None),
            Just(Some("[\"a\",\"\"]".to_owned())),
            Just(Some("[1, 2]".to_owned())),
            Just(Some("null".to_owned())),
        ]
        .boxed(),
        "hex" => prop_oneof![Just(None), "([0-9a-f]{2}){0,9}".prop_map(Some)].boxed(),
        _ => prop_oneof![Just(None), "\\PC{0,20}".prop_map(Some)].boxed(),
    }
}

const FRAMES: usize = 3;

#[derive(Debug, Clone)]
enum Piece {
    Float(usize, Vec<f64>),
    Aside(usize, Vec<f64>),
    Number(usize, &'static str, Vec<f64>),
    Text(usize, &'static str, Vec<Option<String>>),
    Near(&'static str, Vec<f64>),
    Labels(&'static str, Vec<Option<String>>),
    Fact(&'static str, String),
    FactNumber(&'static str, f64, &'static str),
    Lens(&'static str, String),
}

fn piece() -> impl Strategy<Value = Piece> {
    let list = |one: BoxedStrategy<f64>| proptest::collection::vec(one, FRAMES);
    let texts = |one: BoxedStrategy<Option<String>>| proptest::collection::vec(one, FRAMES);
    let forms = prop_oneof![Just("text"), Just("json"), Just("hex")];
    prop_oneof![
        (0..FLOATS.len(), list(single().boxed())).prop_map(|(n, v)| Piece::Float(n, v)),
        (0..ASIDE.len(), list(double().boxed())).prop_map(|(n, v)| Piece::Aside(n, v)),
        (
            0..EXTRAS.len(),
            prop_oneof![Just(""), Just("um"), Just("N")],
            list(double().boxed())
        )
            .prop_map(|(n, unit, v)| Piece::Number(n, unit, v)),
        (0..EXTRAS.len(), forms).prop_flat_map(move |(n, kind)| {
            texts(form(kind).boxed()).prop_map(move |v| Piece::Text(n, kind, v))
        }),
        (
            prop_oneof![Just("unstated"), Just("front-vertex")],
            list(double().boxed())
        )
            .prop_map(|(reference, v)| Piece::Near(reference, v)),
        (
            prop_oneof![
                Just("lens"),
                Just("timecode"),
                Just("lens-model"),
                Just("source-file")
            ],
            texts(label().boxed())
        )
            .prop_map(|(channel, v)| Piece::Labels(channel, v)),
        (
            prop_oneof![
                Just("clip"),
                Just("reel"),
                Just("camera-model"),
                Just("counting"),
                Just("start-timecode"),
                Just("extra/x")
            ],
            "\\PC{0,9}"
        )
            .prop_map(|(name, v)| Piece::Fact(name, v)),
        (prop_oneof![
            Just("24"),
            Just("30000/1001"),
            Just("50"),
            Just("120"),
            Just("4294967295/7")
        ])
        .prop_map(|rate| Piece::Fact("frame-rate", rate.to_owned())),
        (
            prop_oneof![Just("resolution-width"), Just("extra/y")],
            double()
        )
            .prop_map(|(n, v)| Piece::FactNumber(n, v, "")),
        (
            prop_oneof![Just("sensor-width"), Just("sensor-height")],
            1.0f32..99.0
        )
            .prop_map(|(n, v)| Piece::FactNumber(n, f64::from(v), "mm")),
        (
            prop_oneof![Just("lens-model"), Just("lens-firmware"), Just("lens-kind")],
            "\\PC{0,9}"
        )
            .prop_map(|(name, v)| Piece::Lens(name, v)),
    ]
}

/// A take of pieces, without names that come twice.
fn take(pieces: &[Piece]) -> TakeOf {
    let mut seen = std::collections::BTreeSet::new();
    let numbers: Vec<f64> = (0..FRAMES).map(|n| 1001.0 + n as f64).collect();
    let mut take = TakeOf::default().number("frame", "", &numbers);
    for piece in pieces {
        let name = match piece {
            Piece::Float(n, _) => FLOATS[*n].0.to_owned(),
            Piece::Aside(n, _) => ASIDE[*n].0.to_owned(),
            Piece::Number(n, ..) | Piece::Text(n, ..) => format!("extra/{}", EXTRAS[*n]),
            Piece::Near(..) => "near-limit".to_owned(),
            Piece::Labels(channel, _) => (*channel).to_owned(),
            Piece::Fact(name, _) | Piece::FactNumber(name, ..) => format!("take {name}"),
            Piece::Lens(name, _) => format!("lens {name}"),
        };
        // Of an attribute that files have already the kind must be the same in all frames.
        let kind = match piece {
            Piece::Number(n, unit, values) => {
                let other = EXTRAS[*n] == "halden.note" || !unit.is_empty();
                other && values.iter().any(|v| v.is_nan())
            }
            Piece::Text(_, _, texts) => texts.iter().any(Option::is_none),
            _ => false,
        };
        if kind && ["extra/pixelAspectRatio", "extra/halden.note"].contains(&name.as_str()) {
            continue;
        }
        if !seen.insert(name.clone()) {
            continue;
        }
        let shown = |texts: &[Option<String>]| -> Vec<Option<String>> { texts.to_vec() };
        match piece {
            Piece::Float(n, values) => take = take.number(&name, FLOATS[*n].1, values),
            Piece::Aside(n, values) => take = take.number(&name, ASIDE[*n].1, values),
            Piece::Number(_, unit, values) => take = take.number(&name, unit, values),
            Piece::Near(reference, values) => take = take.distance(&name, reference, values),
            Piece::Text(_, form, texts) => take.labels.push((name, form, shown(texts))),
            Piece::Labels(_, texts) => take.labels.push((name, "text", shown(texts))),
            Piece::Fact(name, text) => take = take.fact(name, text),
            Piece::FactNumber(name, number, unit) => take = take.fact_number(name, *number, unit),
            Piece::Lens(name, text) => take = take.lens_fact(name, text),
        }
    }
    take
}

fn facts_contain(found: &[Fact], wanted: &Fact) -> bool {
    found.iter().any(|fact| {
        fact.name == wanted.name
            && match (&fact.value, &wanted.value) {
                // A rate may be in other terms.
                (Datum::Text(a), Datum::Text(b)) => {
                    a == b || fact.name == "frame-rate" && a.starts_with(b.as_str())
                }
                (Datum::Number(a), Datum::Number(b)) => {
                    a.to_bits() == b.to_bits() || a.is_nan() && b.is_nan()
                }
                _ => false,
            }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn everything_that_is_recorded_is_read_back(pieces in proptest::collection::vec(piece(), 0..14), template in 0..4usize) {
        let template = data(["scan_no.exr", "deep_tile.exr", "flat_and_deep.exr", "long_names.exr"][template]);
        let names: Vec<_> = (0..FRAMES).map(|n| format!("x.{}.exr", 1001 + n)).collect();
        let files: Vec<_> = names.iter().map(|name| (name.as_str(), template.as_slice())).collect();
        let take = take(&pieces);
        let written = write(&files, take.clone().alone()).unwrap();
        let copies: Vec<_> = names.iter().zip(&written).map(|(name, file)| (name.as_str(), file.as_slice())).collect();
        let reading = read(&copies).unwrap();
        prop_assert_eq!(reading.takes.len(), 1);
        for (channel, unit, reference, values) in &take.columns {
            let found = reading.numbers(0, channel);
            for (frame, wanted) in values.iter().enumerate() {
                let same = wanted.is_nan() || found[frame].to_bits() == wanted.to_bits();
                prop_assert!(same, "{} of frame {}: {} for {}", channel, frame, found[frame], wanted);
            }
            if values.iter().any(|value| !value.is_nan()) {
                let column = reading.frames[0].columns.iter().find(|c| c.channel == *channel).unwrap();
                // The first frame may be the template's own, of the same attribute.
                prop_assert!(column.unit == *unit || values[0].is_nan(), "{} in {}", channel, column.unit);
                prop_assert_eq!(&column.reference, reference);
            }
        }
        for (channel, form, texts) in &take.labels {
            let found = reading.texts(0, channel);
            for (frame, wanted) in texts.iter().enumerate().filter(|(_, text)| text.is_some()) {
                prop_assert_eq!(&found[frame], wanted, "{} of frame {}", channel, frame);
            }
            if texts[0].is_some() {
                let labels = reading.frames[0].labels.iter().find(|l| l.channel == *channel).unwrap();
                prop_assert_eq!(&labels.form, form, "{}", channel);
            }
        }
        for fact in &take.facts {
            prop_assert!(facts_contain(&reading.takes[0].facts, fact), "{:?}", fact);
        }
        for fact in take.lens.iter().flatten() {
            prop_assert!(facts_contain(&reading.lenses[0].facts, fact), "{:?}", fact);
        }
        // What was read is what stands there already, and makes the same of the first files.
        prop_assert!(write(&copies, items(&copies)).unwrap() == written);
        prop_assert!(write(&files, items(&copies)).unwrap() == written);
    }
}

proptest! {
    /// The manifest says of these channels that they are kept as 32-bit floats.
    #[test]
    fn standard_channels_are_32_bit_floats(channel in 0..FLOATS.len(), number in prop_oneof![any::<f64>(), -1e3..1e3]) {
        let (channel, unit) = FLOATS[channel];
        let take = TakeOf::default().number("frame", "", &[1001.0]).number(channel, unit, &[number]);
        let single = number as f32;
        let beyond = single.is_infinite() && number.is_finite() || single == 0.0 && number != 0.0;
        let file = common::write_one(&data("scan_no.exr"), take.alone()).unwrap();
        let found = read(&[("x.1001.exr", &file)]).unwrap().numbers(0, channel)[0];
        // What is beyond the range of the attribute is kept aside, and exactly.
        let kept = if beyond { number } else { f64::from(single) };
        prop_assert!(kept.to_bits() == found.to_bits() || number.is_nan(), "{number}: {found}");
    }
}
