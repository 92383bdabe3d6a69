//! Facts of lenses and takes.

use ringmark_model::facts::{FACTS, FactKind, Owner};
use ringmark_model::raw::{RawDatum, RawFact, RawItem, RawLens, RawTable};
use ringmark_model::{
    Axis, Extra, ExtraValue, LensKind, Origin, Piece, Severity, Subject, TextForm,
};
use ringmark_quantity::{CountingMode, DistanceReference, Unit};

use crate::make::*;

#[test]
fn facts_come_in_any_unit() {
    let (lens, remarks) = lens_of(vec![
        number("close-focus", 18.0, "in"),
        number("image-circle", 4.6, "cm"),
        number("focal-length-min", 28.0, "mm"),
        number("focal-length-max", 7.6, "cm"),
        number("widest-t-stop", 2.9, ""),
        number("smallest-t-stop", 22.0, "T"),
        number("widest-f-number", 2.8, "f"),
        number("smallest-f-number", 20.0, ""),
        number("squeeze", 1.8, ""),
    ])
    .unwrap();
    assert_eq!(remarks, []);
    assert_eq!(lens.close_focus.unwrap().metres(), 0.4572);
    assert_eq!(lens.image_circle.unwrap().metres(), 0.046);
    let (min, max) = lens.focal_length.unwrap();
    assert_eq!((min.mm(), max.mm()), (28.0, 76.0));
    assert_eq!(lens.widest_t.unwrap().value(), 2.9);
    assert_eq!(lens.smallest_t.unwrap().value(), 22.0);
    assert_eq!(lens.widest_f.unwrap().value(), 2.8);
    assert_eq!(lens.smallest_f.unwrap().value(), 20.0);
    assert_eq!(lens.squeeze, Some(1.8));
    assert_eq!(lens.place_of("squeeze").unwrap().offset, 7);
}

#[test]
fn facts_need_their_unit_too() {
    refused(
        lens_of(vec![number("close-focus", 0.5, "")]),
        "close-focus has no unit",
        "ringmark keeps it in m",
    );
    refused(
        lens_of(vec![number("widest-t-stop", 2.8, "f")]),
        "transmittance",
        "give it in T",
    );
    let error = lens_of(vec![number("close-focus", 0.5, "furlong")]).unwrap_err();
    assert_eq!(error.place.unwrap().offset, 7);
}

#[test]
fn a_fact_of_the_wrong_type_is_refused() {
    for info in FACTS {
        let (wrong, word) = match info.kind {
            FactKind::Text => (number(info.name, 1.0, ""), "text"),
            FactKind::Rate => (number(info.name, 24.0, ""), "rate"),
            FactKind::Number(_) => (text(info.name, "1"), "number"),
        };
        let message = format!("'{}' is no {word}", info.name);
        match info.owner {
            Owner::Lens => refused(lens_of(vec![wrong]), &message, "author of the plugin"),
            Owner::Take => refused(take_of(vec![wrong]), &message, "author of the plugin"),
            Owner::Ring => {
                let ring = ring("focus", ("0..1", "m"), vec![wrong], vec![]);
                refused(read_ring(ring), &message, "author of the plugin");
            }
        }
    }
}

#[test]
fn a_fact_in_the_wrong_place_or_unknown_is_refused() {
    for name in ["clip", "encoder-low", "weight"] {
        refused(
            lens_of(vec![text(name, "x")]),
            &format!("the fact '{name}', which has no place here"),
            &format!("'extra/{name}'"),
        );
    }
}

#[test]
fn a_number_that_was_not_recorded_is_no_fact() {
    for info in FACTS {
        let FactKind::Number(unit) = info.kind else {
            continue;
        };
        let fact = number(info.name, NAN, unit.symbol());
        match info.owner {
            Owner::Lens => assert_eq!(lens_of(vec![fact]).unwrap(), Default::default()),
            Owner::Take => assert_eq!(take_of(vec![fact]).unwrap(), Default::default()),
            Owner::Ring => {
                let read = |facts| read_ring(ring("focus", ("0..1", "m"), facts, vec![])).unwrap();
                assert_eq!(read(vec![fact]), read(vec![]));
            }
        }
    }
}

#[test]
fn impossible_facts_become_remarks_and_reading_goes_on() {
    for (fact, message) in [
        (
            number("focal-length-min", -50.0, "mm"),
            "focal-length-min: “-50 mm” is no nominal focal length: expected millimetres above 0",
        ),
        (
            number("widest-t-stop", 0.0, "T"),
            "widest-t-stop: “0 T” is no T-stop: expected a number above 0",
        ),
        (
            number("smallest-f-number", INF, "f"),
            "smallest-f-number: “inf f” is no f-number: expected a number above 0",
        ),
        (
            number("close-focus", 0.0, "D"),
            "close-focus is inf m: expected a number above 0",
        ),
        (
            number("close-focus", -1.0, "ft"),
            "close-focus is -0.3048 m: expected a number above 0",
        ),
        (
            number("image-circle", 0.0, "mm"),
            "image-circle is 0 mm: expected a number above 0",
        ),
        (
            number("squeeze", 0.0, ""),
            "squeeze is 0: expected a number above 0",
        ),
        (text("lens-kind", "macro"), "lens-kind is 'macro'"),
    ] {
        let (lens, remarks) = lens_of(vec![fact.clone(), text("lens-serial", "K-0417")]).unwrap();
        assert_eq!(lens.serial.as_deref(), Some("K-0417"));
        assert_eq!(lens.extras, []);
        let [remark] = remarks.as_slice() else {
            panic!("{fact:?} {remarks:?}")
        };
        assert_eq!(remark.message, message);
        assert_eq!(remark.check, "value-impossible");
        assert_eq!(remark.severity, Severity::Error);
        assert_eq!(remark.subject, Subject::Lens(0));
        assert_eq!(remark.place.as_ref().unwrap().offset, 7);
        // What to do stands apart, once.
        let help = remark.help.as_deref().unwrap();
        assert!(!help.is_empty() && !message.contains(help), "{help}");
        let mut empty = lens.clone();
        (empty.serial, empty.places) = (None, Vec::new());
        assert_eq!(empty, Default::default(), "{fact:?} is in no field");
    }
}

#[test]
fn impossible_facts_of_takes_become_remarks() {
    for (fact, message) in [
        (text("frame-rate", "fast"), "frame-rate: “fast”"),
        (text("counting", "both"), "counting is 'both'"),
        (
            number("sensor-width", -24.9, "mm"),
            "sensor-width is -24.9 mm: expected a number above 0",
        ),
        (
            number("resolution-width", 1920.5, ""),
            "resolution-width is 1920.5: expected a whole number of pixels above 0",
        ),
        (
            number("resolution-height", 0.0, ""),
            "resolution-height is 0: expected a whole number of pixels",
        ),
        (
            number("zoom-encoder-high", INF, "count"),
            "zoom-encoder-high is inf count: expected a finite number",
        ),
    ] {
        let (take, remarks) = take_of(vec![fact, text("clip", "A012C003")]).unwrap();
        assert_eq!(take.clip.as_deref(), Some("A012C003"));
        assert_eq!(remarks.len(), 1);
        assert!(remarks[0].message.starts_with(message), "{remarks:?}");
        assert_eq!(remarks[0].subject, Subject::Take(0));
        let mut empty = take.clone();
        (empty.clip, empty.places) = (None, Vec::new());
        assert_eq!(empty, Default::default());
    }
}

#[test]
fn remarks_come_before_their_piece() {
    let lens = RawLens {
        facts: vec![number("squeeze", -1.0, "")],
        ..RawLens::default()
    };
    let pieces = read(vec![RawItem::Lens(RawLens::default()), RawItem::Lens(lens)]).unwrap();
    let [Piece::Lens(_), Piece::Remark(remark), Piece::Lens(_)] = pieces.as_slice() else {
        panic!("{pieces:?}")
    };
    assert_eq!(remark.subject, Subject::Lens(1));
}

#[test]
fn the_reference_of_close_focus_is_kept_or_refused() {
    let (lens, _) = lens_of(vec![text("close-focus-reference", "front-vertex")]).unwrap();
    assert_eq!(
        lens.close_focus_reference,
        Some(DistanceReference::FrontVertex)
    );
    refused(
        lens_of(vec![text("close-focus-reference", "flange")]),
        "close focus is measured from 'flange'",
        "image-plane",
    );
}

#[test]
fn one_focal_length_is_a_prime() {
    for name in ["focal-length-min", "focal-length-max"] {
        for kind in [None, Some("prime")] {
            let mut facts = vec![number(name, 40.0, "mm")];
            facts.extend(kind.map(|kind| text("lens-kind", kind)));
            let (lens, _) = lens_of(facts).unwrap();
            let (min, max) = lens.focal_length.unwrap();
            assert_eq!((min.mm(), max.mm()), (40.0, 40.0));
            assert_eq!(lens.extras, []);
        }
    }
}

fn extra(name: &str, number: f64, unit: &str) -> Extra {
    Extra {
        name: name.to_owned(),
        value: ExtraValue::Number(number, unit.to_owned()),
    }
}

#[test]
fn half_a_pair_becomes_an_extra() {
    for (fact, kept) in [
        (
            number("sensor-width", 2.49, "cm"),
            extra("sensor-width", 24.900000000000002, "mm"),
        ),
        (
            number("sensor-height", 18.7, "mm"),
            extra("sensor-height", 18.7, "mm"),
        ),
        (
            number("resolution-width", 4096.0, ""),
            extra("resolution-width", 4096.0, ""),
        ),
        (
            number("resolution-height", 2160.0, ""),
            extra("resolution-height", 2160.0, ""),
        ),
        (
            number("focus-encoder-low", 12.0, "deg"),
            extra("focus-encoder-low", 12.0, "deg"),
        ),
        (
            number("zoom-encoder-high", 9.0, ""),
            extra("zoom-encoder-high", 9.0, ""),
        ),
    ] {
        let (take, remarks) = take_of(vec![fact]).unwrap();
        assert_eq!(take.extras, [kept]);
        assert_eq!(remarks, []);
        assert_eq!((take.sensor_mm, take.resolution), (None, None));
        assert_eq!(take.encoders, []);
    }
    // The other end of a zoom is not known.
    let (lens, _) = lens_of(vec![
        number("focal-length-max", 76.0, "mm"),
        text("lens-kind", "zoom"),
    ])
    .unwrap();
    assert_eq!((lens.kind, lens.focal_length), (Some(LensKind::Zoom), None));
    assert_eq!(lens.extras, [extra("focal-length-max", 76.0, "mm")]);
}

#[test]
fn facts_of_a_take_find_their_fields() {
    let (take, remarks) = take_of(vec![
        text("frame-rate", "24000/1001"),
        text("capture-rate", "48"),
        text("counting", "drop-frame"),
        number("sensor-width", 24.89, "mm"),
        number("sensor-height", 18_660.0, "um"),
        number("resolution-width", 4096.0, ""),
        number("resolution-height", 3072.0, ""),
        number("iris-encoder-low", 900.0, "count"),
        number("iris-encoder-high", 100.0, ""),
    ])
    .unwrap();
    assert_eq!(remarks, []);
    assert_eq!(take.frame_rate.unwrap().to_string(), "24000/1001");
    assert_eq!(take.capture_rate.unwrap().as_f64(), 48.0);
    assert_eq!(take.counting, Some(CountingMode::DropFrame));
    assert_eq!(take.sensor_mm, Some((24.89, 18.66)));
    assert_eq!(take.resolution, Some((4096, 3072)));
    let range = take.encoder(Axis::Iris).unwrap();
    assert_eq!((range.low, range.high), (900.0, 100.0));
    assert_eq!(take.encoders.len(), 1);
}

#[test]
fn encoder_limits_are_counts_or_degrees() {
    refused(
        take_of(vec![number("focus-encoder-low", 1.0, "mm")]),
        "focus-encoder-low is in millimetres",
        "count or deg",
    );
    refused(
        take_of(vec![number("focus-encoder-low", 1.0, "ticks")]),
        "has the unit 'ticks'",
        "count would do",
    );
}

#[test]
fn extras_are_kept_as_they_are() {
    let json = RawFact {
        unit: "json".to_owned(),
        ..text("extra/rig", "{\"arm\":2}")
    };
    let (take, _) = take_of(vec![
        json,
        text("extra/clip", "not the clip"),
        number("extra/filter", 0.6, "furlong"),
        number("extra/unknown", NAN, ""),
    ])
    .unwrap();
    assert_eq!(take.clip, None);
    let texts = |form, text: &str| ExtraValue::Text(form, text.to_owned());
    assert_eq!(take.extras[0].value, texts(TextForm::Json, "{\"arm\":2}"));
    assert_eq!(take.extras[1].value, texts(TextForm::Text, "not the clip"));
    assert_eq!(take.extras[2], extra("filter", 0.6, "furlong"));
    let ExtraValue::Number(unknown, _) = take.extras[3].value else {
        panic!("a number")
    };
    assert!(unknown.is_nan());
    let in_feet = RawFact {
        unit: "ft".to_owned(),
        ..text("extra/height", "about 6")
    };
    refused(take_of(vec![in_feet]), "form 'ft'", "text, json or hex");
}

fn table(facts: Vec<RawFact>, columns: Vec<ringmark_model::raw::RawColumn>) -> RawLens {
    RawLens {
        tables: vec![RawTable {
            name: "pupil".to_owned(),
            facts,
            columns,
        }],
        ..RawLens::default()
    }
}

#[test]
fn tables_follow_the_rules_of_columns() {
    let (lens, _) = read_lens(table(
        vec![],
        vec![
            from("front-vertex", column("focus-distance", "ft", &[5.0, INF])),
            column("near-limit", "m", &[1.0, NAN]),
            column("entrance-pupil-offset", "m", &[0.091, 0.09]),
            column("focus-ring-raw", "deg", &[12.0, 13.0]),
            column("extra/shift", "furlong", &[1.0, 2.0]),
        ],
    ))
    .unwrap();
    let columns = &lens.tables[0].columns;
    assert_eq!(columns[0].values, [1.524, INF]);
    let head = &columns[0].head;
    assert_eq!(head.reference, Some(DistanceReference::FrontVertex));
    assert_eq!((head.unit.as_str(), head.origin), ("m", Origin::Converted));
    assert_eq!(head.source_unit.as_deref(), Some("ft"));
    assert_eq!(
        columns[1].head.reference,
        Some(DistanceReference::Unstated),
        "said nothing"
    );
    assert_eq!(columns[2].values, [91.0, 90.0]);
    assert_eq!(columns[3].values, [12.0, 13.0]);
    assert_eq!(columns[4].head.unit, "furlong");
    for (wrong, message) in [
        (column("timecode", "", &[1.0]), "which holds texts"),
        (column("pupil", "mm", &[1.0]), "the channel 'pupil'"),
        (column("focus-distance", "", &[1.0]), "has no unit"),
    ] {
        refused(read_lens(table(vec![], vec![wrong])), message, "");
    }
    let twice = vec![column("t-stop", "", &[1.0]), column("t-stop", "", &[1.0])];
    refused(
        read_lens(table(vec![], twice)),
        "'t-stop' twice in one table",
        "author of the plugin",
    );
}

#[test]
fn what_is_said_about_a_table_or_ring_goes_to_the_extras_of_the_lens() {
    let mut raw = table(vec![number("extra/aperture", 2.0, "T")], vec![]);
    let facts = vec![
        text("extra/drive", "cam"),
        number("encoder-low", 3.0, "count"),
    ];
    raw.rings.push(ring("iris", ("0..1", "T"), facts, vec![]));
    let (lens, _) = read_lens(raw).unwrap();
    let drive = Extra {
        name: "iris/drive".to_owned(),
        value: ExtraValue::Text(TextForm::Text, "cam".to_owned()),
    };
    let expected = [
        drive,
        extra("iris-encoder-low", 3.0, "count"),
        extra("pupil/aperture", 2.0, "T"),
    ];
    assert_eq!(lens.extras, expected);
    refused(
        read_lens(table(vec![number("squeeze", 2.0, "")], vec![])),
        "'squeeze', which has no place here",
        "'extra/squeeze'",
    );
}

#[test]
fn every_fact_of_the_registry_has_a_field() {
    for info in FACTS {
        let fact = match (info.kind, info.name) {
            (FactKind::Number(unit), name) => number(name, 2.0, unit.symbol()),
            (FactKind::Rate, name) => text(name, "25"),
            (_, "lens-kind") => text(info.name, "prime"),
            (_, "counting") => text(info.name, "non-drop"),
            (_, "reference" | "close-focus-reference") => text(info.name, "image-plane"),
            (_, name) => text(name, "some text"),
        };
        let said = match &fact.value {
            RawDatum::Text(text) => text.clone(),
            RawDatum::Number(_) => String::new(),
        };
        let written = match info.owner {
            Owner::Lens => {
                let (mut lens, remarks) = lens_of(vec![fact]).unwrap();
                assert_eq!(remarks, []);
                lens.places.clear();
                assert_ne!(lens, Default::default(), "{}", info.name);
                format!("{lens:?}")
            }
            Owner::Take => {
                let (mut take, remarks) = take_of(vec![fact]).unwrap();
                assert_eq!(remarks, []);
                take.places.clear();
                assert_ne!(take, Default::default(), "{}", info.name);
                format!("{take:?}")
            }
            Owner::Ring => {
                let read = |facts| read_ring(ring("focus", ("0..1", "m"), facts, vec![])).unwrap();
                assert_ne!(read(vec![fact]), read(vec![]), "{}", info.name);
                continue;
            }
        };
        if said == "some text" {
            assert!(written.contains("some text"), "{}", info.name);
        }
    }
    assert!(
        FACTS
            .iter()
            .any(|f| f.kind == FactKind::Number(Unit::Count))
    );
}
