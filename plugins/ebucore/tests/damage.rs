//! Damaged and hostile files: a clear error with its place, and no memory or time without end.

#![allow(clippy::unwrap_used)]

mod common;

use common::{
    by_segment, document, frame_count, read, read_until_failure, reference, remarks, write,
};
use ringmark_ebucore::TakeReader;
use ringmark_sdk::{Input, Reader};

/// A small document as this plugin writes it, with parameters of its own.
fn own() -> Vec<u8> {
    let text = String::from_utf8(reference("segment_parameter.xml")).unwrap();
    let items = read(
        text.replace("IrisFNumber", "ringmark:entrance-pupil-offset")
            .as_bytes(),
    )
    .unwrap();
    write(&items).unwrap().into_bytes()
}

fn by_parameter() -> Vec<u8> {
    let text = String::from_utf8(reference("malformed/ebucore_bad_timecode.xml")).unwrap();
    text.replace("01:61:59;00", "01:00:59;00").into_bytes()
}

#[test]
fn cut_at_every_byte() {
    for bytes in [reference("segment_parameter.xml"), by_parameter(), own()] {
        let end = bytes.iter().rposition(|b| *b == b'>').unwrap();
        for length in 0..=end {
            let (items, failure) = read_until_failure(&bytes[..length]);
            assert!(frame_count(&items) <= 48);
            let failure = failure.unwrap_or_else(|| panic!("cut at {length} and not noticed"));
            assert!(failure.at.unwrap().offset as usize <= length, "{length}");
        }
        assert_eq!(frame_count(&read(&bytes).unwrap()), 48);
    }
}

#[test]
fn a_flipped_bit_ends_or_reads() {
    for bytes in [reference("segment_parameter.xml"), by_parameter(), own()] {
        for at in 0..bytes.len() {
            let mut damaged = bytes.clone();
            damaged[at] ^= 1 << (at * 5 % 8);
            let (items, failure) = read_until_failure(&damaged);
            assert!(failure.is_some() || frame_count(&items) > 0, "{at}");
        }
    }
}

#[test]
fn a_document_type_is_refused_and_nothing_expanded() {
    let text = String::from_utf8(reference("segment_parameter.xml")).unwrap();
    for declaration in [
        "<!DOCTYPE x SYSTEM \"file:///etc/hostname\">",
        "<!DOCTYPE x [<!ENTITY a SYSTEM \"file:///etc/hostname\">]>",
        "<!DOCTYPE x [<!ENTITY a \"2\"><!ENTITY b \"&a;&a;&a;\">]>",
    ] {
        let text = text
            .replace("?>\n", &format!("?>\n{declaration}\n"))
            .replace("2.000000", "&a;");
        let failure = read(text.as_bytes()).unwrap_err();
        assert!(failure.message.contains("DOCTYPE"), "{}", failure.message);
        let at = failure.at.unwrap();
        assert_eq!(
            &text[at.offset as usize..(at.offset + at.length) as usize],
            declaration
        );
    }
    let (_, failure) = read_until_failure(text.replace("2.000000", "&a;").as_bytes());
    let failure = failure.unwrap();
    assert!(
        failure.message.contains("entity &a; is not allowed"),
        "{}",
        failure.message
    );
    let text = text.replace("name=\"IrisTNumber\"", "name=\"&a;\"");
    let failure = read(text.as_bytes()).unwrap_err();
    assert!(
        failure.message.contains("attribute name"),
        "{}",
        failure.message
    );
}

#[test]
fn characters_by_name_and_number_are_read() {
    let body = by_segment(
        "00:00:00:00",
        "00:00:00:01",
        &[(
            "LensAttributes",
            "",
            "A&amp;B &#181;&lt;&#x4a;<!-- c --> <![CDATA[&x;]]>",
        )],
    );
    let items = read(document("25", "", &body).as_bytes()).unwrap();
    assert_eq!(
        common::flat(&items).columns["lens"].values[0].as_deref(),
        Some("A&B µ<J &x;")
    );
}

#[test]
fn other_files_are_refused() {
    for (text, says) in [
        ("", "no acquisitionData"),
        ("frame,focus\n", "text outside"),
        ("<html/>", "root element is 'html'"),
        ("<ebuCoreMain/>", "namespace ''"),
        ("<e:ebuCoreMain xmlns:x='y'/>", "prefix 'e' is not declared"),
        (
            "<ebuCoreMain xmlns='urn:ebu:metadata-schema:ebucore'/>",
            "no acquisitionData",
        ),
        (
            "<ebuCoreMain xmlns='urn:ebu:metadata-schema:ebucore'><coreMetadata></ebuCoreMain>",
            "</ebuCoreMain> where </coreMetadata> was expected",
        ),
        (
            "<?xml version='1.0' encoding='ISO-8859-1'?><a/>",
            "encoding 'ISO-8859-1'",
        ),
        ("<a/><a/>", "root element is 'a'"),
        ("\u{0}\u{1}", "no text at all"),
    ] {
        let failure = read(text.as_bytes()).unwrap_err();
        assert!(
            failure.message.contains(says),
            "{text}: {}",
            failure.message
        );
        assert!(failure.at.is_some(), "{text}");
    }
    let failure = read(b"\xff\xfe<\0a\0").unwrap_err();
    assert!(failure.message.contains("UTF-16"), "{}", failure.message);
}

#[test]
fn bytes_that_are_no_utf8() {
    for place in ["2.000000", "IrisTNumber"] {
        let mut bytes = reference("segment_parameter.xml");
        let at = bytes
            .windows(place.len())
            .position(|w| w == place.as_bytes())
            .unwrap();
        bytes[at + 3] = 0xff;
        let failure = read(&bytes).unwrap_err();
        assert!(
            failure.message.contains("no UTF-8"),
            "{place}: {}",
            failure.message
        );
        let offset = failure.at.unwrap().offset as usize;
        assert!(
            (at..at + 60).contains(&offset),
            "{place}: {offset}, not near {at}"
        );
    }
}

#[test]
fn a_byte_order_mark_is_passed_over_and_places_are_right() {
    let mut bytes = b"\xef\xbb\xbf".to_vec();
    bytes.extend(reference("segment_parameter.xml"));
    let items = read(&bytes).unwrap();
    assert_eq!(remarks(&items)[0].check, "byte-order-mark");
    assert_eq!(frame_count(&items), 48);
    let Some(ringmark_sdk::Item::Frames(frames)) = items.last() else {
        panic!()
    };
    assert!(bytes[frames.offsets[0] as usize..].starts_with(b"<ebucore:segment "));
}

#[test]
fn nesting_without_end_is_refused() {
    let text = document("25", "", &"<a>".repeat(20_000));
    let failure = read(text.as_bytes()).unwrap_err();
    assert!(
        failure.message.contains("nested deeper"),
        "{}",
        failure.message
    );
}

/// A gigabyte that begins with a document, made as it is asked for.
struct Long {
    begin: Vec<u8>,
    fill: u8,
    /// Reading beyond is a defect.
    most: u64,
}

impl Input for Long {
    fn name(&self) -> String {
        "long".into()
    }
    fn size(&self) -> u64 {
        1 << 30
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        assert!(offset <= self.most, "read on to {offset}");
        let mut bytes = vec![self.fill; length as usize];
        if let Some(begin) = self.begin.get(offset as usize..) {
            let count = begin.len().min(bytes.len());
            bytes[..count].copy_from_slice(&begin[..count]);
        }
        bytes
    }
}

#[test]
fn markup_and_values_without_end_are_refused() {
    let whole = document(
        "25",
        "",
        &by_segment("00:00:00:00", "00:00:00:01", &[("IrisTNumber", "", "@")]),
    );
    let (head, _) = whole.split_once('@').unwrap();
    for (begin, most) in [
        (format!("{head}1</parameter><x "), 3 << 20),
        (format!("{head}1</parameter><!-- "), 3 << 20),
        (format!("{head}1<![CDATA["), 3 << 20),
        ("<".to_owned(), 3 << 20),
    ] {
        let long = Long {
            begin: begin.clone().into_bytes(),
            fill: b'x',
            most,
        };
        let mut reader = TakeReader::open(vec![Box::new(long)], "{}").unwrap();
        let failure = loop {
            match reader.next() {
                Ok(Some(_)) => {}
                Ok(None) => panic!("read to the end"),
                Err(failure) => break failure,
            }
        };
        assert!(
            failure.message.contains("longer than 1 MiB"),
            "{begin}: {}",
            failure.message
        );
    }
    // An item without end inside a document that has one.
    let text = whole.replace('@', &"1".repeat(2 << 20));
    let failure = read(text.as_bytes()).unwrap_err();
    assert!(
        failure.message.contains("longer than 1 MiB"),
        "{}",
        failure.message
    );
}

#[test]
fn too_many_parameters_are_refused() {
    let names: Vec<String> = (0..5000).map(|n| format!("p{n}")).collect();
    let parameters: Vec<_> = names.iter().map(|name| (name.as_str(), "", "1")).collect();
    let text = document(
        "25",
        "",
        &by_segment("00:00:00:00", "00:00:00:01", &parameters),
    );
    let failure = read(text.as_bytes()).unwrap_err();
    assert!(
        failure.message.contains("more than 4096"),
        "{}",
        failure.message
    );
}
