//! Damaged files: an error or a remark with its place, no panic, no hang, no memory for what is not there.

#![allow(clippy::unwrap_used)]

mod common;

use common::{Val, checks, data, flat, jpeg, packet, read, remarks, tiff};
use proptest::prelude::*;
use ringmark_exif_xmp::Sequence;
use ringmark_sdk::{Failure, Input, Reader};

fn refused(name: &str, bytes: &[u8]) -> Failure {
    let failure = read(name, bytes).unwrap_err();
    let at = failure.at.as_ref().unwrap();
    assert!(at.offset <= bytes.len() as u64, "{failure:?}");
    failure
}

fn assert_refused(name: &str, bytes: &[u8], says: &str, offset: u64) {
    let failure = refused(name, bytes);
    assert!(failure.message.contains(says), "{}", failure.message);
    assert_eq!(failure.at.unwrap().offset, offset, "{}", failure.message);
    assert!(!failure.help.is_empty());
}

/// One remark with this name and text, and the rest of the file is read.
fn assert_told(name: &str, bytes: &[u8], check: &str, says: &str) {
    let items = read(name, bytes).unwrap();
    let told = remarks(&items);
    let found = told.iter().find(|remark| remark.check == check);
    let Some(remark) = found else {
        panic!("{check} is not among {told:?}");
    };
    assert!(remark.message.contains(says), "{}", remark.message);
    let at = remark.at.as_ref().unwrap();
    assert!(!at.field.is_empty() && at.offset <= bytes.len() as u64);
    assert_eq!(flat(&items).frames, 1);
}

fn small(fields: &[(u16, Val)]) -> Vec<u8> {
    tiff(false, fields, &[])
}

#[test]
fn directories_that_lead_back() {
    assert_told(
        "a.tif",
        &data("tiff_cyclic_exif.tif"),
        "directory-loop",
        "Exif directory",
    );
    assert_told(
        "a.tif",
        &data("tiff_cyclic_sub.tif"),
        "directory-loop",
        "leads back",
    );
    // The next directory is the same one.
    let mut bytes = small(&[(0x0112, Val::Short(vec![1]))]);
    let end = bytes.len();
    bytes[end - 4..].copy_from_slice(&8_u32.to_le_bytes());
    assert_told("a.tif", &bytes, "directory-loop", "next directory");
}

#[test]
fn pointers_and_values_outside_the_file() {
    assert_told(
        "a.tif",
        &data("tiff_offset_past_eof.tif"),
        "offset-outside",
        "Exif directory is at offset 2147483647",
    );
    let exif = |value: Val| {
        tiff(
            false,
            &[],
            &[(0x829d, value), (0x920a, Val::Ratio(vec![(32, 1)]))],
        )
    };
    let bytes = exif(Val::Entry(5, 1, 0x00ff_ffff));
    assert_told(
        "a.tif",
        &bytes,
        "offset-outside",
        "FNumber has 8 bytes at offset 16777215",
    );
    assert_eq!(
        flat(&read("a.tif", &bytes).unwrap()).number("nominal-focal-length"),
        32.0
    );
    // 536,870,913 rationals: the length overflows 32 bits.
    assert_told(
        "a.tif",
        &exif(Val::Entry(5, 0x2000_0001, 8)),
        "offset-outside",
        "4294967304 bytes",
    );
    assert_told(
        "a.tif",
        &exif(Val::Entry(5, 1, 4)),
        "offset-overlaps",
        "offset 4",
    );
    // The tags of this one stand in the first directory, where they do not belong.
    assert_eq!(
        checks(&read("a.tif", &data("tiff_value_overlaps_header.tif")).unwrap()),
        ["metadata-missing"]
    );
}

#[test]
fn types_and_counts_that_are_not_the_standards() {
    let exif = |value: Val| tiff(true, &[], &[(0x829d, value)]);
    assert_told(
        "a.tif",
        &exif(Val::Entry(99, 1, 8)),
        "field-type-unknown",
        "99",
    );
    let short = exif(Val::Short(vec![2]));
    assert_told(
        "a.tif",
        &short,
        "attribute-type",
        "FNumber has type SHORT, must be RATIONAL: read as 2",
    );
    assert_eq!(
        flat(&read("a.tif", &short).unwrap()).number("f-number"),
        2.0
    );
    assert_told(
        "a.tif",
        &exif(Val::Ascii("2.0")),
        "attribute-type",
        "not read",
    );
    assert_told(
        "a.tif",
        &exif(Val::Ratio(Vec::new())),
        "attribute-count",
        "0 values",
    );
    assert_told(
        "a.tif",
        &exif(Val::Ratio(vec![(2, 1), (3, 1)])),
        "attribute-count",
        "2 values",
    );
    assert_eq!(
        checks(&read("a.tif", &data("tiff_fnumber_as_short.tif")).unwrap()),
        ["metadata-missing"]
    );
    let long = tiff(true, &[], &[(0xa434, Val::Bytes(2, vec![b'a'; 70_000]))]);
    assert_told("a.tif", &long, "attribute-too-large", "at most 65536");
}

#[test]
fn headers_that_are_none() {
    assert_refused(
        "a.tif",
        &data("tiff_bad_byte_order.tif"),
        "byte order 49 4d",
        0,
    );
    assert_refused("a.tif", b"II*\0", "4 bytes, a header has 8", 0);
    assert_refused("a.tif", b"II*\0\0\0\0\0", "offset 0, inside the header", 4);
    assert_refused("a.tif", b"II+\0\x08\0\0\0\0\0", "BigTIFF", 2);
    assert_refused(
        "a.tif",
        b"II*\0\xff\xff\0\0\0\0",
        "offset 65535, there are 10 bytes",
        10,
    );
    let mut many = small(&[(0x0112, Val::Short(vec![1]))]);
    many[8..10].copy_from_slice(&u16::MAX.to_le_bytes());
    assert_refused("a.tif", &many, "its 65535 entries need 786420 bytes", 8);
    assert_refused("a.jpg", b"II*\0", "4 bytes", 0);
    assert_refused("a.jpg", b"nothing", "starts with 6e 6f 74 68", 0);
    assert_refused("a.jpg", b"", "the file is empty", 0);
    assert_refused("a.xmp", b"plain text", "starts with 70 6c 61 69", 0);
}

#[test]
fn segments_with_wrong_lengths() {
    assert_refused("a.jpg", &data("jpeg_app1_length_1.jpg"), "length is 1", 20);
    let mut bytes = data("prime.jpg");
    let app1 = bytes
        .windows(2)
        .position(|pair| pair == [0xff, 0xe1])
        .unwrap();
    assert_refused("a.jpg", &bytes[..80], "the file has", app1 as u64);
    bytes[app1 + 2..app1 + 4].copy_from_slice(&[0xff, 0xff]);
    assert_refused("a.jpg", &bytes, "its length is 65535 bytes", app1 as u64);
}

#[test]
fn a_text_that_is_no_utf_8() {
    let bytes = data("jpeg_lensmodel_invalid_utf8.jpg");
    assert_told("a.jpg", &bytes, "text-not-utf8", "byte 0xff at position 3");
    let found = flat(&read("a.jpg", &bytes).unwrap());
    assert_eq!(found.get("lens-model"), Some("Hal\u{fffd}en 32 [text]"));
    assert_eq!(found.number("f-number"), 1.9);
}

#[test]
fn sidecars_that_are_refused() {
    assert_refused("a.xmp", &data("xmp_entity_expansion.xmp"), "DOCTYPE", 21);
    let whole = data("prime.xmp");
    let middle = whole.len() / 2;
    let failure = refused("a.xmp", &whole[..middle]);
    assert!(
        failure.help.contains("cut off") || failure.help.contains("damaged"),
        "{failure:?}"
    );
    let mut latin = whole.clone();
    latin[middle] = 0xff;
    assert_refused("a.xmp", &latin, "byte 0xff is no UTF-8", middle as u64);
    let deep = format!("<a>{}", "<b>".repeat(20_000));
    assert_refused("a.xmp", deep.as_bytes(), "64 elements", 3 + 3 * 63);
    assert_refused("a.xmp", b"<ebuCoreMain/>", "no rdf:RDF", 0);
}

#[test]
fn rationals_that_are_none() {
    let items = read("a.xmp", &data("xmp_rational_garbage.xmp")).unwrap();
    let told = remarks(&items);
    assert_eq!(told.len(), 3, "{told:?}");
    for remark in &told {
        assert_eq!(
            (remark.check.as_str(), remark.severity.as_str()),
            ("value-not-a-number", "error")
        );
    }
    assert!(
        told[0].message.contains("FNumber is “19/ten”"),
        "{}",
        told[0].message
    );
    assert!(
        told[1].message.contains("SubjectDistance is “1e400”"),
        "{}",
        told[1].message
    );
    let found = flat(&items);
    assert!(found.number("focus-distance").is_nan());
    assert_eq!(found.number("nominal-focal-length"), 32.25);
    assert_eq!(found.fact("focal-length-max"), Some("32.0 [mm]"));
}

#[test]
fn a_damaged_packet_leaves_the_exif_part() {
    let block = tiff(true, &[], &[(0x829d, Val::Ratio(vec![(19, 10)]))]);
    let bytes = jpeg(Some(&block), Some("<x:xmpmeta>"));
    assert_told(
        "a.jpg",
        &bytes,
        "xmp-damaged",
        "the XMP packet cannot be read",
    );
    assert_eq!(
        flat(&read("a.jpg", &bytes).unwrap()).number("f-number"),
        1.9
    );
    // Places count from the start of the file.
    let items = read("a.jpg", &bytes).unwrap();
    let at = remarks(&items)[0].at.clone().unwrap().offset as usize;
    let packet = bytes.windows(4).position(|w| w == b"<x:x").unwrap();
    assert!(at >= packet && at <= packet + 11, "{at} {packet}");
}

#[test]
fn places_of_properties_are_bytes_of_the_file() {
    let text = packet("<exif:FNumber>5/0</exif:FNumber>");
    let at = remarks(&read("a.xmp", text.as_bytes()).unwrap())[0]
        .at
        .clone()
        .unwrap();
    let found = &text[at.offset as usize..(at.offset + at.length) as usize];
    assert_eq!(
        (found, at.field.as_str()),
        ("<exif:FNumber>", "XMP exif:FNumber")
    );
    let block = tiff(true, &[], &[(0x829d, Val::Ratio(vec![(5, 0)]))]);
    let image = jpeg(Some(&block), None);
    let at = remarks(&read("a.jpg", &image).unwrap())[0]
        .at
        .clone()
        .unwrap();
    let value = &image[at.offset as usize..(at.offset + at.length) as usize];
    assert_eq!(value, [0, 0, 0, 5, 0, 0, 0, 0]);
    assert_eq!(at.field, "Exif FNumber");
}

#[test]
fn properties_that_xmp_does_not_have_are_told() {
    let text = packet("<x:a rdf:parseType='Literal'><x:b/></x:a><x:c>1</x:c><x:c>2</x:c>");
    let items = read("a.xmp", text.as_bytes()).unwrap();
    assert_eq!(
        checks(&items),
        ["xmp-property-unsupported", "attribute-repeated"]
    );
    assert_eq!(
        flat(&items).get("extra/{http://ns.example/x/}c"),
        Some("2 [text]")
    );
}

#[test]
fn a_file_without_metadata_is_a_frame_without_values() {
    let items = read("a.7.jpg", &jpeg(None, None)).unwrap();
    assert_eq!(checks(&items), ["metadata-missing"]);
    let found = flat(&items);
    assert_eq!((found.frames, found.number("frame")), (1, 7.0));
}

#[test]
fn cut_at_every_byte() {
    for name in ["prime.jpg", "prime.tif", "prime.xmp"] {
        let bytes = data(name);
        let scan = bytes.windows(2).position(|pair| pair == [0xff, 0xda]);
        for length in 0..bytes.len() {
            let found = read(name, &bytes[..length]);
            // Cut behind the start of the scan, or inside the packet's closing line, all is there.
            let whole = match name {
                "prime.jpg" => scan.is_some_and(|scan| length >= scan + 2),
                "prime.xmp" => bytes[..length].ends_with(b"</x:xmpmeta>") || found.is_ok(),
                // Values at the end are told as lost.
                _ => found.is_ok(),
            };
            assert_eq!(found.is_ok(), whole, "{name} cut at {length}");
            if let (Ok(items), "prime.tif") = (&found, name) {
                assert!(
                    !checks(items).is_empty() || flat(items).number("f-number") == 2.0,
                    "{length}"
                );
            }
        }
    }
}

fn flip(bytes: &[u8], flips: &[(usize, u8)]) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    let length = bytes.len();
    for (at, value) in flips {
        bytes[at % length] = *value;
    }
    bytes
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes_never_panic(flips in prop::collection::vec((any::<usize>(), any::<u8>()), 1..6)) {
        for name in ["prime.jpg", "prime.tif", "prime.xmp"] {
            let bytes = flip(&data(name), &flips);
            if let Ok(items) = read(name, &bytes) {
                prop_assert_eq!(flat(&items).frames, 1);
                // What was read can be written and read again.
                let text = common::write(&items).unwrap();
                let back = read("a.xmp", text.as_bytes()).unwrap();
                prop_assert_eq!(flat(&back), flat(&items), "{}", text);
            }
        }
    }
}

/// A file of a terabyte that counts what is read of it.
struct Large {
    name: &'static str,
    head: Vec<u8>,
    read: std::rc::Rc<std::cell::Cell<u64>>,
}

impl Input for Large {
    fn name(&self) -> String {
        self.name.to_owned()
    }
    fn size(&self) -> u64 {
        1 << 40
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        self.read.set(self.read.get() + u64::from(length));
        let end = (offset + u64::from(length)).min(1 << 40);
        (offset..end)
            .map(|at| self.head.get(at as usize).copied().unwrap_or(0))
            .collect()
    }
}

#[test]
fn only_headers_are_read_of_a_large_file() {
    let exif = [(0x829d, Val::Ratio(vec![(19, 10)]))];
    for (name, head, fine) in [
        ("a.jpg", jpeg(Some(&tiff(true, &[], &exif)), None), true),
        ("a.dng", tiff(false, &[], &exif), true),
        ("a.xmp", b"<a>".to_vec(), false),
        ("a.jpg", b"\xff\xd8\xff\xe0\0\x04ab".to_vec(), false),
        ("a.tif", b"II*\0\x08\0\0\0".to_vec(), true),
    ] {
        let read = std::rc::Rc::default();
        let input = Large {
            name,
            head,
            read: std::rc::Rc::clone(&read),
        };
        let mut reader = Sequence::open(vec![Box::new(input)], "{}").unwrap();
        let mut result = Ok(());
        loop {
            match reader.next() {
                Ok(Some(_)) => {}
                Ok(None) => break,
                Err(failure) => {
                    result = Err(failure);
                    break;
                }
            }
        }
        assert_eq!(result.is_ok(), fine, "{name}: {result:?}");
        assert!(read.get() < 64 << 10, "{name}: {} bytes", read.get());
    }
}
