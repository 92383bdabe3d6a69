//! Files by independent writers, and what two independent readers see in them.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Flat, Val, checks, data, flat, packet, packet_with, read, tiff};
use ringmark_sdk::Item;
use serde_json::Value;

fn expected(name: &str) -> serde_json::Map<String, Value> {
    let json: Value = serde_json::from_slice(&data(name)).unwrap();
    json["files"].as_object().unwrap().clone()
}

/// Compares a number with what is expected of it: a number, null, or words for what is none.
fn assert_number(found: f64, wanted: &Value, what: &str) {
    match wanted {
        Value::Null => assert!(found.is_nan(), "{what}: {found}"),
        Value::Number(number) => assert_eq!(found, number.as_f64().unwrap(), "{what}"),
        Value::String(words) if words.contains("infinity") => {
            assert_eq!(found, f64::INFINITY, "{what}");
        }
        Value::String(words) => {
            assert!(
                words.starts_with("unknown") || words.starts_with("undefined"),
                "{words}"
            );
            assert!(found.is_nan(), "{what} is {words}: {found}");
        }
        other => panic!("{what}: {other}"),
    }
}

fn fact_number(flat: &Flat, name: &str) -> f64 {
    let text = flat.fact(name).unwrap_or("NaN");
    text.split(' ').next().unwrap().parse().unwrap()
}

/// Compares everything that is expected of a file.
fn assert_expected(file: &str, items: &[Item], expect: &Value) {
    let flat = flat(items);
    let told = checks(items);
    for (key, wanted) in expect.as_object().unwrap() {
        let what = format!("{file} {key}");
        match key.as_str() {
            "f_number" => assert_number(flat.number("f-number"), wanted, &what),
            "aperture_value_apex" => {
                assert_number(flat.number("extra/exif:ApertureValue"), wanted, &what);
            }
            // The f-number of the aperture value is delivered only in place of FNumber.
            "aperture_value_as_f_number" => {}
            "max_aperture_as_f_number" => {
                let found = fact_number(&flat, "widest-f-number");
                assert_number(found, wanted, &what);
            }
            "focal_length_mm" => assert_number(flat.number("nominal-focal-length"), wanted, &what),
            "focal_length_35mm_mm" => {
                assert_number(flat.number("equivalent-focal-length"), wanted, &what);
            }
            "subject_distance_m" => {
                assert_number(flat.number("focus-distance"), wanted, &what);
                let words = wanted.as_str().unwrap_or_default();
                let clamped = told.iter().any(|check| check == "infinity-clamped");
                assert_eq!(clamped, words.contains("clamped"), "{what}");
                let undefined = told.iter().any(|check| check == "rational-undefined");
                let zero_over_zero = flat.number("f-number").is_nan();
                assert_eq!(
                    undefined,
                    words.contains("undefined") || zero_over_zero,
                    "{what}"
                );
            }
            "lens_specification" => {
                for (part, name) in [
                    ("min_focal_mm", "focal-length-min"),
                    ("max_focal_mm", "focal-length-max"),
                    (
                        "min_f_at_min_focal",
                        "extra/widest-f-number-at-focal-length-min",
                    ),
                    (
                        "min_f_at_max_focal",
                        "extra/widest-f-number-at-focal-length-max",
                    ),
                ] {
                    let found = fact_number(&flat, name);
                    assert_number(found, &wanted[part], &format!("{what} {part}"));
                }
            }
            "lens_make" | "lens_model" | "lens_serial" => {
                let name = match key.as_str() {
                    "lens_make" => "lens-maker",
                    "lens_model" => "lens-model",
                    _ => "lens-serial",
                };
                let text = wanted.as_str().unwrap();
                assert_eq!(flat.get(name).unwrap(), format!("{text} [text]"), "{what}");
                assert_eq!(flat.fact(name).unwrap(), format!("{text:?} []"), "{what}");
            }
            "exposure_time_s" => assert_number(flat.number("exposure-time"), wanted, &what),
            "iso" => assert_number(flat.number("sensitivity"), wanted, &what),
            "byte_order" => {}
            // That the focal length is outside of the lens is for the program's own check.
            "flags" => assert!(
                told.iter().any(|check| check == "apertures-disagree"),
                "{what}"
            ),
            other => panic!("not compared: {other}"),
        }
    }
}

#[test]
fn files_of_other_writers() {
    for (table, files) in [
        (
            "exif.expected.json",
            &["prime.jpg", "prime.tif", "unknown_values.jpg"],
        ),
        (
            "xmp.expected.json",
            &["prime.xmp", "inconsistent.xmp", "infinity_exact.xmp"],
        ),
    ] {
        let expected = expected(table);
        for file in files {
            let items = read(file, &data(file)).unwrap();
            assert_expected(file, &items, &expected[*file]["expect"]);
        }
    }
}

/// Tag and type of the items that the table of raw values names.
fn field(name: &str, raw: &str) -> (u16, Val) {
    let ratios = || {
        let parse = |text: &str| {
            let (n, d) = text.split_once('/').unwrap();
            (n.parse().unwrap(), d.parse().unwrap())
        };
        Val::Ratio(raw.split(' ').map(parse).collect())
    };
    let text = || Val::Ascii(Box::leak(raw.to_owned().into_boxed_str()));
    match name {
        "FNumber" => (0x829d, ratios()),
        "ApertureValue" => (0x9202, ratios()),
        "MaxApertureValue" => (0x9205, ratios()),
        "SubjectDistance" => (0x9206, ratios()),
        "FocalLength" => (0x920a, ratios()),
        "FocalLengthIn35mmFilm" => (0xa405, Val::Short(vec![raw.parse().unwrap()])),
        "LensSpecification" => (0xa432, ratios()),
        "LensMake" => (0xa433, text()),
        "LensModel" => (0xa434, text()),
        "LensSerialNumber" => (0xa435, text()),
        other => panic!("{other}"),
    }
}

#[test]
fn raw_values_of_all_reference_files_in_both_byte_orders() {
    for (file, entry) in expected("exif.expected.json") {
        let raw = entry["raw_rationals"].as_object().unwrap();
        let fields: Vec<_> = raw
            .iter()
            .map(|(k, v)| field(k, v.as_str().unwrap()))
            .collect();
        let mut expect = entry["expect"].clone();
        // Not among the raw values.
        expect
            .as_object_mut()
            .unwrap()
            .retain(|key, _| !["exposure_time_s", "iso"].contains(&key.as_str()));
        for big in [false, true] {
            let items = read("x.tif", &tiff(big, &[], &fields)).unwrap();
            assert_expected(&file, &items, &expect);
        }
    }
}

#[test]
fn raw_values_of_all_reference_sidecars_as_elements_and_as_attributes() {
    for (file, entry) in expected("xmp.expected.json") {
        let (mut elements, mut attributes, mut lists) =
            (String::new(), String::new(), String::new());
        for (key, value) in entry["raw"].as_object().unwrap() {
            let name = key.strip_prefix("Xmp.").unwrap().replacen('.', ":", 1);
            let value = value.as_str().unwrap();
            if value.contains(", ") || name == "exif:ISOSpeedRatings" {
                let items = value
                    .split(", ")
                    .map(|item| format!("<rdf:li>{item}</rdf:li>"));
                let items: String = items.collect();
                lists.push_str(&format!("<{name}><rdf:Seq>{items}</rdf:Seq></{name}>"));
            } else {
                elements.push_str(&format!("<{name}>{value}</{name}>"));
                attributes.push_str(&format!(" {name}='{value}'"));
            }
        }
        for text in [
            packet(&format!("{elements}{lists}")),
            packet_with(&attributes, &lists),
        ] {
            let items = read("x.xmp", text.as_bytes()).unwrap();
            assert_expected(&file, &items, &entry["expect"]);
        }
    }
}

#[test]
fn camera_size_and_the_rest_of_a_reference_file() {
    let found = flat(&read("prime.0007.jpg", &data("prime.jpg")).unwrap());
    assert_eq!(
        found.fact("camera-maker"),
        Some("\"Fjordlys (fictional)\" []")
    );
    assert_eq!(found.fact("camera-model"), Some("\"K1 Testbench\" []"));
    assert_eq!(found.fact("camera-serial"), Some("\"K1-00017\" []"));
    assert_eq!(found.fact("clip"), Some("\"prime\" []"));
    assert_eq!(found.number("frame"), 7.0);
    assert_eq!(found.get("source-file"), Some("prime.0007.jpg [text]"));
    assert_eq!(found.get("focus-distance"), Some("2.75 [m unstated]"));
    assert_eq!(found.get("extra/exif:ExifVersion"), Some("0232 [text]"));
    // 222.2222 pixels a centimetre, as the sidecars have it too.
    let sidecar = flat(&read("prime.xmp", &data("prime.xmp")).unwrap());
    assert_eq!(sidecar.number("extra/exif:FocalPlaneXResolution"), 222.2222);
    assert_eq!(sidecar.number("extra/exif:FocalPlaneResolutionUnit"), 3.0);
    assert_eq!(sidecar.number("sensitivity"), 800.0);
    assert_eq!(sidecar.get("extra/tiff:XResolution"), Some("72/1 [text]"));
}
