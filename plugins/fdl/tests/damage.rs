//! Damaged lists: an error with its place, or a remark and everything else.

#![allow(clippy::unwrap_used)]

mod common;

use common::{data, facts, read, remarks, shown};
use proptest::prelude::*;
use ringmark_fdl::ListReader;
use ringmark_sdk::native::MemoryInput;
use ringmark_sdk::{Input, Reader};

#[test]
fn what_is_no_list_is_refused() {
    for (text, offset, says) in [
        ("", 0, "cut off"),
        ("frame,focus\n1,2", 1, "no JSON"),
        ("[1]", 0, "a list, not an object"),
        ("{\"contexts\": {}}", 13, "contexts is an object"),
        ("{\"contexts\": []} x", 17, "no JSON"),
        ("{\"contexts\": [\u{7}]}", 14, "no JSON"),
    ] {
        let failure = read(text.as_bytes()).unwrap_err();
        assert!(failure.message.contains(says), "{}", failure.message);
        assert_eq!(failure.at.unwrap().offset, offset, "{text}");
    }
}

#[test]
fn a_byte_that_is_no_utf8() {
    let failure = read(b"{\"uuid\": \"\xff\"}").unwrap_err();
    let at = failure.at.unwrap();
    assert_eq!((at.offset, at.length), (10, 1));
}

#[test]
fn defects_are_told_and_the_rest_is_read() {
    for (text, check, offset) in [
        // A squeeze as text, as several programs write numbers.
        (
            "{\"id\":\"c\",\"dimensions\":{\"width\":10},\"anamorphic_squeeze\":\"2.0\"}",
            "wrong-type",
            57,
        ),
        (
            "{\"id\":\"c\",\"dimensions\":{\"width\":10},\"physical_dimensions\":3}",
            "wrong-type",
            58,
        ),
        (
            "{\"id\":\"c\",\"dimensions\":{\"width\":10},\"anamorphic_squeeze\":1e999}",
            "wrong-type",
            57,
        ),
        (
            "{\"id\":\"c\",\"id\":\"c\",\"dimensions\":{\"width\":10}}",
            "duplicate-key",
            6,
        ),
        (
            "{\"id\":\"c\",\"dimensions\":{\"width\":10}},{\"id\":\"c\"}",
            "canvas-id-repeated",
            43,
        ),
    ] {
        let before = "{\"version\":{\"major\":2,\"minor\":0},\"contexts\":[{\"canvases\":[";
        let list = format!("{before}{text}]}}]}}");
        let items = read(list.as_bytes()).unwrap();
        let told = remarks(&items);
        assert_eq!(told.len(), 1, "{text}: {told:?}");
        assert_eq!((&*told[0].check, &*told[0].severity), (check, "error"));
        let at = told[0].at.clone().unwrap();
        assert_eq!(at.offset as usize, before.len() + offset, "{text}");
        let (_, takes) = facts(&items);
        assert!(shown(takes[0]).contains(&"resolution-width 10".to_owned()));
    }
}

#[test]
fn versions_that_are_not_known_are_told() {
    for (version, check) in [
        ("", "version-missing"),
        ("\"version\":{\"major\":2,\"minor\":1},", "version-unknown"),
        ("\"version\":\"2.0\",", "wrong-type"),
    ] {
        let list = format!("{{{version}\"contexts\":[{{\"canvases\":[{{}}]}}]}}");
        let items = read(list.as_bytes()).unwrap();
        assert_eq!(remarks(&items)[0].check, check);
        assert_eq!(facts(&items).1.len(), 1);
    }
}

#[test]
fn a_byte_order_mark_moves_the_places() {
    let mut bytes = b"\xef\xbb\xbf".to_vec();
    bytes.extend(data("two_cameras.fdl"));
    let items = read(&bytes).unwrap();
    assert_eq!(remarks(&items)[0].check, "byte-order-mark");
    let squeeze = facts(&items).0[0][0].at.clone().unwrap();
    let end = (squeeze.offset + squeeze.length) as usize;
    assert_eq!(&bytes[squeeze.offset as usize..end], b"1.8");
}

#[test]
fn a_long_text_is_no_label() {
    let list = format!(
        "{{\"version\":{{\"major\":2,\"minor\":0}},\"contexts\":[{{\"label\":\"{}\",\"canvases\":[{{}},{{}}]}}]}}",
        "x".repeat(1025)
    );
    let items = read(list.as_bytes()).unwrap();
    let told = remarks(&items);
    assert_eq!((told.len(), &*told[0].check), (1, "text-too-long"));
}

/// Length of a file that never ends.
struct Endless;

impl Input for Endless {
    fn name(&self) -> String {
        "endless.fdl".to_owned()
    }
    fn size(&self) -> u64 {
        1 << 40
    }
    fn read(&self, _: u64, length: u32) -> Vec<u8> {
        vec![b' '; length as usize]
    }
}

#[test]
fn a_file_without_end_is_refused() {
    let failure = ListReader::open(vec![Box::new(Endless)], "{}")
        .err()
        .unwrap();
    assert!(failure.message.contains("1099511627776 bytes"));
}

#[test]
fn several_files_are_refused() {
    let one = || MemoryInput::boxed("a.fdl", data("least.fdl"));
    assert!(ListReader::open(vec![one(), one()], "{}").is_err());
    assert!(ListReader::open(Vec::new(), "{}").is_err());
}

/// Time must not grow with the square of what a hostile list holds.
#[test]
fn many_keys_and_many_canvases() {
    let keys: String = (0..100_000)
        .map(|n| format!("\"k{}\":1,", n % 70_000))
        .collect();
    let canvases = vec!["{}"; 100_000].join(",");
    let list = format!("{{\"contexts\":[{{{keys}\"label\":\"x\",\"canvases\":[{canvases}]}}]}}");
    let items = read(list.as_bytes()).unwrap();
    assert_eq!(facts(&items).1.len(), 100_000);
    assert!(remarks(&items).len() < 300);
}

#[test]
fn nesting_is_passed_over() {
    let depth = 200_000;
    let list = format!(
        "{{\"_deep\":{}{},\"contexts\":[{{\"canvases\":[{{}}]}}]}}",
        "[".repeat(depth),
        "]".repeat(depth)
    );
    assert_eq!(facts(&read(list.as_bytes()).unwrap()).1.len(), 1);
}

#[test]
fn cut_at_every_byte() {
    let bytes = data("two_cameras.fdl");
    let end = bytes.iter().rposition(|b| *b == b'}').unwrap();
    for length in 0..=end {
        let failure = read(&bytes[..length]).unwrap_err();
        assert!(failure.message.contains("cut off"), "{}", failure.message);
        assert_eq!(failure.at.unwrap().offset as usize, length);
    }
}

proptest! {
    #[test]
    fn flipped_bytes_end_or_read(flips in prop::collection::vec((0usize..1700, any::<u8>()), 1..4)) {
        let mut bytes = data("two_cameras.fdl");
        for (at, to) in flips {
            if let Some(byte) = bytes.get_mut(at) {
                *byte = to;
            }
        }
        match read(&bytes) {
            Ok(items) => prop_assert!(facts(&items).0.len() == facts(&items).1.len()),
            Err(failure) => {
                let at = failure.at.unwrap();
                prop_assert!((at.offset + at.length) as usize <= bytes.len());
            }
        }
    }
}
