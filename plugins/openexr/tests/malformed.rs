//! Damaged files: refused or flagged, always with the place.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::{Parts, bytes, exr_files, json, read, read_name};
use ringmark_sdk::Failure;

/// Source of what is expected: `malformed/exr.expected.json`, rules of the reference library's source.
#[test]
fn every_damaged_file_is_refused_or_flagged() {
    let expected = json("malformed/exr.expected.json");
    for name in exr_files("malformed/") {
        let short = name.rsplit('/').next().unwrap();
        let should = expected[short]["our_reader_should"].as_str().unwrap();
        match (should, read_name(&name)) {
            ("reject", Err(failure)) => {
                assert!(
                    !failure.message.is_empty() && !failure.help.is_empty(),
                    "{name}"
                );
                let place = failure.at.expect("a place");
                assert!(
                    place.offset <= bytes(&name).len() as u64,
                    "{name}: {place:?}"
                );
            }
            ("reject", Ok(_)) => panic!("{name} is read"),
            (_, Ok(reading)) => {
                assert!(!reading.remarks.is_empty(), "{name} is not flagged");
                assert_eq!(reading.frames.len(), reading.takes.len(), "{name}");
            }
            (_, Err(failure)) => {
                assert!(should.starts_with("reject"), "{name}: {}", failure.message);
            }
        }
    }
}

fn refused(file: &[u8]) -> Failure {
    match read(&[("x.1.exr", file)]) {
        Ok(reading) => panic!("read: {reading:?}"),
        Err(failure) => failure,
    }
}

/// What is refused, and the words that must be in the message: the value that was found.
#[test]
fn refusals_say_what_stands_where() {
    let reference = Parts::reference;
    let offset_of = |file: &[u8], text: &str| {
        let text = text.as_bytes();
        file.windows(text.len()).position(|w| w == text).unwrap() as u64
    };
    let long_name = "n".repeat(40);
    let too_long = "n".repeat(300);
    let texts = [&5i32.to_le_bytes()[..], b"abc"].concat();
    let negative = [&(-1i32).to_le_bytes()[..], b"abc"].concat();
    for (file, message, field) in [
        (
            reference().with("focus", "float", &[0; 8]),
            "8 bytes, a float has 4",
            "focus",
        ),
        (
            reference().with("timeCode", "timecode", &[0; 4]),
            "4 bytes, a timecode has 8",
            "timeCode",
        ),
        (
            reference().also(&long_name, "int", &[0; 4]),
            "longer than 31 bytes",
            "",
        ),
        (
            reference().also(&too_long, "int", &[0; 4]).flags(0x400),
            "longer than 255 bytes",
            "",
        ),
        (
            reference().also("x", &long_name, &[0; 4]),
            "type of an attribute longer than 31",
            "x",
        ),
        (
            reference().also("x", "", &[0; 4]),
            "type of an attribute is empty",
            "x",
        ),
        (
            reference().also("x", "stringvector", &texts),
            "a text of 5 bytes, 3 are left",
            "x",
        ),
        (
            reference().also("x", "stringvector", &negative),
            "a text of -1 bytes",
            "x",
        ),
        (
            reference().also("x", "floatvector", &[0; 6]),
            "6 bytes",
            "x",
        ),
        (
            reference().also("dataWindow", "box2i", &[0; 16]),
            "twice",
            "dataWindow",
        ),
        (
            reference().without("channels"),
            "no attribute channels",
            "channels",
        ),
        (
            reference().with("lineOrder", "string", b"x"),
            "type string, must be lineOrder",
            "lineOrder",
        ),
        (reference().flags(0x200), "no attribute tiles", "tiles"),
        (
            reference().flags(0x800),
            "no attribute chunkCount",
            "chunkCount",
        ),
        (reference().flags(1), "version 3", ""),
        (reference().flags(0x4000), "0x4000", ""),
    ] {
        let file = file.build();
        let failure = refused(&file);
        assert!(failure.message.contains(message), "{}", failure.message);
        let place = failure.at.unwrap();
        assert!(place.field.ends_with(field), "{place:?}");
        if message.contains("bytes, a float has") {
            assert_eq!(place.offset, offset_of(&file, "focus\0float\0") + 12);
        }
    }
}

#[test]
fn sizes_are_compared_with_the_file() {
    let file = Parts::reference().build();
    let at = file
        .windows(12)
        .position(|w| w == b"focus\0float\0")
        .unwrap()
        + 12;
    let name = file.windows(9).position(|w| w == b"lensModel").unwrap();
    let text_size = name + b"lensModel\0string\0".len();
    for (place, size, message) in [
        (at, -4i32, "size -4"),
        (text_size, i32::MAX, "2147483647 bytes"),
        (text_size, file.len() as i32, "past the end"),
    ] {
        let mut file = file.clone();
        file[place..place + 4].copy_from_slice(&size.to_le_bytes());
        let failure = refused(&file);
        assert!(failure.message.contains(message), "{}", failure.message);
    }
}

#[test]
fn a_missing_end_is_seen() {
    let mut parts = Parts::reference();
    parts.rest.remove(0);
    let failure = refused(&parts.build());
    assert!(
        failure.message.contains("closes the header is missing"),
        "{}",
        failure.message
    );

    // Two NUL bytes end the headers of a multi-part file; behind them stand chunk offsets.
    let stereo = bytes("stereo.1001.exr");
    let last = stereo.windows(4).rposition(|w| w == b"view").unwrap();
    let end = last + b"view\0string\0\x05\0\0\0right".len();
    assert_eq!(stereo[end..end + 2], [0, 0]);
    let mut open = stereo.clone();
    open.remove(end + 1);
    let failure = refused(&open);
    assert!(failure.at.unwrap().field.starts_with("part 2"));
    let failure = refused(&stereo[..=end]);
    assert!(
        failure.message.contains("ends inside its header"),
        "{}",
        failure.message
    );
}

#[test]
fn a_bad_file_names_its_index() {
    let good = Parts::reference().build();
    let bad = Parts::reference().without("channels").build();
    let failure = read(&[("x.1.exr", &good), ("x.2.exr", &bad)]).unwrap_err();
    assert_eq!(failure.at.unwrap().input, 1);
}

#[test]
fn no_input_at_all_is_a_failure() {
    assert!(read(&[]).unwrap_err().message.contains("no input"));
}

/// What is read although something is wrong with it.
#[test]
fn flags_say_what_stands_where() {
    let float = |value: f32| value.to_le_bytes();
    let time = |word: u32| [word.to_le_bytes(), [0; 4]].concat();
    let reference = Parts::reference;
    for (file, check, message) in [
        (
            reference().also("focus", "float", &float(9.0)),
            "attribute-repeated",
            "twice",
        ),
        (
            reference().with("focus", "string", b"1.2 m"),
            "attribute-type",
            "type string, must be float",
        ),
        (
            reference().with("focus", "double", &[0; 8]),
            "attribute-type",
            "type double",
        ),
        (
            reference().with("lensModel", "string", b"Halden\xff 32"),
            "text-not-utf8",
            "0xff at position 6",
        ),
        (
            reference().with("lensModel", "string", b"Halden\0 32"),
            "text-nul",
            "position 6 of 10",
        ),
        (
            reference().with("timeCode", "timecode", &time(0x0100_593f)),
            "timecode-digits",
            "0x0100593f",
        ),
        (
            reference().with("timeCode", "timecode", &time(0x2500_5900)),
            "timecode-label",
            "25:00:59:00",
        ),
        (
            reference().with("timeCode", "timecode", &time(0x0101_0040)),
            "timecode-label",
            "01:01:00;00",
        ),
        (
            reference().with("captureRate", "rational", &[0; 8]),
            "rate-invalid",
            "0/0",
        ),
        (
            reference().with(
                "displayWindow",
                "box2i",
                &[5, 0, 0, 0, 5, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0],
            ),
            "display-window-empty",
            "5, 5, 1, 1",
        ),
        (
            reference().also("x", "string", &vec![b'x'; 2 << 20]),
            "attribute-too-large",
            "2097152 bytes",
        ),
        (
            reference().with("reelName", "string", b""),
            "text-empty",
            "reelName",
        ),
    ] {
        let reading = file.read().unwrap();
        assert_eq!(reading.checks(), [check]);
        let remark = &reading.remarks[0];
        assert!(remark.message.contains(message), "{}", remark.message);
        assert!(remark.at.as_ref().unwrap().field.starts_with("attribute "));
    }
}

#[test]
fn flagged_values_are_delivered_or_left_out() {
    let reference = Parts::reference;
    let read = |parts: Parts| parts.read().unwrap();
    let time = |word: u32| [word.to_le_bytes(), [0; 4]].concat();
    let reading = read(reference().also("focus", "float", &9.0f32.to_le_bytes()));
    assert_eq!(reading.numbers(0, "focus-distance"), [9.0]);
    let reading = read(reference().with("focus", "string", b"1.2 m"));
    assert!(reading.numbers(0, "focus-distance")[0].is_nan());
    let reading = read(reference().with("lensModel", "string", b"Halden\xff 32"));
    assert_eq!(
        reading.text(0, "lens-model").as_deref(),
        Some("Halden\u{fffd} 32")
    );
    let reading = read(reference().with("timeCode", "timecode", &time(0x0100_593f)));
    assert_eq!(reading.text(0, "timecode"), None);
    let reading = read(reference().with("timeCode", "timecode", &time(0x2500_5900)));
    assert_eq!(reading.text(0, "timecode").as_deref(), Some("25:00:59:00"));
}

#[test]
fn parts_that_disagree_are_flagged() {
    // The right view renamed to left: two lenses in one view, so still two takes.
    let mut file = bytes("stereo.1001.exr");
    let find =
        |file: &[u8], text: &[u8]| file.windows(text.len()).rposition(|w| w == text).unwrap();
    let same_view = |file: &mut Vec<u8>| {
        let view = find(file, b"view\0string\0\x05\0\0\0right") + 12;
        file.splice(view..view + 9, *b"\x04\0\0\0left");
    };
    same_view(&mut file);
    let reading = read(&[("x.1.exr", &file)]).unwrap();
    assert_eq!((reading.takes.len(), reading.checks().len()), (2, 0));
    // The same lens in both: one take, the first part counts.
    let serial = find(&file, b"H32-0043");
    file[serial..serial + 8].copy_from_slice(b"H32-0042");
    let reading = read(&[("x.1.exr", &file)]).unwrap();
    assert_eq!(reading.takes.len(), 1);
    assert_eq!(reading.checks(), ["parts-disagree", "parts-disagree"]);
    assert_eq!(reading.numbers(0, "pinhole-focal-length"), [32.25]);
    assert!(
        reading.remarks[0]
            .at
            .as_ref()
            .unwrap()
            .field
            .starts_with("part 1, attribute ")
    );
}

#[test]
fn a_view_may_be_missing_or_come_later() {
    let stereo = bytes("stereo.1001.exr");
    let mono = Parts::reference().build();
    let reading = read(&[("x.1.exr", &mono), ("x.2.exr", &stereo), ("x.3.exr", &mono)]).unwrap();
    let counts: Vec<_> = reading.frames.iter().map(|f| (f.take, f.count)).collect();
    assert_eq!(counts, [(0, 2), (1, 1), (2, 1)]);
    let missing: Vec<_> = reading
        .checks()
        .into_iter()
        .filter(|c| *c == "view-missing")
        .collect();
    assert_eq!(missing.len(), 3);
}

/// As many parts as takes, but two parts share a take and the other take has none.
#[test]
fn a_view_that_is_missing_twice_is_counted_twice() {
    let stereo = bytes("stereo.1001.exr");
    let left = bytes("two_parts_one_view.exr");
    let reading = read(&[("x.1.exr", &stereo), ("x.2.exr", &left), ("x.3.exr", &left)]).unwrap();
    let counts: Vec<_> = reading.frames.iter().map(|f| (f.take, f.count)).collect();
    assert_eq!(counts, [(0, 3), (1, 1)]);
    assert_eq!(reading.checks(), ["view-missing", "view-missing"]);
    assert_eq!(reading.remarks[1].severity, "note");
}
