//! What the conventions and a mapping say is what is read.
#![allow(missing_docs, clippy::unwrap_used)]

use ringmark_sdk::batch::{column, label_text, labels};
use ringmark_sdk::native::{MemoryInput, read_all};
use ringmark_sdk::{Datum, Fact, Frames, Item, Lens, Reader, Take};
use ringmark_table::TableReader;

fn read(text: &str, options: &str) -> Vec<Item> {
    read_all::<TableReader>("table.csv", text.as_bytes(), options)
        .unwrap_or_else(|failure| panic!("{text}: {} {}", failure.message, failure.help))
}

fn take(text: &str, options: &str) -> (Option<Lens>, Take, Frames) {
    let mut items = read(text, options).into_iter();
    let mut lens = None;
    loop {
        match items.next().unwrap() {
            Item::Lens(found) => lens = Some(found),
            Item::Take(head) => match items.next().unwrap() {
                Item::Frames(frames) => return (lens, head, frames),
                other => panic!("{other:?}"),
            },
            other => panic!("{other:?}"),
        }
    }
}

fn lens(text: &str) -> Lens {
    match read(text, "{}").remove(0) {
        Item::Lens(lens) => lens,
        other => panic!("{other:?}"),
    }
}

fn said(facts: &[Fact], name: &str) -> (Datum, String) {
    let fact = facts.iter().find(|fact| fact.name == name);
    let fact = fact.unwrap_or_else(|| panic!("no {name} in {facts:?}"));
    (fact.value.clone(), fact.unit.clone())
}

fn number(value: f64, unit: &str) -> (Datum, String) {
    (Datum::Number(value), unit.to_owned())
}

fn words(text: &str) -> (Datum, String) {
    (Datum::Text(text.to_owned()), String::new())
}

#[test]
fn a_take_with_all_of_it() {
    let text = "# document: take\n# clip: A001\n# frame rate: 23.976\n# timecode: non-drop\n# sensor width: 27.99 mm\n\
        # resolution: 4096 x 2160\n# lens maker: Halden Optikk\n# focal length: 24-70 mm\n# close focus: 1'8\"\n\
        # measured from: image plane\n# focus encoder: 0..65535\n# Boom Operator: K. Aas\n# humidity [%]: 40\n\
        frame,timecode,focus ring [count],focus distance [ft-in],rangefinder [cm from entrance pupil],T-stop,note,pan [deg]\n\
        1001,01:00:00:00,120,5'6\",167.5,T2.8,\"a, b\",1.5\n\
        1002,01:00:00:01,,inf,,2.8⅓,,\n";
    let (lens, take, frames) = take(text, "{}");
    let lens = lens.unwrap();
    assert_eq!(take.lens, Some(0));
    assert_eq!(said(&take.facts, "clip"), words("A001"));
    assert_eq!(said(&take.facts, "frame-rate"), words("23.976"));
    assert_eq!(said(&take.facts, "counting"), words("non-drop"));
    assert_eq!(said(&take.facts, "sensor-width"), number(27.99, "mm"));
    assert_eq!(said(&take.facts, "resolution-height"), number(2160.0, ""));
    assert_eq!(
        said(&take.facts, "focus-encoder-high"),
        number(65535.0, "count")
    );
    assert_eq!(said(&take.facts, "extra/Boom Operator"), words("K. Aas"));
    assert_eq!(said(&take.facts, "extra/humidity"), number(40.0, "%"));
    assert_eq!(said(&lens.facts, "lens-maker"), words("Halden Optikk"));
    assert_eq!(said(&lens.facts, "focal-length-min"), number(24.0, "mm"));
    assert_eq!(said(&lens.facts, "focal-length-max"), number(70.0, "mm"));
    assert_eq!(said(&lens.facts, "close-focus"), number(20.0, "ft-in"));
    assert_eq!(
        said(&lens.facts, "close-focus-reference"),
        words("image-plane")
    );
    let offset = text.find("1001,").unwrap() as u64;
    assert_eq!(frames.offsets[0], offset);
    assert_eq!((frames.first, frames.count), (0, 2));
    let raw = column(&frames, "focus-ring-raw").unwrap();
    assert_eq!(
        (raw.unit.as_str(), raw.values[0], raw.values[1].is_nan()),
        ("count", 120.0, true)
    );
    let focus = column(&frames, "focus-distance").unwrap();
    assert_eq!(
        (focus.unit.as_str(), focus.reference.as_str()),
        ("ft-in", "image-plane")
    );
    assert_eq!(focus.values, [66.0, f64::INFINITY]);
    let finder = column(&frames, "rangefinder-distance").unwrap();
    assert_eq!(
        (finder.unit.as_str(), finder.reference.as_str()),
        ("cm", "entrance-pupil")
    );
    assert_eq!(column(&frames, "t-stop").unwrap().values[0], 2.8);
    assert_eq!(column(&frames, "extra/pan").unwrap().unit, "deg");
    let note = labels(&frames, "extra/note").unwrap();
    assert_eq!(
        (label_text(note, 0), label_text(note, 1)),
        (Some("a, b"), None)
    );
    assert_eq!(
        label_text(labels(&frames, "timecode").unwrap(), 1),
        Some("01:00:00:01")
    );
}

#[test]
fn decimal_feet_are_never_feet_and_inches() {
    let (_, _, frames) = take("frame,focus distance [ft]\n1,5.6\n2,5'6\"\n", "{}");
    assert_eq!(
        column(&frames, "focus-distance").unwrap().values,
        [5.6, 5.5]
    );
}

#[test]
fn other_delimiters_and_decimal_commas() {
    for (text, options) in [
        (
            "\u{feff}# decimal: comma\r\nframe;T-stop\r\n1;2,8\r\n",
            "{}",
        ),
        ("frame\tT-stop\n1\t2,8\n", r#"{"mapping":{"decimal":","}}"#),
        ("frame\tT-stop\n1\t2.8", "{}"),
    ] {
        let (_, _, frames) = take(text, options);
        assert_eq!(column(&frames, "t-stop").unwrap().values, [2.8], "{text}");
    }
}

#[test]
fn degrees_of_rotation_are_raw_positions() {
    let text = "# focus rotation: 300 deg\nframe,focus ring [deg]\n1,150\n";
    let (_, take, frames) = take(text, "{}");
    assert_eq!(column(&frames, "focus-ring-raw").unwrap().unit, "deg");
    assert_eq!(said(&take.facts, "focus-encoder-low"), number(0.0, "deg"));
    assert_eq!(
        said(&take.facts, "focus-encoder-high"),
        number(300.0, "deg")
    );
}

#[test]
fn a_mapping_says_what_the_header_does_not() {
    let text =
        "exported by hand\nBild;Zeit;Fokus;Ring;Rest;Müll\n7;01:00:00:00;1,5;10;x;y\n8;-;0;20;;\n";
    let options = r#"{"mapping":{"version":"1.0","skip_lines":1,"decimal":",","missing":["-","0"],"measured_from":"front-vertex",
        "statics":{"frame-rate":"24","close-focus":"0,5 m","squeeze":2},
        "columns":[{"header":"bild","channel":"frame"},{"index":2,"channel":"timecode"},
        {"header":"Fokus","channel":"focus-distance","unit":"m","reference":"image-plane"},
        {"header":"Ring","channel":"focus-ring","unit":"count","range":[100,0]},
        {"header":"Müll","channel":"ignore"}]}}"#;
    let (lens, take, frames) = take(text, options);
    assert_eq!(column(&frames, "frame").unwrap().values, [7.0, 8.0]);
    let focus = column(&frames, "focus-distance").unwrap();
    assert_eq!(focus.reference, "image-plane");
    assert_eq!((focus.values[0], focus.values[1].is_nan()), (1.5, true));
    assert_eq!(
        said(&take.facts, "focus-encoder-low"),
        number(100.0, "count")
    );
    assert_eq!(
        said(&take.facts, "focus-encoder-high"),
        number(0.0, "count")
    );
    let lens = lens.unwrap();
    assert_eq!(said(&lens.facts, "close-focus"), number(0.5, "m"));
    assert_eq!(
        said(&lens.facts, "close-focus-reference"),
        words("front-vertex")
    );
    assert_eq!(label_text(labels(&frames, "timecode").unwrap(), 1), None);
    assert!(labels(&frames, "extra/Rest").is_some());
    assert_eq!((frames.columns.len(), frames.labels.len()), (3, 2));
}

#[test]
fn raw_positions_asked_for_as_such_need_no_range() {
    let (_, take, frames) = take("frame,focus ring raw [count]\n1,150\n", "{}");
    assert_eq!(column(&frames, "focus-ring-raw").unwrap().values, [150.0]);
    assert!(take.facts.is_empty());
    let options =
        r#"{"mapping":{"columns":[{"header":"e","channel":"zoom-ring-raw","unit":"count"}]}}"#;
    assert!(column(&self::take("e\n1\n", options).2, "zoom-ring-raw").is_some());
}

#[test]
fn without_a_header() {
    let options = r#"{"mapping":{"header":false,"columns":[{"index":1,"channel":"frame"},{"index":2,"channel":"t-stop"}]}}"#;
    let (_, _, frames) = take("1\t2.8\ta\n2\t4\tb\n", options);
    assert_eq!(column(&frames, "t-stop").unwrap().values, [2.8, 4.0]);
    assert!(labels(&frames, "extra/column 3").is_some());
    assert_eq!(frames.offsets, [0, 8]);
}

#[test]
fn blank_lines_are_frames_where_it_is_said() {
    let (_, _, frames) = take("# blank lines: frames\nframe,note\n1,a\n\n3,c\n", "{}");
    assert_eq!(frames.count, 3);
    assert!(column(&frames, "frame").unwrap().values[1].is_nan());
    let (_, _, frames) = take("frame,note\n1,a\n\n3,c\n", "{}");
    assert_eq!(frames.count, 2);
}

#[test]
fn a_calibration_of_three_rings() {
    let text = "# document: ring calibration\n# maker: Halden Optikk\n# kind: zoom\n# focal length: 24-70 mm\n\
        # measured from: image plane\n# focus rotation: 300 deg\n# zoom encoder: 0..4095\n\
        ring,position [deg],position [0..1],position [count],mark [ft-in],mark [mm]\n\
        focus,0,,,2'0\",\nfocus,300,,,∞,\niris,,0.25,,T2.8,\niris,,1,,T22,\nzoom,,,0,,24\nzoom,,,4095,70 mm,\n";
    let lens = lens(text);
    assert_eq!(said(&lens.facts, "lens-kind"), words("zoom"));
    let [focus, iris, zoom] = lens.rings.as_slice() else {
        panic!("{lens:?}");
    };
    assert_eq!(
        (focus.position_unit.as_str(), focus.value_unit.as_str()),
        ("deg", "ft-in")
    );
    assert_eq!(said(&focus.facts, "reference"), words("image-plane"));
    assert_eq!(said(&focus.facts, "rotation"), number(300.0, "deg"));
    assert_eq!(said(&focus.facts, "encoder-high"), number(300.0, "deg"));
    assert_eq!(
        (focus.marks[0].value, focus.marks[0].engraved.as_str()),
        (24.0, "2'0\"")
    );
    assert_eq!(focus.marks[1].value, f64::INFINITY);
    let at = focus.marks[0].at.clone().unwrap();
    assert_eq!(
        &text[at.offset as usize..(at.offset + at.length) as usize],
        "2'0\""
    );
    assert_eq!((iris.value_unit.as_str(), iris.marks[0].value), ("T", 2.8));
    assert_eq!(
        (zoom.value_unit.as_str(), zoom.marks[1].value),
        ("mm", 70.0)
    );
    assert_eq!(said(&zoom.facts, "encoder-high"), number(4095.0, "count"));
}

#[test]
fn a_unit_a_row_and_texts_on_the_barrel() {
    let lens = lens(
        "ring,position [%],mark,unit,engraved,who\nfocus,0,1.5,m,1.5 m,x\nfocus,100,inf,m,,y\n",
    );
    let marks = &lens.rings[0].marks;
    assert_eq!((marks[0].value, marks[0].engraved.as_str()), (1.5, "1.5 m"));
    assert_eq!(marks[1].engraved, "");
    let items = read("ring,position [%],mark [m],who\nfocus,0,1.5,x\n", "{}");
    assert!(matches!(&items[1], Item::Remark(remark) if remark.check == "column-not-kept"));
}

/// Rows that lie across the borders of chunks, at every shift.
#[test]
fn chunks_leave_no_trace() {
    for shift in 0..40 {
        let mut text = format!(
            "# pad: {}\nframe,lens,focus distance [m]\n",
            "x".repeat(shift + 1)
        );
        for frame in 0..20_000 {
            text.push_str(&format!(
                "{frame},\"Halden \"\"{}\"\"\",{}\r\n",
                frame / 7,
                0.5 + f64::from(frame)
            ));
        }
        let input = MemoryInput::boxed("t", text.into_bytes());
        let mut reader = TableReader::open(vec![input], "{}").unwrap();
        let mut expected = 0u32;
        while let Some(item) = reader.next().unwrap() {
            let Item::Frames(frames) = item else { continue };
            assert_eq!(frames.first, u64::from(expected));
            let lens = labels(&frames, "lens").unwrap();
            for row in 0..frames.count as usize {
                let frame = f64::from(expected);
                assert_eq!(frames.columns[0].values[row], frame);
                assert_eq!(frames.columns[1].values[row], frame + 0.5);
                let name = format!("Halden \"{}\"", expected / 7);
                assert_eq!(label_text(lens, row), Some(name.as_str()));
                expected += 1;
            }
        }
        assert_eq!(expected, 20_000);
    }
}

/// `mapping.schema.json` and the reader agree on what a mapping may say.
#[test]
fn the_schema_of_mappings_takes_what_the_reader_takes() {
    let schema: serde_json::Value =
        serde_json::from_str(include_str!("../../../schemas/mapping.schema.json")).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let full: serde_json::Value = serde_json::json!({
        "version": "1.0", "document": "take", "delimiter": ";", "decimal": ",", "missing": ["-"],
        "skip_lines": 0, "header": true, "blank_lines_are_frames": false, "measured_from": "image-plane",
        "statics": {"frame-rate": "24", "squeeze": 2},
        "columns": [{"header": "a", "channel": "focus-distance", "unit": "m", "reference": "unstated"},
            {"index": 2, "channel": "zoom-ring", "unit": "count", "range": [0, 1]}]
    });
    assert!(validator.is_valid(&full));
    read(
        "a;b\n1;2\n",
        &serde_json::json!({ "mapping": full }).to_string(),
    );
    for wrong in [
        serde_json::json!({}),
        serde_json::json!({"version": "1.0", "colums": []}),
        serde_json::json!({"version": "1.0", "columns": [{"channel": "frame"}]}),
        serde_json::json!({"version": "1.0", "columns": [{"index": 1, "header": "a"}]}),
        serde_json::json!({"version": "1.0", "columns": [{"index": 1, "channel": "focus"}]}),
        serde_json::json!({"version": "1.0", "delimiter": "|"}),
    ] {
        assert!(!validator.is_valid(&wrong), "{wrong}");
    }
}
