//! Whatever still is written, its sidecar gives back exactly that, and is the same text when
//! it is written again.

#![allow(clippy::unwrap_used)]

mod common;

use common::{
    Val, checks, data, flat, jpeg, packet, read, read_sequence, remarks, tiff, write, write_beside,
};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};
use ringmark_sdk::batch::LabelColumn;
use ringmark_sdk::{Column, Datum, Fact, Frames, Item, Lens, Take};

fn numbers() -> impl Strategy<Value = f64> {
    prop_oneof![
        2 => Just(f64::NAN),
        2 => select(vec![
            f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, -1.0, 1e300, 5e-324, 9007199254740993.0,
            2147483647.0, 4294967294.0, 4294967295.0, 4294967296.0, 65535.0, 65536.0, 1e-10, 2.4e-10,
            0.1 + 0.2, 1.0 + f64::EPSILON, 1.0 - f64::EPSILON, 32.0 + 1e-9,
        ]),
        4 => select(vec![1.0, 0.5, 2.0, 1.9, 2.8, 32.25, 50.0, 180.0, 800.0, 24.0, 1001.0, 1.0 / 48.0, 36.0, 6000.0]),
        2 => 0.1..500.0_f64,
        2 => any::<f64>().prop_filter("NaN has one form", |v| !v.is_nan()),
    ]
}

fn texts() -> impl Strategy<Value = Option<String>> {
    let usual = [
        "A",
        "B",
        "",
        " ",
        " a ",
        "\r\n",
        "19/10",
        "0/0",
        "1.9",
        "inf",
        "a\u{0}b",
        "\u{fffe}",
        "<&>\"'",
        "2026-11-25T10:00:00",
        "{\"seq\":[\"1\",\"2\"]}",
        "{\"seq\":[\"1\"] }",
        "\"a\"",
        "[1]",
        "{}",
        "{\"fields\":[[\"exif:a\",\"b\"],[\"{u:y}c\",{\"alt\":[{\"text\":\"t\",\"lang\":\"x-default\"}]}]]}",
        "{\"fields\":[[\"{https://ringmark.invalid/ns/1.0/}name\",\"b\"]]}",
        "{\"text\":\"\\u0000\",\"lang\":\"en\"}",
        "00ff",
    ];
    prop_oneof![
        2 => Just(None),
        7 => select(usual.to_vec()).prop_map(|t| Some(t.to_owned())),
        2 => any::<String>().prop_map(Some),
        1 => Just(Some("ä".repeat(1024))),
    ]
}

/// Name, unit and reference of columns of numbers.
const NUMBERS: &[(&str, &str, &str)] = &[
    ("frame", "", ""),
    ("focus-distance", "m", "unstated"),
    ("near-limit", "m", "image-plane"),
    ("nominal-focal-length", "mm", ""),
    ("pinhole-focal-length", "mm", ""),
    ("equivalent-focal-length", "mm", ""),
    ("f-number", "f", ""),
    ("t-stop", "T", ""),
    ("exposure-time", "s", ""),
    ("sensitivity", "ISO", ""),
    ("entrance-pupil-offset", "mm", ""),
    ("extra/exif:ApertureValue", "", ""),
    ("extra/exif:ShutterSpeedValue", "", ""),
    ("extra/exif:FNumber", "", ""),
    ("extra/exif:ExposureBiasValue", "", ""),
    ("extra/exif:SubjectDistanceRange", "", ""),
    ("extra/exif:DigitalZoomRatio", "m", ""),
    ("extra/exif:FocalPlaneXResolution", "", ""),
    ("extra/exif:FocalPlaneYResolution", "", ""),
    ("extra/exif:FocalPlaneResolutionUnit", "", ""),
    ("extra/exifEX:ISOSpeed", "", ""),
    ("extra/exif:Unknown", "", ""),
    ("extra/voltage", "V", ""),
    ("extra/", "", ""),
    ("extra/note \u{1}", "", ""),
];

/// Name and form of columns of texts.
const TEXTS: &[(&str, &str)] = &[
    ("timecode", "text"),
    ("lens", "text"),
    ("lens-maker", "text"),
    ("lens-model", "text"),
    ("lens-serial", "text"),
    ("source-file", "text"),
    ("extra/exif:DateTimeOriginal", "text"),
    ("extra/tiff:Software", "text"),
    ("extra/tiff:Make", "text"),
    ("extra/tiff:ImageWidth", "text"),
    ("extra/aux:LensInfo", "text"),
    ("extra/exif:ISOSpeedRatings", "json"),
    ("extra/exif:Flash", "json"),
    ("extra/exif:UserComment", "text"),
    ("extra/exif:WhiteBalance", "text"),
    ("extra/{http://ns.example/x/}a.b-c", "text"),
    ("extra/{http://ns.example/y?a&b\"}c", "json"),
    ("extra/{http://ns.example/x/}é", "text"),
    ("extra/{https://ringmark.invalid/ns/1.0/}Version", "text"),
    ("extra/blob", "hex"),
    ("extra/note \"é\"\n", "text"),
];

/// Name, unit, and whether it is a text.
type FactRow = (&'static str, &'static str, bool);

const TAKE_FACTS: &[FactRow] = &[
    ("clip", "", true),
    ("reel", "", true),
    ("frame-rate", "", true),
    ("camera-maker", "", true),
    ("camera-model", "", true),
    ("camera-serial", "", true),
    ("camera-firmware", "", true),
    ("sensor-width", "mm", false),
    ("sensor-height", "mm", false),
    ("resolution-width", "", false),
    ("resolution-height", "", false),
    ("focus-encoder-low", "count", false),
    ("extra/weather", "text", true),
    ("extra/list", "json", true),
    ("extra/exif:FNumber", "", false),
];

const LENS_FACTS: &[FactRow] = &[
    ("lens-maker", "", true),
    ("lens-model", "", true),
    ("lens-serial", "", true),
    ("lens-kind", "", true),
    ("focal-length-min", "mm", false),
    ("focal-length-max", "mm", false),
    ("close-focus", "m", false),
    ("widest-f-number", "f", false),
    ("widest-t-stop", "T", false),
    ("squeeze", "", false),
    ("extra/widest-f-number-at-focal-length-min", "f", false),
    ("extra/widest-f-number-at-focal-length-max", "f", false),
    ("extra/focal-length-min", "mm", false),
    ("extra/owner", "text", true),
];

fn facts(rows: &'static [FactRow]) -> BoxedStrategy<Vec<Fact>> {
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

fn frames(count: usize) -> impl Strategy<Value = Frames> {
    let number_rows = subsequence(NUMBERS.to_vec(), 0..=NUMBERS.len());
    let text_rows = subsequence(TEXTS.to_vec(), 0..=TEXTS.len());
    let reference = select(vec![
        "unstated",
        "image-plane",
        "entrance-pupil",
        "front-vertex",
    ]);
    (number_rows, text_rows, reference).prop_flat_map(move |(number_rows, text_rows, reference)| {
        let numbers = vec(vec(numbers(), count), number_rows.len());
        let texts = vec(vec(texts(), count), text_rows.len());
        (numbers, texts).prop_map(move |(numbers, texts)| Frames {
            take: 0,
            first: 0,
            count: count as u32,
            columns: number_rows
                .iter()
                .zip(numbers)
                .map(|((channel, unit, from), values)| Column {
                    channel: (*channel).to_owned(),
                    unit: (*unit).to_owned(),
                    reference: match *channel {
                        "focus-distance" => reference.to_owned(),
                        _ => (*from).to_owned(),
                    },
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
    let lenses = prop_oneof![
        1 => Just(Vec::new()),
        4 => vec(facts(LENS_FACTS), 1),
        1 => vec(facts(LENS_FACTS), 2..4),
    ];
    let chosen = prop_oneof![4 => Just(Some(0)), 1 => any::<Option<u32>>()];
    (lenses, chosen, facts(TAKE_FACTS), frames(1)).prop_map(|(lenses, lens, facts, frames)| {
        let lens = match lenses.len() as u32 {
            0 => None,
            count => lens.map(|lens| lens % count),
        };
        let mut items: Vec<Item> = lenses.into_iter().map(lens_item).collect();
        items.push(Item::Take(Take { lens, facts }));
        items.push(Item::Frames(frames));
        items
    })
}

fn lens_item(facts: Vec<Fact>) -> Item {
    Item::Lens(Lens {
        facts,
        rings: Vec::new(),
        tables: Vec::new(),
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, max_shrink_iters: 4000, ..ProptestConfig::default() })]

    #[test]
    fn every_still_reads_back_exactly(items in take()) {
        let text = write(&items).unwrap();
        let back = read("still.0042.xmp", text.as_bytes()).unwrap();
        // Generated values of one thing disagree.
        let mut told = checks(&back);
        told.retain(|check| !["apertures-disagree", "exposure-times-disagree"].contains(&check.as_str()));
        prop_assert_eq!(told, Vec::<String>::new(), "{}", text);
        prop_assert_eq!(flat(&back), flat(&items), "{}", text);
        prop_assert_eq!(write(&back).unwrap(), text);
    }
}

#[test]
fn files_from_elsewhere_survive_and_settle_at_once() {
    for file in [
        "prime.jpg",
        "prime.tif",
        "unknown_values.jpg",
        "prime.xmp",
        "inconsistent.xmp",
        "infinity_exact.xmp",
    ] {
        let items = read(file, &data(file)).unwrap();
        let text = write(&items).unwrap();
        let back = read("other.xmp", text.as_bytes()).unwrap();
        assert_eq!(flat(&back), flat(&items), "{file}");
        assert_eq!(write(&back).unwrap(), text, "{file}");
    }
}

#[test]
fn a_sidecar_from_elsewhere_keeps_its_properties() {
    let items = read("prime.xmp", &data("prime.xmp")).unwrap();
    let text = write(&items).unwrap();
    for property in [
        "<exif:FNumber>19/10</exif:FNumber>",
        "<exif:FocalLength>129/4</exif:FocalLength>",
        "<exif:ApertureValue>463/250</exif:ApertureValue>",
        "<exif:MaxApertureValue>463/250</exif:MaxApertureValue>",
        "<exif:ShutterSpeedValue>1117/200</exif:ShutterSpeedValue>",
        "<exif:SubjectDistance>11/4</exif:SubjectDistance>",
        "<exif:FocalPlaneXResolution>1111111/5000</exif:FocalPlaneXResolution>",
        "<exifEX:PhotographicSensitivity>800</exifEX:PhotographicSensitivity>",
        "<exifEX:LensModel>Halden 32</exifEX:LensModel>",
        "<rdf:li>19/10</rdf:li>",
        "<tiff:Make>Fjordlys (fictional)</tiff:Make>",
        "<tiff:XResolution>72/1</tiff:XResolution>",
    ] {
        assert!(text.contains(property), "{property}\n{text}");
    }
    // Only the names of file and clip have no property of a standard.
    let own: Vec<&str> = text
        .lines()
        .filter(|line| line.contains("<ringmark:name>"))
        .map(str::trim)
        .collect();
    assert_eq!(
        own,
        [
            "<ringmark:name>source-file</ringmark:name>",
            "<ringmark:name>clip</ringmark:name>"
        ]
    );
}

#[test]
fn structures_of_other_programs_survive() {
    let text = packet(
        "<exif:Flash rdf:parseType='Resource'><exif:Fired>False</exif:Fired></exif:Flash>\
         <exif:UserComment><rdf:Alt><rdf:li xml:lang='x-default'>chart 7</rdf:li></rdf:Alt></exif:UserComment>\
         <x:history><rdf:Seq><rdf:li x:action='saved' x:when='today'/></rdf:Seq></x:history>\
         <x:link rdf:resource='urn:uuid:1'/><x:rating>5</x:rating>",
    );
    let items = read("a.xmp", text.as_bytes()).unwrap();
    let found = flat(&items);
    assert_eq!(
        found.get("extra/{http://ns.example/x/}rating"),
        Some("5 [text]")
    );
    assert_eq!(
        found.get("extra/exif:UserComment"),
        Some("{\"alt\":[{\"text\":\"chart 7\",\"lang\":\"x-default\"}]} [json]")
    );
    let written = write(&items).unwrap();
    for part in [
        "<exif:Fired>False<",
        "xml:lang=\"x-default\">chart 7<",
        ":action>saved<",
        "rdf:resource=\"urn:uuid:1\"",
        ":rating>5<",
    ] {
        assert!(written.contains(part), "{part}\n{written}");
    }
    assert_eq!(flat(&read("b.xmp", written.as_bytes()).unwrap()), found);
}

fn column(channel: &str, unit: &str, reference: &str, values: &[f64]) -> Column {
    Column {
        channel: channel.into(),
        unit: unit.into(),
        reference: reference.into(),
        values: values.to_vec(),
    }
}

fn head() -> Item {
    Item::Take(Take {
        lens: None,
        facts: Vec::new(),
    })
}

fn batch(columns: Vec<Column>) -> Item {
    Item::Frames(Frames {
        take: 0,
        first: 0,
        count: columns
            .first()
            .map_or(0, |column| column.values.len() as u32),
        columns,
        labels: Vec::new(),
        inputs: Vec::new(),
        offsets: Vec::new(),
    })
}

#[test]
fn each_still_gets_its_frame() {
    let items = [
        head(),
        batch(vec![
            column("frame", "", "", &[7.0, 5.0, 6.0]),
            column("focus-distance", "m", "unstated", &[0.7, 0.5, 0.6]),
        ]),
    ];
    let stills = ["chart.0005.jpg", "chart.0006.jpg", "chart.0007.jpg"];
    let sidecars = write_beside(&items, &stills).unwrap();
    for (text, property) in sidecars.iter().zip(["1/2", "3/5", "7/10"]) {
        assert!(
            text.contains(&format!("<exif:SubjectDistance>{property}<")),
            "{text}"
        );
    }
    // Read again in another order, as the files of one take.
    let names = ["chart.0005.xmp", "chart.0006.xmp", "chart.0007.xmp"];
    let files: Vec<_> = names
        .into_iter()
        .zip(sidecars.into_iter().map(String::into_bytes))
        .collect();
    let found = flat(&read_sequence(&files).unwrap());
    assert_eq!(found.columns["frame"].len(), 3);
    assert_eq!(
        found.columns["focus-distance"][1].as_deref(),
        Some("0.6 [m unstated]")
    );
}

#[test]
fn what_cannot_be_written_is_refused() {
    let two = || batch(vec![column("frame", "", "", &[1.0, 2.0])]);
    let one = || batch(vec![column("frame", "", "", &[1.0])]);
    let says = |items: &[Item], stills: &[&str]| {
        let failure = write_beside(items, stills).unwrap_err();
        format!("{}: {}", failure.message, failure.help)
    };
    assert!(says(&[head(), two()], &[]).contains("--frames DIR"));
    assert!(says(&[head()], &[]).contains("no frame"));
    assert!(says(&[one()], &[]).contains("before the head"));
    assert!(says(&[head(), one(), head()], &[]).contains("more than one take"));
    assert!(says(&[head(), two()], &["a.1.jpg"]).contains("1 frame has no file: 2"));
    assert!(says(&[head(), one()], &["a.1.jpg", "a.2.jpg"]).contains("1 file has no frame: 2"));
    let twice = batch(vec![
        column("frame", "", "", &[1.0]),
        column("frame", "", "", &[1.0]),
    ]);
    assert!(says(&[head(), twice], &[]).contains("frame comes twice"));
    let lens = Item::Take(Take {
        lens: Some(1),
        facts: Vec::new(),
    });
    assert!(says(&[lens], &[]).contains("lens 1"));
}

#[test]
fn an_edited_property_wins_over_the_exact_value_beside_it() {
    // A number that no rational with 32-bit parts gives back.
    let value = 1.0 + f64::EPSILON;
    let items = [head(), batch(vec![column("f-number", "f", "", &[value])])];
    let text = write(&items).unwrap();
    assert!(
        text.contains("<exif:FNumber>1/1</exif:FNumber>") && text.contains("1.0000000000000002")
    );
    assert_eq!(
        flat(&read("a.xmp", text.as_bytes()).unwrap()).number("f-number"),
        value
    );
    let edited = text.replace("<exif:FNumber>1/1<", "<exif:FNumber>2/1<");
    let items = read("a.xmp", edited.as_bytes()).unwrap();
    assert_eq!(flat(&items).number("f-number"), 2.0);
    assert_eq!(checks(&items), ["property-edited"]);
    let removed = text.replace("<exif:FNumber>1/1</exif:FNumber>", "");
    let items = read("a.xmp", removed.as_bytes()).unwrap();
    assert!(flat(&items).number("f-number").is_nan());
    assert_eq!(checks(&items), ["property-edited"]);
}

#[test]
fn a_private_part_from_elsewhere_is_passed_over() {
    let items = [
        head(),
        batch(vec![
            column("f-number", "f", "", &[2.0]),
            column("t-stop", "T", "", &[2.1]),
        ]),
    ];
    let text = write(&items).unwrap();
    for (from, to) in [
        ("<ringmark:Version>1<", "<ringmark:Version>2<"),
        ("<ringmark:Version>1</ringmark:Version>", ""),
        ("<ringmark:number>2.1<", "<ringmark:number>x<"),
        ("<ringmark:number>2.1<", "<ringmark:number>NaN<"),
        ("<ringmark:name>t-stop</ringmark:name>", ""),
        ("ringmark:Channels>", "ringmark:New>"),
    ] {
        let items = read("a.xmp", text.replace(from, to).as_bytes()).unwrap();
        assert_eq!(checks(&items), ["private-part"], "{to}");
        assert!(flat(&items).number("t-stop").is_nan());
        assert_eq!(flat(&items).number("f-number"), 2.0);
        assert!(remarks(&items)[0].message.starts_with("private part: "));
    }
}

#[test]
fn a_still_in_a_sequence_may_have_more_or_less_than_the_first() {
    let exif = |f: u32, model: &'static str, most: u32| {
        let fields = [
            (0x829d, Val::Ratio(vec![(f, 10)])),
            (0x9205, Val::Ratio(vec![(most, 1)])),
            (0xa434, Val::Ascii(model)),
        ];
        jpeg(Some(&tiff(true, &[], &fields)), None)
    };
    let none = jpeg(None, None);
    let files = [
        ("s.1.jpg", exif(20, "A", 2)),
        ("s.2.jpg", none),
        ("s.3.jpg", exif(28, "B", 3)),
        ("s.4.jpg", exif(28, "B", 3)),
    ];
    let items = read_sequence(&files).unwrap();
    let found = flat(&items);
    let f: Vec<_> = found.columns["f-number"]
        .iter()
        .map(Option::is_some)
        .collect();
    assert_eq!(f, [true, false, true, true]);
    assert_eq!(found.columns["lens-model"][2].as_deref(), Some("B [text]"));
    assert_eq!(found.fact("lens-model"), Some("\"A\" []"));
    assert_eq!(found.fact("widest-f-number"), Some("2.0 [f]"));
    let told = remarks(&items);
    let told: Vec<_> = told
        .iter()
        .map(|r| (r.check.as_str(), r.severity.as_str()))
        .collect();
    // The lens may change; the widest f-number of the take's lens is the first file's.
    assert_eq!(
        told,
        [
            ("metadata-missing", "warning"),
            ("attribute-changes", "warning"),
            ("attribute-changes", "note")
        ]
    );
}
