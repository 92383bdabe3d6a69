//! Whatever takes are written, they read back exactly, but for what a 32-bit float rounds.

#![allow(clippy::unwrap_used)]

mod common;
#[path = "common/documents.rs"]
mod documents;

use common::{
    Flat, Values, column, data, frames, head, lenses, number, read, remarks, take, takes, write,
    write_with,
};
use documents::document;
use proptest::prelude::*;
use proptest::sample::select;
use ringmark_sdk::{Column, Item, Lens};

/// Channels that a 32-bit float rounds.
const ROUNDED: [&str; 5] = [
    "pinhole-focal-length",
    "focus-distance",
    "f-number",
    "exposure-time",
    "sensitivity",
];

/// A value as it comes back from a 32-bit float in the unit of the manifest. What is no size of
/// anything, and what is no normal float, is kept exactly.
fn rounded(channel: &str, value: f64) -> f64 {
    let float = value as f32;
    let fits = float.is_normal() && float > 0.0;
    match ROUNDED.contains(&channel) && fits {
        true => f64::from(float),
        false => value,
    }
}

/// What reading is to give.
fn expected(items: &[Item]) -> Vec<Flat> {
    let mut takes = takes(items);
    for take in &mut takes {
        for (channel, column) in &mut take.columns {
            if channel.starts_with("extra/") || !column.kind.starts_with("number") {
                continue;
            }
            for value in column.values.iter_mut().flatten() {
                *value = format!("{:?}", rounded(channel, value.parse().unwrap()));
            }
        }
    }
    takes
}

/// The unit of the manifest, as the program converts to it.
fn asked(items: Vec<Item>) -> Vec<Item> {
    let convert = |mut item: Item| {
        if let Item::Frames(frames) = &mut item {
            for column in &mut frames.columns {
                let factor = match (column.channel.as_str(), column.unit.as_str()) {
                    ("focus-distance", "m") => 100.0,
                    ("focus-distance", "mm") => 0.1,
                    ("focus-distance", "in") => 2.54,
                    ("focus-distance", "ft") => 30.48,
                    ("pinhole-focal-length", "cm") => 10.0,
                    _ => continue,
                };
                column.values.iter_mut().for_each(|v| *v *= factor);
                column.unit = if factor == 10.0 {
                    "mm".into()
                } else {
                    "cm".into()
                };
            }
        }
        item
    };
    items.into_iter().map(convert).collect()
}

fn near(found: &Values, expected: &Values) -> bool {
    let number = |v: &Option<String>| v.as_ref().map(|v| v.parse::<f64>().unwrap());
    found.kind == expected.kind
        && found.values.len() == expected.values.len()
        && found
            .values
            .iter()
            .zip(&expected.values)
            .all(|(f, e)| match (number(f), number(e)) {
                (None, None) => true,
                (Some(f), Some(e)) => f == e || ((f - e) / e).abs() <= 1.2e-7,
                _ => false,
            })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, max_shrink_iters: 3000, ..ProptestConfig::default() })]

    #[test]
    fn every_take_reads_back(items in document()) {
        let text = write(&items).unwrap();
        let back = read(text.as_bytes()).unwrap();
        prop_assert_eq!(takes(&back), expected(&items), "{}", text);
        prop_assert_eq!(lenses(&back), lenses(&items));
        prop_assert!(remarks(&back).iter().all(|r| r.check != "kept-value-stale"), "{}", text);
        // The second pass gives the same bytes. Where outputs are too few for a second take, what
        // begins late stands behind the rest the first time.
        let again = write(&back).unwrap();
        if takes(&items).len() == 1 {
            prop_assert_eq!(&again, &text);
        }
        prop_assert_eq!(&write(&read(again.as_bytes()).unwrap()).unwrap(), &again);
        for outputs in [1, 2, 33, 60] {
            let fewer = write_with(&items, "{}", outputs).unwrap();
            prop_assert_eq!(takes(&read(fewer.as_bytes()).unwrap()), takes(&back));
        }
        prop_assert_eq!(&write_with(&items, "", 1).unwrap(), &write_with(&items, "", 2).unwrap());
    }

    #[test]
    fn every_scene_unit_reads_back(items in document(), unit in select(vec![1.0, 0.001, 0.0254, 0.3048, 0.1, 0.5, 1000.0])) {
        let options = format!("{{\"metersPerUnit\": {unit}}}");
        let text = write_with(&items, &options, 160).unwrap();
        let back = asked(read(text.as_bytes()).unwrap());
        let (found, wanted) = (takes(&back), expected(&items));
        prop_assert_eq!(found.len(), wanted.len());
        for (found, wanted) in found.iter().zip(&wanted) {
            prop_assert_eq!(&found.facts, &wanted.facts);
            prop_assert_eq!(found.frames, wanted.frames);
            prop_assert_eq!(found.columns.keys().collect::<Vec<_>>(), wanted.columns.keys().collect::<Vec<_>>());
            for (channel, column) in &found.columns {
                let wanted = &wanted.columns[channel];
                let same = if ROUNDED.contains(&channel.as_str()) { near(column, wanted) } else { column == wanted };
                prop_assert!(same, "{channel} {:?} {:?}\n{}", column, wanted, text);
            }
        }
        let again = write_with(&back, &options, 160).unwrap();
        let third = write_with(&asked(read(again.as_bytes()).unwrap()), &options, 160).unwrap();
        prop_assert_eq!(third, again);
    }
}

fn one(columns: Vec<Column>) -> [Item; 2] {
    [head(None, Vec::new()), frames(0, columns)]
}

#[test]
fn stages_of_other_authors_survive() {
    for name in [
        "rack_cm.usda",
        "rack_m.usda",
        "sparse_keys.usda",
        "two_cameras_block.usda",
        "defaults_only.usda",
    ] {
        let items = read(&data(name)).unwrap();
        let text = write(&asked(items.clone())).unwrap();
        let back = read(text.as_bytes()).unwrap();
        assert_eq!(write(&back).unwrap(), text, "{name}");
        if name != "rack_m.usda" {
            assert_eq!(takes(&back), takes(&items), "{name}");
        }
    }
    // Attributes of the schema go back to where they came from.
    let text = write(&read(&data("rack_cm.usda")).unwrap()).unwrap();
    for line in [
        "float horizontalAperture = 27.99",
        "float horizontalApertureOffset = 0.0125",
        "double shutter:open = -0.25",
        "double shutter:close = 0.25",
        "        1002: 90.10254,",
        "    startTimeCode = 1001",
    ] {
        assert!(
            text.lines()
                .any(|l| l.trim_end() == line || l.trim() == line),
            "{line} in\n{text}"
        );
    }
}

#[test]
fn an_anamorphic_lens_has_the_right_field_of_view() {
    let lens = Item::Lens(Lens {
        facts: vec![number("squeeze", 1.8, "")],
        rings: Vec::new(),
        tables: Vec::new(),
    });
    let facts = vec![
        number("sensor-width", 24.0, "mm"),
        number("sensor-height", 20.0, "mm"),
    ];
    let items = [
        lens,
        head(Some(0), facts),
        frames(0, vec![column("pinhole-focal-length", "mm", "", &[50.0])]),
    ];
    let text = write(&items).unwrap();
    // 24 mm × 1.8 = 43.2 mm.
    assert!(text.contains("float horizontalAperture = 43.2\n"), "{text}");
    assert!(text.contains("float verticalAperture = 20\n"), "{text}");
    let back = read(text.as_bytes()).unwrap();
    assert!(take(&back).has("sensor-width = 24.0 [mm]"));
    assert_eq!(lenses(&back), [["squeeze = 1.8 []"]]);
    // Changed by hand, the attribute holds, and the squeeze is taken out of it.
    let changed = text.replace("horizontalAperture = 43.2", "horizontalAperture = 45");
    let back = read(changed.as_bytes()).unwrap();
    assert!(
        take(&back).has("sensor-width = 25.0 [mm]"),
        "{:?}",
        take(&back).facts
    );
    assert!(remarks(&back).iter().any(|r| r.check == "kept-value-stale"));
    // A prim without its layer still knows the squeeze.
    let from = text.find("    customLayerData").unwrap();
    let to = text.find("    defaultPrim").unwrap();
    let back = read(format!("{}{}", &text[..from], &text[to..]).as_bytes()).unwrap();
    assert_eq!(lenses(&back), [["squeeze = 1.8 []"]]);
    assert_eq!(take(&back).lens, Some(0));
}

#[test]
fn rounding_is_within_what_the_manifest_says() {
    let values: Vec<f64> = (1..2000).map(|n| f64::from(n) * 0.7310585 + 0.01).collect();
    let columns = |unit| {
        vec![
            column("pinhole-focal-length", "mm", "", &values),
            column("focus-distance", unit, "entrance-pupil", &values),
        ]
    };
    let text = write(&one(columns("cm"))).unwrap();
    let back = take(&read(text.as_bytes()).unwrap());
    for channel in ["pinhole-focal-length", "focus-distance"] {
        for (found, value) in back.numbers(channel).iter().zip(&values) {
            assert_eq!(*found, f64::from(*value as f32));
        }
    }
    assert!(!text.contains("ringmark:"), "nothing is kept twice");
}

#[test]
fn the_scene_unit_scales_what_is_written() {
    let columns = vec![
        column("pinhole-focal-length", "mm", "", &[32.0]),
        column("focus-distance", "cm", "entrance-pupil", &[200.0]),
    ];
    let facts = vec![number("sensor-width", 28.0, "mm")];
    let items = [head(None, facts), frames(0, columns)];
    // Source: with metersPerUnit 1 a 32 mm lens is 0.32 and 2 m focus is 2.
    for (unit, focal_length, distance, aperture) in [
        ("0.01", "32", "200", "28"),
        ("1", "0.32", "2", "0.28"),
        ("0.001", "320", "2000", "280"),
    ] {
        let text = write_with(&items, &format!("{{\"metersPerUnit\": {unit}}}"), 1).unwrap();
        for line in [
            format!("    metersPerUnit = {unit}\n"),
            format!("    float focalLength = {focal_length}\n"),
            format!("    float focusDistance = {distance}\n"),
            format!("    float horizontalAperture = {aperture}\n"),
        ] {
            assert!(text.contains(&line), "{line} in\n{text}");
        }
    }
    for wrong in [
        "{\"metersPerUnit\": 0}",
        "{\"metersPerUnit\": \"1\"}",
        "{",
        "{\"metersPerUnit\": -1}",
    ] {
        assert!(write_with(&items, wrong, 1).is_err(), "{wrong}");
    }
}

#[test]
fn infinity_zero_and_not_recorded_are_written_apart() {
    let columns = vec![column(
        "focus-distance",
        "cm",
        "entrance-pupil",
        &[f64::INFINITY, f64::NAN, 0.0, 90.0],
    )];
    let text = write(&one(columns)).unwrap();
    let native = text
        .split("float focusDistance")
        .nth(1)
        .unwrap()
        .split('}')
        .next()
        .unwrap();
    let samples: Vec<&str> = native.lines().skip(1).map(str::trim).collect();
    assert_eq!(samples, ["0: inf,", "1: None,", "3: 90,", ""]);
    assert!(
        text.contains("custom double ringmark:focusDistance.timeSamples"),
        "{text}"
    );
    let back = take(&read(text.as_bytes()).unwrap());
    assert_eq!(
        format!("{:?}", back.numbers("focus-distance")),
        "[inf, NaN, 0.0, 90.0]"
    );
}

#[test]
fn frames_that_are_left_out_stay_so() {
    let numbers = [1001.0, 1002.0, 1005.0, 1006.0];
    let text = write(&one(vec![
        column("frame", "", "", &numbers),
        column("f-number", "f", "", &[2.0, 2.5, 4.0, 4.0]),
    ]))
    .unwrap();
    assert!(
        text.contains("1003: 0,") && text.contains("1005: 1,") && text.contains("1007: 0,"),
        "{text}"
    );
    let back = take(&read(text.as_bytes()).unwrap());
    assert_eq!(back.numbers("frame"), numbers);
    assert_eq!(back.numbers("f-number"), [2.0, 2.5, 4.0, 4.0]);
}

#[test]
fn what_cannot_be_written_is_refused() {
    let says = |items: &[Item]| write(items).unwrap_err().message;
    let numbered = |numbers: &[f64]| says(&one(vec![column("frame", "", "", numbers)]));
    assert!(says(&[]).contains("no take"));
    assert!(
        says(&[frames(0, vec![column("f-number", "f", "", &[1.0])])]).contains("before the head")
    );
    assert!(numbered(&[1.0, 1.0]).contains("frame 1 of the take has the number 1,"));
    assert!(numbered(&[1.0, 0.0]).contains("frame 1 of the take has the number 0,"));
    assert!(numbered(&[1.5]).contains("frame 0 of the take has the number 1.5"));
    assert!(numbered(&[f64::NAN]).contains("NaN"));
    assert!(numbered(&[1e300]).contains("number 1000"));
    let f = |unit: &str| column("focus-distance", unit, "entrance-pupil", &[1.0]);
    assert!(says(&one(vec![f("m")])).contains("expected 'cm'"));
    assert!(says(&one(vec![f("cm"), f("cm")])).contains("comes twice"));
    let rate = |text: &str| head(None, vec![ringmark_sdk::fact("frame-rate", text, None)]);
    assert!(says(&[rate("24"), rate("25")]).contains("a stage has one rate"));
    assert!(says(&[rate("fast")]).contains("fast"));
    let late = [
        head(None, Vec::new()),
        frames(0, vec![f("cm")]),
        frames(5, vec![f("cm")]),
    ];
    assert!(says(&late).contains("frame 5 came where frame 1 was due"));
}
