//! Damaged files: a clear error with its place, after all that was good.

#![allow(clippy::unwrap_used)]

mod common;

use common::{flat, frame_count, read, read_until_failure, reference, remarks};
use ringmark_opentrackio::TakeReader;
use ringmark_sdk::{Input, Reader};

#[test]
fn a_cut_last_line() {
    let bytes = reference("malformed/opentrackio_truncated_line.jsonl");
    let (items, failure) = read_until_failure(&bytes);
    assert_eq!(frame_count(&items), 3);
    let failure = failure.unwrap();
    let fourth = bytes
        .iter()
        .enumerate()
        .filter(|(_, b)| **b == b'\n')
        .nth(2)
        .unwrap()
        .0
        + 1;
    assert_eq!(failure.at.unwrap().offset as usize, fourth);
    assert!(failure.message.contains("cut off"), "{}", failure.message);
}

#[test]
fn a_byte_that_is_no_utf8() {
    let bytes = reference("malformed/opentrackio_invalid_utf8.jsonl");
    let (_, failure) = read_until_failure(&bytes);
    let failure = failure.unwrap();
    let bad = std::str::from_utf8(&bytes).unwrap_err().valid_up_to();
    assert_eq!(failure.at.unwrap().offset as usize, bad);
    assert!(failure.message.contains("no UTF-8"), "{}", failure.message);
}

#[test]
fn a_key_twice() {
    let items = read(&reference("malformed/opentrackio_duplicate_key.jsonl")).unwrap();
    assert_eq!(frame_count(&items), 1);
    let told = remarks(&items);
    assert_eq!(told.len(), 1);
    assert_eq!(
        (&*told[0].check, &*told[0].severity),
        ("duplicate-key", "error")
    );
}

#[test]
fn a_byte_order_mark() {
    let bytes = reference("malformed/opentrackio_bom.jsonl");
    let items = read(&bytes).unwrap();
    assert_eq!(remarks(&items)[0].check, "byte-order-mark");
    assert_eq!(flat(&items), flat(&read(&bytes[3..]).unwrap()));
}

#[test]
fn cut_at_every_byte() {
    let bytes = reference("single_sample.json");
    let end = bytes.iter().rposition(|b| *b == b'}').unwrap();
    for length in 0..=end {
        let (items, failure) = read_until_failure(&bytes[..length]);
        assert_eq!(frame_count(&items), 0, "{length}");
        let failure = failure.unwrap_or_else(|| panic!("cut at {length} and not noticed"));
        assert!(failure.at.unwrap().offset as usize <= length, "{length}");
    }
    assert_eq!(frame_count(&read(&bytes).unwrap()), 1);
}

#[test]
fn a_flipped_bit_ends_or_reads() {
    let bytes = reference("single_sample.json");
    for at in 0..bytes.len() {
        for bit in [0, 5, 7] {
            let mut damaged = bytes.clone();
            damaged[at] ^= 1 << bit;
            let (items, failure) = read_until_failure(&damaged);
            assert!(failure.is_some() || frame_count(&items) >= 1);
        }
    }
}

#[test]
fn the_defect_and_its_byte() {
    let good =
        "{\"protocol\":{\"name\":\"OpenTrackIO\",\"version\":[1,0,1]},\"lens\":{\"fStop\":2}}\n";
    for (bad, at, says) in [
        ("{\"lens\":{\"fStop\":NaN}}", 17, "`NaN` is no JSON value"),
        ("{\"lens\":{\"fStop\":1e999}}", 21, "number out of range"),
        ("{\"lens\":{\"fStop\":2,}}", 19, "broken JSON"),
        ("{\"lens\":{\"fStop\" 2}}", 17, "broken JSON"),
        ("frame,focus", 0, "found `f`"),
        ("{\"a\":\"\u{1}\"}", 6, "broken JSON"),
    ] {
        let text = format!("{good}\r\n{good}{bad}\n{good}");
        let (items, failure) = read_until_failure(text.as_bytes());
        assert_eq!(frame_count(&items), 2, "{bad}");
        let failure = failure.unwrap();
        assert!(failure.message.contains(says), "{bad}: {}", failure.message);
        assert!(!failure.help.is_empty());
        assert_eq!(
            failure.at.unwrap().offset as usize,
            2 * good.len() + 2 + at,
            "{bad}"
        );
    }
}

#[test]
fn other_files_are_refused() {
    for (text, says) in [
        ("", "holds no sample"),
        (" \r\n\t", "holds no sample"),
        ("[]", "holds no sample"),
        ("{\"lens_data\":\"1.0\",\"lenses\":[]}", "no OpenTrackIO"),
        ("[1,2,3]", "found `1`"),
        ("\"text\"", "found `\"`"),
        ("\u{1}\u{2}", "the byte 01"),
        ("{\"ringmark\":{\"version\":9}}", "version 9"),
    ] {
        let failure = read(text.as_bytes()).unwrap_err();
        assert!(
            failure.message.contains(says),
            "{text}: {}",
            failure.message
        );
        assert!(failure.at.is_some(), "{text}");
    }
    let failure = read(b"\xff\xfe{\0}\0").unwrap_err();
    assert!(failure.message.contains("UTF-16"), "{}", failure.message);
}

#[test]
fn nesting_without_end_is_refused() {
    for opening in ["[", "{\"a\":"] {
        let text = format!("{{\"lens\":{}", opening.repeat(100_000));
        let failure = read(text.as_bytes()).unwrap_err();
        assert!(
            failure.message.contains("nested deeper"),
            "{}",
            failure.message
        );
    }
}

/// A gigabyte of one line, made as it is asked for.
struct LongLine;

impl Input for LongLine {
    fn name(&self) -> String {
        "long".into()
    }
    fn size(&self) -> u64 {
        1 << 30
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        assert!(offset < 6 << 20, "read on to {offset}");
        let mut bytes = vec![b' '; length as usize];
        if offset == 0 {
            bytes[..10].copy_from_slice(b"{\"lens\":{ ");
        }
        bytes
    }
}

#[test]
fn a_line_of_a_gigabyte_is_refused() {
    let mut reader = TakeReader::open(vec![Box::new(LongLine)], "{}").unwrap();
    let failure = reader.next().unwrap_err();
    assert!(
        failure.message.contains("longer than 4 MiB"),
        "{}",
        failure.message
    );
    assert!(reader.next().unwrap().is_none());
}
