//! Damaged files: a clear error with its place after all that was good, or a remark.

#![allow(clippy::unwrap_used)]

mod common;

use std::cell::Cell;
use std::rc::Rc;

use common::{CAMERA, LENS, data, flat, klv, read, read_until_failure, remarks, set, told, write};
use ringmark_acquisition_klv::SetReader;
use ringmark_sdk::{Input, Reader};

fn malformed(name: &str) -> Vec<u8> {
    data(&format!("malformed/klv_{name}.klv"))
}

fn names(bytes: &[u8]) -> Vec<(String, String)> {
    told(&read(bytes).unwrap())
}

fn one(check: &str, severity: &str) -> Vec<(String, String)> {
    vec![(check.to_owned(), severity.to_owned())]
}

#[test]
fn what_cannot_be_walked_is_refused() {
    let mut huge = LENS.to_vec();
    huge.extend_from_slice(&[
        0x88, 255, 255, 255, 255, 255, 255, 255, 255, 0x80, 1, 0, 2, 0xd9, 0xc4,
    ]);
    let whole = set(LENS, &[(0x8001, &[0xd9, 0xc4])]);
    for (bytes, says) in [
        (malformed("truncated_key"), "ends inside a key"),
        (malformed("ber_indefinite"), "80 (indefinite)"),
        (malformed("ber_9_bytes"), "9 bytes"),
        (
            huge,
            "18446744073709551615 bytes by its length, the file has 6 left",
        ),
        (
            whole[..25].to_vec(),
            "has 6 bytes by its length, the file has 5 left",
        ),
    ] {
        // Behind a good frame the place is that of the bad one.
        for good in [vec![], whole.clone()] {
            let (items, failure) = read_until_failure(&[&good[..], &bytes].concat());
            let failure = failure.unwrap();
            assert!(failure.message.contains(says), "{}", failure.message);
            assert!(!failure.help.is_empty());
            assert_eq!(failure.at.unwrap().offset as usize, good.len());
            assert_eq!(flat(&items).frames, good.len() / 26);
        }
    }
}

#[test]
fn other_files_are_refused() {
    let mut essence = LENS;
    essence[4] = 1;
    for (bytes, says) in [
        (vec![], "take.klv is empty"),
        (b"frame,focus\n1,2\n".to_vec(), "no key"),
        (vec![6, 0xe], "ends inside a key"),
        (klv(essence, b"essence"), "holds no lens or camera sets"),
    ] {
        let failure = read(&bytes).unwrap_err();
        assert!(failure.message.contains(says), "{}", failure.message);
        assert!(failure.at.is_some());
    }
}

#[test]
fn an_item_past_the_set() {
    let bytes = malformed("local_length_overrun");
    assert_eq!(names(&bytes), one("item-overrun", "error"));
    let remark = &remarks(&read(&bytes).unwrap())[0];
    assert!(remark.message.contains("8001"), "{}", remark.message);
    assert!(remark.message.contains("400 bytes"), "{}", remark.message);
    assert_eq!(remark.at.as_ref().unwrap().offset, 20);
}

#[test]
fn stray_bytes_at_the_end_of_a_set() {
    let value = [&[0x80, 1, 0, 2, 0xd9, 0xc4][..], &[1, 2, 3]].concat();
    let items = read(&klv(LENS, &value)).unwrap();
    assert_eq!(flat(&items).numbers("focus-distance"), [2.5]);
    let remark = &remarks(&items)[0];
    assert_eq!((&*remark.check, &*remark.severity), ("item-cut", "error"));
    assert_eq!(remark.at.as_ref().unwrap().offset, 26);
    assert_eq!(remark.at.as_ref().unwrap().length, 3);
}

#[test]
fn an_item_of_a_wrong_size_is_ignored() {
    assert_eq!(
        names(&malformed("wrong_item_size")),
        one("item-size", "error")
    );
    let bytes = set(LENS, &[(0x8001, &[]), (0x8008, &[0xe0, 0])]);
    let items = read(&bytes).unwrap();
    assert_eq!(told(&items), one("item-size", "error"));
    let remark = &remarks(&items)[0];
    assert!(
        remark.message.contains("0 bytes, expected 2"),
        "{}",
        remark.message
    );
    let field = &remark.at.as_ref().unwrap().field;
    assert_eq!(
        field,
        "lens unit set, item 8001 (focus position from image plane)"
    );
    assert_eq!(flat(&items).numbers("t-stop"), [2.0]);
    assert!(!flat(&items).columns.contains_key("focus-distance"));
}

#[test]
fn a_tag_twice() {
    let bytes = set(LENS, &[(0x8001, &[0xd9, 0xc4]), (0x8001, &[0xd7, 0xd0])]);
    let items = read(&bytes).unwrap();
    assert_eq!(told(&items), one("duplicate-key", "error"));
    assert_eq!(flat(&items).numbers("focus-distance"), [2.0]);
    let unknown = set(LENS, &[(0x7001, b"a"), (0x7001, b"b")]);
    assert_eq!(names(&unknown), one("duplicate-key", "error"));
    assert_eq!(
        flat(&read(&unknown).unwrap()).texts("extra/lens.7001"),
        [Some("62".to_owned())]
    );
}

#[test]
fn a_text_that_is_no_utf8() {
    let bytes = malformed("invalid_utf8");
    let items = read(&bytes).unwrap();
    assert_eq!(told(&items), one("text-not-utf8", "warning"));
    assert_eq!(
        flat(&items).texts("lens"),
        [Some("Halden \u{fffd}( 32".to_owned())]
    );
}

#[test]
fn bytes_between_two_sets() {
    let good = set(LENS, &[(0x8001, &[0xd9, 0xc4])]);
    let bytes = [&good[..], &[0xaa; 20], &good].concat();
    let items = read(&bytes).unwrap();
    assert_eq!(flat(&items).numbers("focus-distance"), [2.5, 2.5]);
    assert_eq!(told(&items), one("bytes-between-keys", "warning"));
    let place = remarks(&items)[0].at.clone().unwrap();
    assert_eq!((place.offset, place.length), (26, 20));
    let (items, failure) = read_until_failure(&[&good[..], &vec![0; 3 << 20], &good].concat());
    assert_eq!(flat(&items).frames, 1);
    assert_eq!(failure.unwrap().at.unwrap().offset, 26);
}

#[test]
fn fractions_with_a_denominator_of_0() {
    let bytes = set(
        CAMERA,
        &[(0x8106, &[0; 8]), (0x8109, &[0, 0, 0, 1, 0, 0, 0, 0])],
    );
    let items = read(&bytes).unwrap();
    let mut checks = told(&items);
    checks.sort();
    assert_eq!(
        checks,
        [
            one("fraction-invalid", "error"),
            one("rate-invalid", "error")
        ]
        .concat()
    );
    assert!(!flat(&items).columns.contains_key("exposure-time"));
    // The bytes are not lost.
    let written = write(&items).unwrap();
    assert!(written.ends_with(&bytes));
}

#[test]
fn an_empty_set_is_a_frame_without_values() {
    let items = read(&malformed("empty_set")).unwrap();
    assert!(remarks(&items).is_empty());
    let read_back = flat(&items);
    assert_eq!((read_back.frames, read_back.columns.len()), (1, 0));
    assert_eq!(write(&items).unwrap(), klv(LENS, &[]));
}

#[test]
fn a_defect_of_every_frame_is_told_once_and_counted() {
    let bytes = set(LENS, &[(0x8001, &[1])]).repeat(5000);
    let items = read(&bytes).unwrap();
    let told = remarks(&items);
    assert_eq!(told.len(), 2);
    assert!(
        told[1]
            .message
            .ends_with("the same 4999 more times, here last"),
        "{}",
        told[1].message
    );
    assert_eq!(told[1].severity, "note");
    assert_eq!(flat(&items).frames, 5000);
}

#[test]
fn cut_at_every_byte() {
    let bytes = &data("rack_48f.klv")[..598];
    for length in 0..=bytes.len() {
        let (items, failure) = read_until_failure(&bytes[..length]);
        // A cut between two sets cannot be seen.
        let whole = [108, 299, 299 + 108, 598].contains(&length);
        assert_eq!(failure.is_none(), whole, "{length}");
        if let Some(failure) = failure {
            assert!(failure.at.unwrap().offset as usize <= length);
        }
        assert!(flat(&items).frames <= 2);
    }
}

#[test]
fn the_container_cut_at_every_byte() {
    let bytes = &data("rack_48f.mxf")[..108 + 300];
    for length in 0..=bytes.len() {
        let (items, _) = read_until_failure(&bytes[..length]);
        assert!(flat(&items).frames <= 2, "{length}");
    }
}

#[test]
fn flipped_bits_end_or_read() {
    let plain = data("rack_48f.mxf")[..108 + 598].to_vec();
    for bytes in [plain.clone(), plain[108..].to_vec()] {
        for at in 0..bytes.len() {
            for bit in 0..8 {
                let mut damaged = bytes.clone();
                damaged[at] ^= 1 << bit;
                let (items, failure) = read_until_failure(&damaged);
                let read = flat(&items);
                assert!(failure.is_some() || read.frames >= 1, "{at} {bit}");
                if failure.is_none() {
                    let written = write(&items).unwrap();
                    assert_eq!(flat(&common::read(&written).unwrap()).frames, read.frames);
                }
            }
        }
    }
}

/// A file of one key with a length of 100 GB, made as it is asked for.
struct LongSet(Rc<Cell<u64>>, [u8; 16]);

impl Input for LongSet {
    fn name(&self) -> String {
        "long.klv".into()
    }
    fn size(&self) -> u64 {
        100_000_000_000
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        self.0.set(self.0.get() + u64::from(length));
        let mut bytes = vec![0; length as usize];
        if offset == 0 {
            bytes[..16].copy_from_slice(&self.1);
            bytes[16..25].copy_from_slice(&[0x88, 0, 0, 0, 0x17, 0x48, 0x76, 0xe7, 0xe7]);
        }
        bytes
    }
}

#[test]
fn a_set_of_100_gigabytes_is_not_fetched() {
    let fetched = Rc::new(Cell::new(0));
    let mut reader =
        SetReader::open(vec![Box::new(LongSet(Rc::clone(&fetched), LENS))], "{}").unwrap();
    let Some(ringmark_sdk::Item::Remark(remark)) = reader.next().unwrap() else {
        panic!()
    };
    assert_eq!(remark.check, "set-too-large");
    assert!(
        reader
            .next()
            .unwrap_err()
            .message
            .contains("no lens or camera sets")
    );
    assert!(reader.next().unwrap().is_none());
    assert!(fetched.get() < 1024, "{}", fetched.get());
}
