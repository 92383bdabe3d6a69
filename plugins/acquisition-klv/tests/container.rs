//! Sets in MXF: in the body, in ancillary packets, behind essence that is never fetched.

#![allow(clippy::unwrap_used)]

mod common;

use std::cell::Cell;
use std::collections::BTreeMap;
use std::rc::Rc;

use common::{FILL, data, flat, items, klv, read, remarks, told};
use ringmark_acquisition_klv::SetReader;
use ringmark_sdk::{Input, Item, Reader};

const PICTURE: [u8; 16] = [6, 0xe, 0x2b, 0x34, 1, 2, 1, 1, 0xd, 1, 3, 1, 0x15, 1, 5, 1];
const SOUND: [u8; 16] = [6, 0xe, 0x2b, 0x34, 1, 2, 1, 1, 0xd, 1, 3, 1, 0x16, 1, 1, 1];
const ANCILLARY: [u8; 16] = [6, 0xe, 0x2b, 0x34, 1, 2, 1, 1, 0xd, 1, 3, 1, 0x17, 1, 2, 1];
const INDEX: [u8; 16] = [
    6, 0xe, 0x2b, 0x34, 2, 0x53, 1, 1, 0xd, 1, 2, 1, 1, 0x10, 1, 0,
];

fn metadata(kind: u8) -> [u8; 16] {
    [
        6, 0xe, 0x2b, 0x34, 2, 0x53, 1, 1, 0xd, 1, 1, 1, 1, 1, kind, 0,
    ]
}

/// The header partition pack of the reference file.
fn partition() -> Vec<u8> {
    data("rack_48f.mxf")[..108].to_vec()
}

/// Sets of frame `n` of the reference stream.
fn frame(n: usize) -> Vec<u8> {
    data("rack_48f.klv")[n * 299..(n + 1) * 299].to_vec()
}

fn packet(ids: [u8; 2], data: &[u8]) -> Vec<u8> {
    [&ids[..], &[data.len() as u8], data].concat()
}

/// An ancillary element: a caption packet and the payload in packets of at most `size` bytes.
fn element(payload: &[u8], size: usize) -> Vec<u8> {
    let mut packets = vec![packet([0x61, 1], b"caption")];
    for (n, part) in payload.chunks(size).enumerate() {
        packets.push(packet([0x43, 5], &[&[n as u8 + 1][..], part].concat()));
    }
    let mut value = (packets.len() as u16).to_be_bytes().to_vec();
    for samples in packets {
        let padded = samples.len().next_multiple_of(4);
        value.extend_from_slice(&[0, 9, 1, 4]);
        value.extend_from_slice(&(samples.len() as u16).to_be_bytes());
        value.extend_from_slice(&(padded as u32).to_be_bytes());
        value.extend_from_slice(&1u32.to_be_bytes());
        value.extend_from_slice(&samples);
        value.resize(value.len() + padded - samples.len(), 0);
    }
    klv(ANCILLARY, &value)
}

fn references(ids: &[u8]) -> Vec<u8> {
    let mut bytes = (ids.len() as u32).to_be_bytes().to_vec();
    bytes.extend_from_slice(&16u32.to_be_bytes());
    ids.iter()
        .for_each(|id| bytes.extend_from_slice(&[*id; 16]));
    bytes
}

/// Header metadata of a material package with a time code track at 30000/1001, drop-frame, that
/// starts at frame 107,892.
fn header_metadata() -> Vec<u8> {
    let rate = [30_000u32, 1001].map(u32::to_be_bytes).concat();
    [
        klv(
            metadata(0x36),
            &items(&[(0x3c0a, &[1; 16]), (0x4403, &references(&[2]))]),
        ),
        klv(
            metadata(0x3b),
            &items(&[(0x3c0a, &[2; 16]), (0x4b01, &rate), (0x4803, &[3; 16])]),
        ),
        klv(
            metadata(0x0f),
            &items(&[(0x3c0a, &[3; 16]), (0x1001, &references(&[4]))]),
        ),
        klv(
            metadata(0x14),
            &items(&[
                (0x3c0a, &[4; 16]),
                (0x1501, &107_892u64.to_be_bytes()),
                (0x1502, &[0, 30]),
                (0x1503, &[1]),
            ]),
        ),
    ]
    .concat()
}

#[test]
fn ancillary_packets_are_joined_frame_by_frame() {
    let stream = flat(&read(&data("rack_48f.klv")).unwrap());
    for size in [1, 100, 254] {
        let mut file = partition();
        for n in 0..48 {
            file.extend(klv(PICTURE, &[0; 3000]));
            file.extend(element(&frame(n), size.max(2)));
            file.extend(klv(FILL, &[0; 40]));
        }
        let items = read(&file).unwrap();
        assert!(remarks(&items).is_empty());
        assert_eq!(flat(&items).columns, stream.columns, "{size}");
    }
}

#[test]
fn an_element_without_acquisition_packets_is_a_frame_without_values() {
    let mut file = partition();
    for n in 0..10 {
        file.extend(element(
            if n % 3 == 1 { frame(n) } else { vec![] }.as_slice(),
            254,
        ));
    }
    let read_back = flat(&read(&file).unwrap());
    assert_eq!(read_back.frames, 10);
    let distances = read_back.numbers("focus-distance");
    for (n, distance) in distances.into_iter().enumerate() {
        assert_eq!(distance.is_nan(), n % 3 != 1, "{n}");
    }
}

#[test]
fn damaged_packets_are_told_with_their_place() {
    let mut file = partition();
    file.extend(element(&frame(0)[..200], 254));
    file.extend(element(&frame(1), 254));
    let items = read(&file).unwrap();
    assert_eq!(
        told(&items),
        [("ancillary-packet".to_owned(), "error".to_owned())]
    );
    assert_eq!(remarks(&items)[0].at.as_ref().unwrap().offset, 108);
    assert_eq!(flat(&items).frames, 2);
    let mut broken = element(&frame(0), 254);
    let last = broken.len() - 200;
    broken.truncate(last);
    let length = (last - 20) as u32;
    broken[17..20].copy_from_slice(&length.to_be_bytes()[1..]);
    let items = read(&[partition(), broken, element(&frame(1), 254)].concat()).unwrap();
    assert_eq!(
        told(&items),
        [("ancillary-packet".to_owned(), "error".to_owned())]
    );
    assert_eq!(flat(&items).frames, 2);
}

#[test]
fn sets_in_two_places_are_read_from_the_first() {
    let file = [partition(), frame(0), element(&frame(1), 254), frame(2)].concat();
    let items = read(&file).unwrap();
    assert_eq!(
        told(&items),
        [("sets-in-two-places".to_owned(), "warning".to_owned())]
    );
    assert_eq!(flat(&items).numbers("focus-distance"), [0.9, 0.904]);
}

#[test]
fn time_comes_from_the_header_metadata() {
    let file = [partition(), header_metadata(), klv(PICTURE, b"x"), frame(0)].concat();
    let facts = flat(&read(&file).unwrap()).facts;
    // 01:00:00;00 is frame 107,892: PyPI opentimelineio and timecode agree.
    for fact in [
        "counting = \"drop-frame\" []",
        "frame-rate = \"30000/1001\" []",
        "start-timecode = \"01:00:00;00\" []",
    ] {
        assert!(facts.contains(&fact.to_owned()), "{facts:?}");
    }
    // A stream of its own keeps them in the private part.
    let written = common::write(&read(&file).unwrap()).unwrap();
    assert_eq!(flat(&read(&written).unwrap()).facts, facts);
}

#[test]
fn a_start_that_is_no_label_is_told() {
    let mut metadata = header_metadata();
    let end = metadata.len();
    // The rounded base, 30, becomes 25.
    assert_eq!(metadata[end - 6], 30);
    metadata[end - 6] = 25;
    let items = read(&[partition(), metadata, frame(0)].concat()).unwrap();
    assert_eq!(told(&items)[0].0, "timecode-label");
    let facts = flat(&items).facts;
    assert!(facts.iter().all(|f| !f.starts_with("start-timecode")));
    assert!(facts.iter().any(|f| f.starts_with("frame-rate")));
}

#[test]
fn bytes_in_front_of_the_header_partition() {
    let file = [vec![0x11; 5000], data("rack_48f.mxf")].concat();
    let items = read(&file).unwrap();
    assert!(remarks(&items).is_empty());
    assert_eq!(flat(&items).frames, 48);
}

#[test]
fn other_sets_of_a_container_are_no_extras() {
    let file = [partition(), frame(0), klv(INDEX, b"index"), frame(1)].concat();
    let read_back = flat(&read(&file).unwrap());
    assert_eq!(read_back.frames, 2);
    assert!(
        read_back
            .columns
            .keys()
            .all(|name| !name.starts_with("extra/set."))
    );
}

/// 25,000 frames of 4 MB and 18 sound elements, made as they are asked for.
struct LongTake {
    fetched: Rc<Cell<u64>>,
    reads: Rc<Cell<u64>>,
    head: Vec<u8>,
    /// What stands in a frame besides zeros: offset in the frame and bytes.
    parts: BTreeMap<u64, Vec<u8>>,
}

const FRAMES: u64 = 25_000;
const FRAME: u64 = 4_000_000;

impl LongTake {
    fn new(ancillary: bool) -> Self {
        let mut parts = BTreeMap::new();
        let sets = if ancillary {
            element(&frame(0), 254)
        } else {
            frame(0)
        };
        let mut head = |at: u64, key: [u8; 16], size: u64| {
            let mut bytes = key.to_vec();
            bytes.push(0x87);
            bytes.extend_from_slice(&(size - 24).to_be_bytes()[1..]);
            parts.insert(at, bytes);
            at + size
        };
        let mut at = 0;
        for _ in 0..18 {
            at = head(at, SOUND, 6000);
        }
        let picture = FRAME - at - sets.len() as u64;
        at = head(at, PICTURE, picture);
        parts.insert(at, sets);
        LongTake {
            fetched: Rc::default(),
            reads: Rc::default(),
            head: [partition(), header_metadata()].concat(),
            parts,
        }
    }
}

impl Input for LongTake {
    fn name(&self) -> String {
        "long.mxf".into()
    }
    fn size(&self) -> u64 {
        self.head.len() as u64 + FRAMES * FRAME
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        let length = u64::from(length).min(self.size() - offset);
        self.fetched.set(self.fetched.get() + length);
        self.reads.set(self.reads.get() + 1);
        let mut bytes = vec![0; length as usize];
        let mut put = |at: u64, part: &[u8]| {
            for (n, byte) in part.iter().enumerate() {
                if let Some(place) = (at + n as u64).checked_sub(offset)
                    && let Some(place) = bytes.get_mut(place as usize)
                {
                    *place = *byte;
                }
            }
        };
        put(0, &self.head);
        let body = self.head.len() as u64;
        let first = offset.saturating_sub(body) / FRAME;
        let last = (offset + length).saturating_sub(body) / FRAME;
        for n in first..=last.min(FRAMES - 1) {
            let start = body + n * FRAME;
            // Only parts that can reach into what was asked for.
            let from = offset.saturating_sub(start).saturating_sub(500);
            let to = (offset + length).saturating_sub(start);
            for (at, part) in self.parts.range(from..to.max(from)) {
                put(start + at, part);
            }
        }
        bytes
    }
}

#[test]
fn a_hundred_gigabytes_cost_their_keys() {
    for ancillary in [false, true] {
        let input = LongTake::new(ancillary);
        let (fetched, reads, size) = (
            Rc::clone(&input.fetched),
            Rc::clone(&input.reads),
            input.size(),
        );
        assert!(size > 100_000_000_000);
        let mut reader = SetReader::open(vec![Box::new(input)], "{}").unwrap();
        let mut frames = 0;
        while let Some(item) = reader.next().unwrap() {
            if let Item::Frames(batch) = item {
                assert!(
                    (1000..=8000).contains(&batch.count)
                        || frames + u64::from(batch.count) == FRAMES
                );
                frames += u64::from(batch.count);
            }
        }
        assert_eq!(frames, FRAMES);
        // 20 triplets a frame, of which one has sets: about 256 bytes a key.
        let keys = 20 * FRAMES;
        assert!(reads.get() <= keys + 2 * FRAMES, "{} reads", reads.get());
        assert!(fetched.get() <= 300 * keys, "{} bytes", fetched.get());
        assert!(fetched.get() < size / 500);
    }
}
