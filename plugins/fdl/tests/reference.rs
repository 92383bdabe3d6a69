//! Lists built by the standard's own library, and each rule of reading.

#![allow(clippy::unwrap_used)]

mod common;

use common::{data, facts, read, remarks, shown};
use ringmark_sdk::Item;

#[test]
fn each_recorded_canvas_is_a_lens_and_a_take() {
    let items = read(&data("two_cameras.fdl")).unwrap();
    assert!(remarks(&items).is_empty());
    let (lenses, takes) = facts(&items);
    assert_eq!(lenses.len(), 2);
    assert_eq!(shown(lenses[0]), ["squeeze 1.8"]);
    assert_eq!(shown(lenses[1]), ["squeeze 1"]);
    assert_eq!(
        shown(takes[0]),
        [
            "clip 'A017C003'",
            "extra/context-label 'A camera, anamorphic' text",
            "extra/canvas-label '4:3 open gate' text",
            "extra/canvas-id 'A1' text",
            "sensor-width 36.7 mm",
            "sensor-height 25.54 mm",
            "resolution-width 4448",
            "resolution-height 3096",
            "extra/effective-width 4096",
            "extra/effective-height 3000",
            "extra/photosite-width 4448",
            "extra/photosite-height 3096",
        ]
    );
    assert_eq!(
        shown(takes[1]),
        [
            "extra/context-label 'B camera, spherical' text",
            "extra/canvas-id 'B1' text",
            "resolution-width 5760",
            "resolution-height 3240",
        ]
    );
    let lens_of: Vec<_> = items
        .iter()
        .filter_map(|item| match item {
            Item::Take(take) => take.lens,
            _ => None,
        })
        .collect();
    assert_eq!(lens_of, [0, 1]);
}

#[test]
fn every_fact_names_its_bytes() {
    let bytes = data("two_cameras.fdl");
    let items = read(&bytes).unwrap();
    let (lenses, takes) = facts(&items);
    let squeeze = lenses[0][0].at.clone().unwrap();
    assert_eq!(squeeze.field, "contexts[0].canvases[0].anamorphic_squeeze");
    for fact in lenses.iter().chain(&takes).copied().flatten() {
        let at = fact.at.clone().unwrap();
        let stands = &bytes[at.offset as usize..][..at.length as usize];
        let shown = match &fact.value {
            ringmark_sdk::Datum::Number(number) => {
                let text = std::str::from_utf8(stands).unwrap();
                text.parse::<f64>().unwrap() == *number
            }
            ringmark_sdk::Datum::Text(text) => stands == format!("\"{text}\"").as_bytes(),
        };
        assert!(shown, "{fact:?}");
    }
}

/// The default of the published schema, and what the library gives for such a canvas.
#[test]
fn a_canvas_without_a_squeeze_is_spherical() {
    let items = read(&data("least.fdl")).unwrap();
    assert!(remarks(&items).is_empty());
    let (lenses, takes) = facts(&items);
    assert_eq!(shown(lenses[0]), ["squeeze 1"]);
    assert_eq!(
        shown(takes[0]),
        [
            "extra/canvas-id 'c' text",
            "resolution-width 1920",
            "resolution-height 1080"
        ]
    );
}

/// The squeeze of a derived canvas is that of a picture made from the recording.
#[test]
fn a_derived_canvas_says_nothing_of_the_lens() {
    let list = |canvases: &str| {
        format!(
            "{{\"version\":{{\"major\":2,\"minor\":0}},\"contexts\":[{{\"canvases\":[{canvases}]}}]}}"
        )
    };
    let derived = "{\"id\":\"b\",\"source_canvas_id\":\"a\",\"anamorphic_squeeze\":1}";
    let items = read(list(derived).as_bytes()).unwrap();
    let checks: Vec<_> = remarks(&items).iter().map(|r| &*r.check).collect();
    assert_eq!(checks, ["source-canvas-missing", "no-canvas"]);
    assert_eq!(items.len(), 2);
    let recorded = "{\"id\":\"a\",\"source_canvas_id\":\"a\",\"anamorphic_squeeze\":2}";
    for order in [[derived, recorded], [recorded, derived]] {
        let items = read(list(&order.join(",")).as_bytes()).unwrap();
        assert!(remarks(&items).is_empty());
        assert_eq!(shown(facts(&items).0[0]), ["squeeze 2"]);
        assert_eq!(facts(&items).0.len(), 1);
    }
}

#[test]
fn a_list_without_canvases_says_so() {
    for text in [
        "{\"version\":{\"major\":2,\"minor\":0},\"framing_intents\":[]}",
        "{\"version\":{\"major\":1,\"minor\":0},\"contexts\":null}",
        "{\"version\":{\"major\":1,\"minor\":0},\"contexts\":[{}]}",
    ] {
        let items = read(text.as_bytes()).unwrap();
        assert_eq!(items.len(), 1);
        assert_eq!(remarks(&items)[0].check, "no-canvas");
        assert_eq!(remarks(&items)[0].severity, "note");
    }
}
