//! Documents of all kinds for the round trip.

use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};
use ringmark_sdk::batch::LabelColumn;
use ringmark_sdk::{Datum, Fact, Frames, Item, Lens, Take};

use crate::common::column;

/// Name, unit and reference of columns of numbers.
const NUMBERS: &[(&str, &str, &str)] = &[
    ("pinhole-focal-length", "mm", ""),
    ("focus-distance", "cm", "entrance-pupil"),
    ("f-number", "f", ""),
    ("shutter-angle", "deg", ""),
    ("exposure-time", "s", ""),
    ("sensitivity", "ISO", ""),
    ("t-stop", "T", ""),
    ("near-limit", "m", "image-plane"),
    ("focus-ring", "0..1", ""),
    ("distortion-k1", "", ""),
    ("extra/horizontalAperture", "mm", ""),
    ("extra/horizontalApertureOffset", "mm", ""),
    ("extra/verticalApertureOffset", "m", ""),
    ("extra/exposure", "", ""),
    ("extra/exposure:fStop", "", ""),
    ("extra/shop:tStop", "", ""),
    ("extra/shutter:open", "", ""),
    ("extra/voltage", "V", ""),
    ("extra/a.b c", "", ""),
    ("extra/a_b_c", "", ""),
    ("extra/", "", ""),
    ("extra/focalLength", "", ""),
    ("extra/ringmark:recorded", "", ""),
];

/// Name and form of columns of texts.
const TEXTS: &[(&str, &str)] = &[
    ("timecode", "text"),
    ("lens", "text"),
    ("lens-serial", "text"),
    ("extra/shop:note", "text"),
    ("extra/blob", "hex"),
    ("extra/j", "json"),
    ("extra/projection", "text"),
    ("extra/note \"é\"\n", "text"),
];

fn numbers() -> impl Strategy<Value = f64> {
    prop_oneof![
        3 => Just(f64::NAN),
        2 => select(vec![f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, -1.0, 1e300, 5e-324, 1e-40, 3.4e38, 16777217.0]),
        5 => select(vec![1.0, 0.5, 2.0, 32.5, 180.0, 172.8, 800.0, 65535.0, 1.9, 0.1]),
        2 => 0.001..100000.0_f64,
        1 => any::<f64>().prop_filter("NaN has one form", |v| !v.is_nan()),
    ]
}

fn texts() -> impl Strategy<Value = Option<String>> {
    let usual = [
        "A",
        "B",
        "",
        "None",
        "01:00:00:00",
        "{}",
        "0aff",
        "\\",
        "'\"",
        "left",
    ];
    prop_oneof![
        2 => Just(None),
        6 => select(usual.to_vec()).prop_map(|t| Some(t.to_owned())),
        1 => any::<String>().prop_map(Some),
    ]
}

/// Name, unit, and whether it is a text.
const TAKE_FACTS: &[(&str, &str, bool)] = &[
    ("clip", "", true),
    ("reel", "", true),
    ("capture-rate", "", true),
    ("counting", "", true),
    ("sensor-width", "mm", false),
    ("sensor-height", "mm", false),
    ("resolution-width", "", false),
    ("focus-encoder-low", "count", false),
    ("extra/horizontalApertureOffset", "mm", false),
    ("extra/verticalApertureOffset", "", false),
    ("extra/exposure", "", false),
    ("extra/shutter:open", "", false),
    ("extra/stereoRole", "", true),
    ("extra/projection", "", true),
    ("extra/customData:lens", "", true),
    ("extra/shop:level", "", false),
    ("extra/weather \"x\"", "text", true),
    ("extra/height", "m", false),
];

const LENS_FACTS: &[(&str, &str, bool)] = &[
    ("lens-maker", "", true),
    ("lens-model", "", true),
    ("focal-length-min", "mm", false),
    ("squeeze", "", false),
    ("extra/owner", "", true),
];

fn facts(rows: &'static [(&'static str, &'static str, bool)]) -> BoxedStrategy<Vec<Fact>> {
    let each: Vec<_> = rows
        .iter()
        .map(|(name, unit, text)| {
            let value = match text {
                true => texts()
                    .prop_map(|t| Datum::Text(t.unwrap_or_default()))
                    .boxed(),
                false => numbers().prop_map(Datum::Number).boxed(),
            };
            value.prop_map(move |value| Fact {
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

fn batch() -> impl Strategy<Value = Frames> {
    let number_rows = subsequence(NUMBERS.to_vec(), 0..=NUMBERS.len());
    let text_rows = subsequence(TEXTS.to_vec(), 0..=TEXTS.len());
    (1usize..6, number_rows, text_rows).prop_flat_map(|(count, number_rows, text_rows)| {
        let numbers = vec(vec(numbers(), count), number_rows.len());
        let texts = vec(vec(texts(), count), text_rows.len());
        (numbers, texts).prop_map(move |(numbers, texts)| Frames {
            take: 0,
            first: 0,
            count: count as u32,
            columns: number_rows
                .iter()
                .zip(numbers)
                .map(|((channel, unit, reference), values)| {
                    column(channel, unit, reference, &values)
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

/// Frame numbers: none, or first one and steps.
fn numbering() -> impl Strategy<Value = Option<(i64, Vec<i64>)>> {
    let steps = prop_oneof![3 => Just(1_i64), 1 => 2..5_i64, 1 => Just(1_000_000_000)];
    prop_oneof![
        1 => Just(None),
        3 => (-3..2000_i64, vec(steps, 20)).prop_map(Some),
    ]
}

fn one_take(index: u32) -> impl Strategy<Value = (Vec<Fact>, Vec<Item>)> {
    (
        facts(TAKE_FACTS),
        vec(batch(), 0..4),
        numbering(),
        select(vec!["entrance-pupil", "image-plane", "unstated"]),
    )
        .prop_map(move |(facts, batches, numbering, reference)| {
            let mut first = 0;
            let mut items = Vec::new();
            let mut next = numbering.as_ref().map(|n| n.0);
            for mut batch in batches {
                (batch.take, batch.first) = (index, first);
                if let (Some((_, steps)), Some(next)) = (&numbering, &mut next) {
                    let numbers: Vec<f64> = (0..batch.count as usize)
                        .map(|row| {
                            let number = *next;
                            *next += steps[(first as usize + row) % steps.len()];
                            number as f64
                        })
                        .collect();
                    batch.columns.insert(0, column("frame", "", "", &numbers));
                }
                for column in &mut batch.columns {
                    if column.channel == "focus-distance" {
                        reference.clone_into(&mut column.reference);
                    }
                }
                first += u64::from(batch.count);
                items.push(Item::Frames(batch));
            }
            (facts, items)
        })
}

/// Documents of one or two takes.
pub fn document() -> impl Strategy<Value = Vec<Item>> {
    let rate = select(vec![
        None,
        Some("24"),
        Some("30000/1001"),
        Some("25/2"),
        Some("100/3"),
    ]);
    let second = prop_oneof![2 => Just(None), 1 => one_take(1).prop_map(Some)];
    (
        vec(facts(LENS_FACTS), 0..3),
        any::<[Option<u32>; 2]>(),
        one_take(0),
        second,
        rate,
    )
        .prop_map(|(lenses, chosen, first, second, rate)| {
            let count = lenses.len() as u32;
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
            for (lens, (mut facts, frames)) in chosen
                .into_iter()
                .zip([Some(first), second].into_iter().flatten())
            {
                if let Some(rate) = rate {
                    facts.push(ringmark_sdk::fact("frame-rate", rate, None));
                }
                let lens = lens.filter(|_| count > 0).map(|lens| lens % count);
                items.push(Item::Take(Take { lens, facts }));
                items.extend(frames);
            }
            items
        })
}
