//! Bytes that mean harm: no panic, no large allocation.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use std::sync::LazyLock;

use common::{Parts, TakeOf, bytes, data, exr_files, read};
use proptest::prelude::*;
use ringmark_sdk::{Input, Reader};

static SAMPLES: LazyLock<Vec<Vec<u8>>> = LazyLock::new(|| {
    let mut names = exr_files("");
    names.push("rack_df2997/rack_df2997.1001.exr".to_owned());
    names.extend(exr_files("malformed/"));
    let mut files: Vec<_> = names.iter().map(|name| bytes(name)).collect();
    files.push(with_private_attributes());
    files
});

/// A file whose take is more than the standard has attributes for.
fn with_private_attributes() -> Vec<u8> {
    let take = TakeOf::default()
        .number("frame", "", &[7.0])
        .text("timecode", "01:00:00:90")
        .text("source-file", "x.1001.exr")
        .distance("near-limit", "front-vertex", &[2.0])
        .number("extra/sensorCenterOffset.0", "um", &[0.1])
        .number("extra/\u{1}", "N", &[0.5])
        .texts("extra/list", "json", &[Some("[1]")])
        .fact("clip", "A017")
        .lens_fact("lens-kind", "prime");
    common::write(&[("x.7.exr", &data("two_views.exr"))], take.alone())
        .unwrap()
        .remove(0)
}

/// Cut at every byte: refused inside the header, read behind it, and nothing else.
#[test]
fn truncation_at_every_byte() {
    for sample in SAMPLES.iter().filter(|s| read(&[("x.exr", s)]).is_ok()) {
        let mut read_at = None;
        for length in 0..sample.len().min(12_000) {
            match read(&[("x.1.exr", &sample[..length])]) {
                Ok(_) => {
                    read_at.get_or_insert(length);
                }
                Err(failure) => {
                    assert_eq!(read_at, None, "cut at {length}");
                    assert!(failure.at.unwrap().offset <= length as u64);
                }
            }
        }
        assert!(read_at.is_some(), "the header is shorter than the file");
    }
}

/// Cut, then after a whole file of the same kind: the way of the expected order.
#[test]
fn truncation_behind_a_whole_file() {
    let whole = Parts::reference().build();
    for length in 0..whole.len() {
        let result = read(&[("x.1.exr", &whole), ("x.2.exr", &whole[..length])]);
        assert!(result.is_ok() || result.unwrap_err().at.unwrap().input == 1);
    }
}

/// A file that says it is endless and gives what it is asked for.
struct Endless {
    head: Vec<u8>,
    asked: std::rc::Rc<std::cell::Cell<u64>>,
}

impl Input for Endless {
    fn name(&self) -> String {
        "x.exr".to_owned()
    }
    fn size(&self) -> u64 {
        u64::MAX
    }
    fn read(&self, offset: u64, length: u32) -> Vec<u8> {
        self.asked.set(self.asked.get() + u64::from(length));
        let byte = |at: u64| self.head.get(at as usize).copied().unwrap_or(b'a');
        (offset..offset + u64::from(length)).map(byte).collect()
    }
}

#[test]
fn huge_sizes_are_refused_before_they_are_read() {
    for size in [i32::MAX, 1 << 30, 17 << 20] {
        let mut head = b"\x76\x2f\x31\x01\x02\0\0\0note\0string\0".to_vec();
        head.extend(size.to_le_bytes());
        let asked = std::rc::Rc::default();
        let input = Endless {
            head,
            asked: std::rc::Rc::clone(&asked),
        };
        let mut sequence = ringmark_openexr::Sequence::open(vec![Box::new(input)], "{}").unwrap();
        let failure = sequence.next().unwrap_err();
        assert!(
            failure.message.contains("larger than 16 MiB"),
            "{}",
            failure.message
        );
        assert_eq!(asked.get(), 4096);
    }
}

#[test]
fn a_header_without_end_is_refused() {
    let row = b"a\0int\0\x04\0\0\0abcd";
    let mut file = b"\x76\x2f\x31\x01\x02\0\0\0".to_vec();
    (0..1_200_000).for_each(|_| file.extend(row));
    let failure = read(&[("x.exr", &file)]).unwrap_err();
    assert!(
        failure.message.contains("more than 16384 attributes"),
        "{}",
        failure.message
    );
    let mut file = b"\x76\x2f\x31\x01\x02\0\0\0".to_vec();
    for n in 0..10_000 {
        file.extend(format!("a{n}\0int\0\x04\0\0\0abcd").as_bytes());
    }
    let failure = read(&[("x.exr", &file)]).unwrap_err();
    assert!(failure.message.contains("4096"), "{}", failure.message);
}

#[test]
fn headers_of_very_many_numbers_come_in_small_batches() {
    let matrix = [0u8; 64];
    let mut parts = Parts::reference();
    for n in 0..2000 {
        parts = parts.also(&format!("m{n}"), "m44f", &matrix);
    }
    let file = parts.build();
    let files: Vec<_> = (0..64).map(|_| ("x.1.exr", file.as_slice())).collect();
    let reading = read(&files).unwrap();
    assert!(reading.frames.iter().all(|f| f.count <= 33));
}

proptest! {
    #[test]
    fn random_bytes_behind_the_version(rest in proptest::collection::vec(any::<u8>(), 0..400), flags in 0..32u8) {
        let mut file = b"\x76\x2f\x31\x01\x02\0\0\0".to_vec();
        file[5] = flags;
        file.extend(rest);
        let _ = read(&[("x.exr", &file)]);
    }

    #[test]
    fn flipped_bytes(sample in 0..usize::MAX, flips in proptest::collection::vec((0..4000usize, any::<u8>()), 1..12)) {
        let sample = &SAMPLES[sample % SAMPLES.len()];
        prop_assume!(!sample.is_empty());
        let mut file = sample.clone();
        for (at, byte) in flips {
            let at = at % file.len();
            file[at] = byte;
        }
        // Before, between and behind whole files.
        let _ = read(&[("x.1.exr", sample), ("x.2.exr", &file), ("x.3.exr", sample)]);
        let _ = read(&[("x.1.exr", &file), ("x.2.exr", sample)]);
    }
}

/// One value of the reference header, or its absence.
fn edit() -> impl Strategy<Value = (usize, Option<Vec<u8>>)> {
    let float = prop_oneof![
        Just(2.0f32),
        Just(f32::NAN),
        Just(f32::INFINITY),
        0.1f32..9.0
    ];
    let time = prop_oneof![Just(0x0100_5940u32), Just(0x0100_593f), Just(0x2500_5900)];
    prop_oneof![
        (0..3usize, float).prop_map(|(n, value)| (n, Some(value.to_le_bytes().to_vec()))),
        (0..5usize).prop_map(|n| (n, None)),
        (time, 0..3u32).prop_map(|(time, user)| {
            (3, Some([time.to_le_bytes(), user.to_le_bytes()].concat()))
        }),
        "[AB]{1,2}".prop_map(|text| (4, Some(text.into_bytes()))),
    ]
}

const EDITED: [(&str, &str, &str); 5] = [
    ("focus", "float", "focus-distance"),
    ("tStop", "float", "t-stop"),
    ("halden.own", "float", "extra/halden.own"),
    ("timeCode", "timecode", "timecode"),
    ("lensModel", "string", "lens-model"),
];

proptest! {
    /// A file gives the same values inside a sequence, where it is compared with the one before, as alone.
    #[test]
    fn a_sequence_is_read_as_its_files_are(edits in proptest::collection::vec(proptest::collection::vec(edit(), 0..3), 1..12)) {
        let mut parts = Parts::reference();
        let files: Vec<_> = edits
            .iter()
            .map(|edits| {
                for (n, value) in edits {
                    let (name, kind, _) = EDITED[*n];
                    parts = match value {
                        Some(value) => parts.clone().with(name, kind, value),
                        None => parts.clone().without(name),
                    };
                }
                parts.build()
            })
            .collect();
        let list: Vec<_> = files.iter().map(|file| ("x.1.exr", file.as_slice())).collect();
        let together = read(&list).unwrap();
        for (frame, file) in list.iter().enumerate() {
            let alone = read(&[*file]).unwrap();
            for (_, _, channel) in EDITED {
                let numbers = together.numbers(0, channel)[frame].to_bits();
                prop_assert_eq!(numbers, alone.numbers(0, channel)[0].to_bits(), "{}", channel);
                let text = together.texts(0, channel)[frame].clone();
                prop_assert_eq!(text, alone.text(0, channel), "{}", channel);
            }
            let bits = together.numbers(0, "extra/timeCode.userData")[frame].to_bits();
            prop_assert_eq!(bits, alone.numbers(0, "extra/timeCode.userData")[0].to_bits());
        }
        // Every fault is counted wherever it stands.
        let alone = list.iter().map(|file| {
            read(&[*file]).unwrap().checks().iter().filter(|c| **c == "value-not-a-number").count()
        });
        let nan = together.remarks.iter().filter(|r| r.check == "value-not-a-number");
        let counted = nan.map(|r| match r.severity.as_str() {
            "note" => r.message.split("same ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap(),
            _ => 1usize,
        });
        prop_assert_eq!(counted.sum::<usize>(), alone.sum::<usize>());
    }
}
