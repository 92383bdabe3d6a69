//! Stages as other programs write them: what is read of them, and what is told.

#![allow(clippy::unwrap_used)]

mod common;

use common::{checks, read, remarks, stage, take, text};

#[test]
fn attributes_of_other_programs_are_extras() {
    let file = stage(
        "startTimeCode = 1\nendTimeCode = 2",
        r#"custom float shop:tStop = 2
custom string shop:note.timeSamples = { 1: 'a', 2: """b""" }
custom int shop:count.timeSamples = { 1: 3, 2: 4, }
uniform token stereoRole = "left"
token projection = "orthographic"
float exposure:fStop = 4
custom float2 shop:pair = (1, 2)
custom string[] shop:list = ["a", "b"]"#,
    );
    let items = read(file.as_bytes()).unwrap();
    let take = take(&items);
    for fact in [
        "extra/shop:tStop = 2.0 []",
        "extra/stereoRole = \"left\" []",
        "extra/projection = \"orthographic\" []",
        "extra/exposure:fStop = 4.0 []",
    ] {
        assert!(take.has(fact), "{fact} in {:?}", take.facts);
    }
    assert!(!take.columns.contains_key("f-number"));
    assert_eq!(take.numbers("extra/shop:count"), [3.0, 4.0]);
    assert_eq!(
        take.columns["extra/shop:note"].values,
        [Some("a".into()), Some("b".into())]
    );
    let told = remarks(&items);
    assert!(told.iter().any(|r| r.check == "camera-orthographic"));
    assert!(
        told.iter()
            .any(|r| r.message.ends_with("shop:pair, shop:list"))
    );
}

#[test]
fn values_from_elsewhere_are_told() {
    let head = "#usda 1.0\n(\n    subLayers = [@./base.usda@ (offset = 10)]\n)\n";
    let file = format!(
        "{head}def Xform \"set\" (\n    prepend references = @set.usd@</Set> (offset = 1)\n)\n{{\n}}\n\
         def Xform \"rig\" (\n    payload = @rig.usd@\n    variants = {{\n        string look = \"a\"\n    }}\n    prepend variantSets = \"look\"\n)\n{{\n    \
         def Camera \"c\"\n    {{\n        float focalLength = 35\n        float fStop.connect = </x.y>\n        double focusDistance.spline = {{\n            bezier,\n            1: 5; pre (0, 0),\n        }}\n    }}\n    \
         variantSet \"look\" = {{\n        \"a\" {{\n            over \"c\" {{\n                float focalLength = 50\n            }}\n        }}\n    }}\n}}\n"
    );
    let items = read(file.as_bytes()).unwrap();
    assert_eq!(take(&items).numbers("pinhole-focal-length"), [35.0]);
    let told = checks(&items);
    let count = |check: &str| told.iter().filter(|c| *c == check).count();
    assert_eq!(count("other-layers-not-read"), 3, "{told:?}");
    assert_eq!(count("variants-not-read"), 1, "{told:?}");
    assert_eq!(count("values-not-read"), 2, "{told:?}");
}

#[test]
fn only_cameras_on_the_stage_are_takes() {
    let file = "#usda 1.0\nclass Camera \"pattern\" { }\nover \"a\" { def Camera \"b\" {} }\ndef \"off\" (active = false) { def Camera \"c\" {} }\ndef Scope \"s\" { def Camera \"d\" { float fStop = 2 } }\n";
    let items = read(file.as_bytes()).unwrap();
    assert!(take(&items).has("clip = \"/s/d\" []"));
    assert!(checks(&items).contains(&"camera-not-on-stage".to_owned()));
    let none = read(b"#usda 1.0\ndef Xform \"a\" { double3 xformOp:translate = (1, 2, 3) }\n");
    assert!(none.unwrap_err().message.contains("no Camera prim"));
}

#[test]
fn a_film_back_that_changes_is_no_fact() {
    let file = stage("", "float horizontalAperture.timeSamples = {1: 20, 2: 24}");
    let items = read(file.as_bytes()).unwrap();
    assert_eq!(
        take(&items).numbers("extra/horizontalAperture"),
        [20.0, 24.0]
    );
    assert!(checks(&items).contains(&"film-back-changes".to_owned()));
}

#[test]
fn line_ends_and_comments_change_nothing() {
    let good = text("rack_cm.usda");
    let plain = take(&read(good.as_bytes()).unwrap());
    for other in [
        good.replace('\n', "\r\n"),
        good.replace(",\n", ", # a comment: 1, 2 }\n"),
        good.replace(": ", " : "),
        good.replace("            10", "\t/* x */10"),
    ] {
        assert_ne!(other, good);
        assert_eq!(take(&read(other.as_bytes()).unwrap()), plain);
    }
}
