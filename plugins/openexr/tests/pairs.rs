//! Which frame goes into which file, and what is refused.
#![allow(clippy::unwrap_used, missing_docs)]

mod common;

use common::{Layout, Parts, TakeOf, bytes, data, exr_files, items, json, write, write_one};
use ringmark_sdk::{Failure, Item};

fn numbered(names: &[&str]) -> Result<Vec<Vec<u8>>, Failure> {
    let template = data("scan_zip.exr");
    let files: Vec<_> = names
        .iter()
        .map(|name| (*name, template.as_slice()))
        .collect();
    write(&files, three().alone())
}

fn three() -> TakeOf {
    TakeOf::default()
        .number("frame", "", &[1001.0, 1002.0, 1003.0])
        .number("focus-distance", "m", &[1.0, 2.0, 3.0])
}

#[test]
fn by_number_in_any_order() {
    let files = numbered(&["p.1003.exr", "p.1001.exr", "p.1002.exr"]).unwrap();
    let focus: Vec<_> = files
        .iter()
        .map(|file| Layout::of(file).float(0, "focus").unwrap())
        .collect();
    assert_eq!(focus, [3.0, 1.0, 2.0]);
}

#[test]
fn what_is_left_over_is_named_in_ranges() {
    let names: Vec<_> = (1002..=1010).map(|n| format!("p.{n}.exr")).collect();
    let names: Vec<_> = names.iter().map(String::as_str).collect();
    let failure = numbered(&names).unwrap_err();
    assert_eq!(
        failure.message,
        "1 frame has no file: 1001; 7 files have no frame: 1004-1010"
    );
}

#[test]
fn by_time_code_before_the_number() {
    let plain = data("scan_zip.exr");
    let label = |label: &str| {
        let take = TakeOf::default()
            .number("frame", "", &[1001.0])
            .text("timecode", label);
        write_one(&plain, take.alone()).unwrap()
    };
    let (a, b) = (label("01:00:00:00"), label("01:00:00:01"));
    let take = TakeOf::default()
        .number("frame", "", &[2.0, 1.0])
        .texts(
            "timecode",
            "text",
            &[Some("01:00:00:00"), Some("01:00:00:01")],
        )
        .number("focus-distance", "m", &[5.0, 6.0]);
    let files = write(&[("p.1.exr", &a), ("p.2.exr", &b)], take.alone()).unwrap();
    let focus = |file: &[u8]| Layout::of(file).float(0, "focus").unwrap();
    assert_eq!((focus(&files[0]), focus(&files[1])), (5.0, 6.0));
}

/// The field flag tells two frames apart that share the digits.
#[test]
fn by_time_code_above_30_frames() {
    let plain = data("scan_zip.exr");
    let names = ["p.7.exr", "p.8.exr"];
    let codes = [Some("01:00:00:00"), Some("01:00:00:01")];
    let labels = TakeOf::default()
        .number("frame", "", &[7.0, 8.0])
        .texts("timecode", "text", &codes)
        .fact("frame-rate", "50");
    let files = write(&[(names[0], &plain), (names[1], &plain)], labels.alone()).unwrap();
    let turned = TakeOf::default()
        .texts("timecode", "text", &[codes[1], codes[0]])
        .number("focus-distance", "m", &[1.0, 2.0]);
    let files = write(
        &[(names[0], &files[0]), (names[1], &files[1])],
        turned.alone(),
    )
    .unwrap();
    let focus = |file: &[u8]| Layout::of(file).float(0, "focus").unwrap();
    assert_eq!((focus(&files[0]), focus(&files[1])), (2.0, 1.0));
}

#[test]
fn two_frames_for_one_file_are_refused() {
    let take = TakeOf::default().number("frame", "", &[7.0, 7.0]);
    let failure = write(&[("p.7.exr", &data("scan_zip.exr"))], take.alone()).unwrap_err();
    assert!(
        failure
            .message
            .contains("two frames for the file 'p.7.exr'"),
        "{}",
        failure.message
    );
}

#[test]
fn no_file_and_no_frame_are_refused() {
    let failure = write(&[], three().alone()).unwrap_err();
    assert!(
        failure.message.contains("there are none"),
        "{}",
        failure.message
    );
    let failure = write_one(&data("scan_zip.exr"), Vec::new()).unwrap_err();
    assert!(
        failure.message.contains("no frame to write"),
        "{}",
        failure.message
    );
}

#[test]
fn frames_before_their_take_are_refused() {
    let mut items = three().alone();
    items.remove(0);
    let failure = write_one(&data("scan_zip.exr"), items).unwrap_err();
    assert!(
        failure.message.contains("before the head"),
        "{}",
        failure.message
    );
}

/// Damaged batches are refused, never trusted.
#[test]
fn batches_that_do_not_fit_are_refused() {
    let change = |change: fn(&mut ringmark_sdk::Frames)| {
        let take = TakeOf::default()
            .number("frame", "", &[1001.0])
            .text("lens", "A");
        let mut items = take.alone();
        let Some(Item::Frames(frames)) = items.last_mut() else {
            panic!("no frames");
        };
        change(frames);
        write_one(&data("scan_zip.exr"), items).unwrap_err().message
    };
    assert!(change(|f| f.columns[0].values.clear()).contains("0 values in a batch of 1"));
    assert!(change(|f| f.labels[0].index[0] = 9).contains("not there"));
    assert!(change(|f| f.labels[0].ends[0] = 99).contains("not there"));
    assert!(change(|f| f.labels[0].form = "xml".to_owned()).contains("'xml'"));
    assert!(change(|f| f.columns.push(f.columns[0].clone())).contains("two columns"));
}

/// Source of what is expected: `malformed/exr.expected.json`, rules of the reference library's source.
#[test]
fn damaged_files_are_refused_by_name() {
    let expected = json("malformed/exr.expected.json");
    let good = bytes("rack_df2997/rack_df2997.1001.exr");
    let mut refused = 0;
    for name in exr_files("malformed/") {
        let short = name.rsplit('/').next().unwrap();
        let should = expected[short]["our_reader_should"].as_str().unwrap();
        let files = [("x.1.exr", good.as_slice()), (short, &bytes(&name))];
        let take = TakeOf::default().number("frame", "", &[1.0]);
        match (should, write(&files, take.alone())) {
            ("reject", Err(failure)) => {
                assert!(failure.message.contains(short), "{}", failure.message);
                assert_eq!(failure.at.unwrap().input, 1);
                refused += 1;
            }
            ("reject", Ok(_)) => panic!("{name} is taken"),
            // What is readable is refused for the missing frame.
            (_, Err(_)) => {}
            (_, Ok(_)) => panic!("{name} has no frame"),
        }
    }
    assert!(refused > 5);
}

/// Chunk offsets that lie outside, and headers that say other things than the tables.
#[test]
fn tables_that_do_not_fit_are_refused() {
    let message = |file: &[u8]| {
        let take = TakeOf::default()
            .number("frame", "", &[1001.0])
            .number("t-stop", "T", &[2.0]);
        let failure = write_one(file, take.alone()).unwrap_err();
        assert!(
            failure.message.starts_with("'x.1001.exr': "),
            "{}",
            failure.message
        );
        failure.message
    };
    let file = data("scan_no.exr");
    let start = Layout::of(&file).end as usize - 8 * 37;
    for offset in [1u64, start as u64, u64::MAX, file.len() as u64] {
        let mut bad = file.clone();
        bad[start + 8..start + 16].copy_from_slice(&offset.to_le_bytes());
        assert!(message(&bad).contains(&format!("is {offset}")));
    }
    assert!(message(&file[..start + 20]).contains("past the end of the file"));
    let mut parts = Parts::of(&file);
    parts = parts.with("dataWindow", "box2i", &[0; 16]);
    let turned = [0i32, 5, 0, 1].map(i32::to_le_bytes).concat();
    let empty = parts.clone().with("dataWindow", "box2i", &turned).build();
    assert!(message(&empty).contains("no area"));
    let huge = [0i32, 0, 0, i32::MAX].map(i32::to_le_bytes).concat();
    let huge = parts.with("dataWindow", "box2i", &huge).build();
    assert!(message(&huge).contains("2147483648 chunks"));
    let parts = Parts::of(&data("deep_scan.exr"));
    let wrong = parts.with("chunkCount", "int", &[9, 0, 0, 0]).build();
    assert!(message(&wrong).contains("chunkCount is 9, the image has 4 chunks"));
}

/// A compression of the future: the count of chunks must be said.
#[test]
fn unknown_ways_of_storing_pixels() {
    let take = || {
        TakeOf::default()
            .number("frame", "", &[1001.0])
            .number("t-stop", "T", &[2.0])
    };
    let parts = Parts::of(&data("scan_no.exr")).with("compression", "compression", &[99]);
    let failure = write_one(&parts.build(), take().alone()).unwrap_err();
    assert!(failure.message.contains("not known"), "{}", failure.message);
    let parts = Parts::of(&data("deep_scan.exr")).with("type", "string", b"deepscanlin2");
    let file = parts.build();
    let copy = write_one(&file, take().alone()).unwrap();
    assert_eq!(Layout::of(&copy).chunks, Layout::of(&file).chunks);
}

/// Cut anywhere, changed anywhere: written or refused, never more.
#[test]
fn truncation_and_changes_at_every_byte() {
    for name in ["two_views.exr", "deep_tile.exr", "tiled_mip_up.exr"] {
        let file = data(name);
        let take = || {
            TakeOf::default()
                .number("frame", "", &[1001.0])
                .number("t-stop", "T", &[2.0])
                .alone()
        };
        for at in 0..file.len() {
            let _ = write_one(&file[..at], take());
            let mut flipped = file.clone();
            flipped[at] ^= 0x41;
            let _ = write_one(&flipped, take());
        }
    }
}

/// Only header, tables and one copy: nothing else of a template is asked for.
#[test]
fn pixels_are_copied_and_never_read() {
    use ringmark_sdk::{Input, Output, Writer};
    use std::cell::RefCell;
    use std::rc::Rc;
    struct Watched(Vec<u8>, Rc<RefCell<Vec<(u64, u64)>>>);
    impl Input for Watched {
        fn name(&self) -> String {
            "x.1001.exr".to_owned()
        }
        fn size(&self) -> u64 {
            1 << 33
        }
        fn read(&self, offset: u64, length: u32) -> Vec<u8> {
            self.1.borrow_mut().push((offset, u64::from(length)));
            let mut bytes = self.0.clone();
            bytes.resize((offset + u64::from(length)) as usize, 0);
            bytes.split_off(offset as usize)
        }
    }
    struct Noted(Rc<RefCell<Vec<(u64, u64)>>>);
    impl Output for Noted {
        fn write(&mut self, _: &[u8]) {}
        fn copy_from(&mut self, _: &dyn Input, offset: u64, length: u64) {
            self.0.borrow_mut().push((offset, length));
        }
    }
    let file = data("scan_no.exr");
    let end = Layout::of(&file).end;
    let (reads, copies) = (Rc::default(), Rc::default());
    let input = Box::new(Watched(file, Rc::clone(&reads)));
    let output = Box::new(Noted(Rc::clone(&copies)));
    let mut writer = ringmark_openexr::Copies::open(vec![output], vec![input], "{}").unwrap();
    let take = TakeOf::default()
        .number("frame", "", &[1001.0])
        .number("t-stop", "T", &[2.0]);
    for item in take.alone() {
        writer.put(item).unwrap();
    }
    writer.finish().unwrap();
    assert_eq!(*copies.borrow(), [(end, (1 << 33) - end)]);
    let reads = reads.borrow();
    assert!(reads.len() == 3 && reads[1].1 < 1024, "{reads:?}");
    assert_eq!(reads[2], (end - 8 * 37, 8 * 37));
}

/// A sequence gives the same files in batches of any size.
#[test]
fn batches_of_any_size() {
    let names = exr_files("rack_df2997/");
    let contents: Vec<_> = names.iter().map(|name| bytes(name)).collect();
    let list: Vec<_> = names
        .iter()
        .zip(&contents)
        .map(|(name, bytes)| (name.rsplit('/').next().unwrap(), bytes.as_slice()))
        .collect();
    let plain: Vec<_> = list
        .iter()
        .map(|(name, _)| (*name, data("scan_no.exr")))
        .collect();
    let plain: Vec<_> = plain
        .iter()
        .map(|(name, file)| (*name, file.as_slice()))
        .collect();
    let whole = write(&plain, items(&list)).unwrap();
    for size in [1, 7, 47] {
        let mut cut = Vec::new();
        for item in items(&list) {
            match item {
                Item::Frames(frames) => {
                    cut.extend(common::slices(&frames, size).into_iter().map(Item::Frames))
                }
                item => cut.push(item),
            }
        }
        assert!(write(&plain, cut).unwrap() == whole, "{size}");
    }
}
