//! Damaged and odd files: a clear error with its place, or a remark.

#![allow(clippy::unwrap_used)]

mod common;

use common::{checks, data, read, read_until_failure, remarks, stage, take, text};
use ringmark_sdk::{Input, Reader};
use ringmark_usd_camera::StageReader;

/// The failure of a file, and what stands at its place.
fn refused(bytes: &[u8]) -> (String, String, String) {
    let (_, failure) = read_until_failure(bytes);
    let failure = failure.unwrap();
    let at = failure.at.unwrap();
    let rest = &bytes[at.offset as usize..];
    let found = String::from_utf8_lossy(&rest[..rest.len().min(at.length as usize)]);
    assert!(!failure.help.is_empty());
    (failure.message, failure.help, found.into_owned())
}

#[test]
fn a_file_that_is_cut_off() {
    let bytes = data("usda_truncated.usda");
    let (_, failure) = read_until_failure(&bytes);
    let failure = failure.unwrap();
    assert_eq!(failure.at.unwrap().offset as usize, bytes.len());
    assert!(failure.help.contains("cut off"), "{}", failure.help);
}

#[test]
fn a_byte_that_is_no_utf8() {
    let bytes = data("usda_invalid_utf8.usda");
    let (_, failure) = read_until_failure(&bytes);
    let failure = failure.unwrap();
    let bad = std::str::from_utf8(&bytes).unwrap_err().valid_up_to();
    assert_eq!(failure.at.unwrap().offset as usize, bad);
    assert!(failure.message.contains("no UTF-8"), "{}", failure.message);
}

#[test]
fn numbers_in_an_attribute_of_texts() {
    let (message, _, found) = refused(&data("usda_wrong_type.usda"));
    assert!(message.contains("expected a text"), "{message}");
    assert_eq!(found, "32.576");
    // Legal text, but not what the schema has.
    let items = read(stage("", "string focalLength = \"32\"").as_bytes()).unwrap();
    assert!(checks(&items).contains(&"wrong-type".to_owned()));
    assert!(!take(&items).columns.contains_key("pinhole-focal-length"));
}

#[test]
fn nan_and_infinity_as_focal_length() {
    let items = read(&data("usda_nan_inf.usda")).unwrap();
    let values = take(&items).numbers("pinhole-focal-length");
    assert!(values[0].is_nan() && values[1] == f64::INFINITY);
    let told = remarks(&items);
    let place = |check: &str| {
        let remark = told.iter().find(|r| r.check == check).unwrap();
        assert_eq!(remark.severity, "error");
        remark.at.as_ref().unwrap().offset as usize
    };
    let file = text("usda_nan_inf.usda");
    assert_eq!(place("value-not-a-number"), file.find("1001: nan").unwrap());
    assert_eq!(place("value-infinite"), file.find("1002: inf").unwrap());
}

#[test]
fn another_first_line() {
    let file = text("rack_cm.usda");
    for (from, to, says) in [
        ("#usda 1.0", "#usdz 1.0", "does not begin with"),
        ("#usda 1.0", "#usda 2.0", "version 2.0"),
        ("#usda 1.0", "PXR-USDC\0\u{8}", "binary OpenUSD file"),
        ("#usda 1.0", "PK\u{3}\u{4}", "zip file"),
        ("#usda 1.0", "", "does not begin with"),
    ] {
        let (message, help, _) = refused(file.replace(from, to).as_bytes());
        assert!(message.contains(says), "{message}");
        if to.starts_with('P') {
            assert!(help.contains("usdcat"), "{help}");
        }
    }
}

#[test]
fn a_time_code_that_is_no_number() {
    for wrong in ["x1003", "\"1003\"", "inf", "nan", "None"] {
        let file = text("rack_cm.usda").replacen("1003:", &format!("{wrong}:"), 1);
        let (message, _, found) = refused(file.as_bytes());
        assert!(message.contains("time code"), "{message}");
        assert_eq!(found, wrong);
    }
}

#[test]
fn keys_out_of_order_are_sorted() {
    let good = text("rack_cm.usda");
    let file = good.replacen("1003: 32.573418", "1004: 32.57027", 1);
    let file = file.replacen(
        "1004: 32.57027,\n            1005",
        "1003: 32.573418,\n            1005",
        1,
    );
    assert_ne!(file, good);
    let items = read(file.as_bytes()).unwrap();
    assert_eq!(take(&items), take(&read(good.as_bytes()).unwrap()));
    assert!(checks(&items).contains(&"samples-out-of-order".to_owned()));
    // Of samples at one time the last holds, as in the reference library.
    let file = stage("", "float fStop.timeSamples = {1: 2, 3: 8, 2: 4, 2: 5.6}");
    let items = read(file.as_bytes()).unwrap();
    let values = take(&items).numbers("f-number");
    assert_eq!(values, [2.0, f64::from(5.6_f32), 8.0]);
}

#[test]
fn other_grammar_the_reference_refuses() {
    // usd-core 26.11 refuses each of these.
    for wrong in [
        "float focalLength = 1 float fStop = 2",
        "float focalLength.timeSamples = {1: 1 2: 2}",
        "float focalLength.timeSamples = {1: 1; 2: 2}",
        "float focalLength = true",
        "float focalLength = \"1\"",
        "float \"focalLength\" = 1",
        "float focal-length = 1",
        "float focalLength = NaN",
        "float focalLength = +5",
        "custom string s = \"a\nb\"",
    ] {
        let (_, failure) = read_until_failure(stage("", wrong).as_bytes());
        assert!(failure.unwrap().at.is_some(), "{wrong}");
    }
    // And takes these.
    for right in [
        "float focalLength = 1; float fStop = 2",
        "float  focalLength . timeSamples = {1:1}",
        "float focalLength = 1 // hi\n/* a \n b */",
        "custom string s = '''a\nb'''",
        "rel x = </c>",
        "prepend rel x = [</c>, </d>]",
        "float focalLength = 1 ( doc = \"x\" )",
        "custom float2[] f = [(1, 2), (3, 4),]",
        "reorder properties = [\"a\"]",
        "float focalLength = None",
    ] {
        assert!(read(stage("", right).as_bytes()).is_ok(), "{right}");
    }
}

#[test]
fn cut_at_every_byte() {
    let file = text("two_cameras_block.usda");
    let end = file.trim_end().len();
    for length in 0..end {
        let (_, failure) = read_until_failure(&file.as_bytes()[..length]);
        // A cut between prims, or before the digits of a version, leaves a whole file.
        if let Some(failure) = failure {
            assert!(failure.at.unwrap().offset as usize <= length, "{length}");
        } else {
            assert!(file[..length].ends_with(['}', '\n']), "{length}");
        }
    }
}

#[test]
fn a_flipped_bit_ends_or_reads() {
    for name in ["two_cameras_block.usda", "sparse_keys.usda"] {
        let bytes = data(name);
        for at in 0..bytes.len() {
            for bit in [0, 2, 4, 5, 7] {
                let mut damaged = bytes.clone();
                damaged[at] ^= 1 << bit;
                let (items, failure) = read_until_failure(&damaged);
                assert!(failure.is_some() || !items.is_empty());
            }
        }
    }
}

#[test]
fn nesting_without_end_is_refused() {
    for open in ["def \"a\" { ", "int[] a = [", "("] {
        let text = format!("#usda 1.0\ndef Camera \"c\" {{ {}", open.repeat(200_000));
        let (_, failure) = read_until_failure(text.as_bytes());
        assert!(failure.is_some(), "{open}");
    }
}

#[test]
fn a_range_without_samples_is_not_believed() {
    for (start, end) in [("0", "1e9"), ("-1e300", "1e300"), ("0", "9e18")] {
        let metadata = format!("startTimeCode = {start}\nendTimeCode = {end}");
        let file = stage(&metadata, "float fStop = 2");
        let (message, _, _) = refused(file.as_bytes());
        assert!(
            message.contains("more than this file has samples for"),
            "{message}"
        );
    }
    let file = stage(
        "startTimeCode = 5\nendTimeCode = 1",
        "float fStop.timeSamples = {1: 2, 2: 4}",
    );
    let items = read(file.as_bytes()).unwrap();
    assert_eq!(take(&items).frames, 2);
    assert!(checks(&items).contains(&"range-backwards".to_owned()));
}

#[test]
fn what_is_kept_aside_by_another_version_is_refused() {
    let file = "#usda 1.0\ndef Camera \"c\" ( customData = { dictionary ringmark = { int version = 2\n } }\n) { }\n";
    let (message, _, _) = refused(file.as_bytes());
    assert!(message.contains("version 2"), "{message}");
}

#[test]
fn a_byte_order_mark() {
    let file = format!("\u{feff}{}", text("rack_cm.usda"));
    let items = read(file.as_bytes()).unwrap();
    assert_eq!(checks(&items)[0], "byte-order-mark");
    assert_eq!(take(&items), take(&read(&data("rack_cm.usda")).unwrap()));
}

/// Samples without end, made as they are asked for.
struct Endless;

impl Input for Endless {
    fn name(&self) -> String {
        "long.usda".into()
    }
    fn size(&self) -> u64 {
        1 << 40
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        assert!(offset < 20 << 20, "read on to {offset}");
        let head = b"#usda 1.0\ndef Camera \"c\" { custom string s = \"";
        let mut bytes = vec![b'x'; length as usize];
        if offset == 0 {
            bytes[..head.len().min(length as usize)]
                .copy_from_slice(&head[..head.len().min(length as usize)]);
        }
        bytes
    }
}

#[test]
fn a_text_of_a_terabyte_is_refused() {
    let failure = StageReader::open(vec![Box::new(Endless)], "{}")
        .err()
        .unwrap();
    assert!(
        failure.message.contains("longer than 16 MiB"),
        "{}",
        failure.message
    );
}
