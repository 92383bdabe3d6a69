//! Sound plugins get what the contract promises.

use std::io;

use ringmark_host::{FileSource, HostError, MemorySink, MemorySource, Source};
use ringmark_model::raw::{RawColumn, RawFrames, RawItem, RawTake};

use crate::guest::{Guest, good, load};
use crate::run::{host, inputs, limits, read_all};

#[test]
fn items_arrive_as_they_were_sent() {
    let items = read_all(&host(limits()), &good()).unwrap();
    let frames = RawFrames {
        count: 2,
        columns: vec![RawColumn {
            channel: "ring".into(),
            unit: "0..1".into(),
            reference: String::new(),
            values: vec![0.0, 0.0],
        }],
        ..RawFrames::default()
    };
    assert_eq!(
        items,
        [RawItem::Take(RawTake::default()), RawItem::Frames(frames)]
    );
}

#[test]
fn a_plugin_says_who_it_is() {
    let host = host(limits());
    let plugin = load(&host, &good()).unwrap();
    assert_eq!(plugin.manifest().name, "good");
    assert_eq!(plugin.identity().version, "1.0.0");
    assert_eq!(plugin.identity().sha256, crate::guest::sha256(&good()));
    assert!(plugin.describe().unwrap().contains("\"good\""));
    assert_eq!(plugin.recognise("a.test", b"0123").unwrap(), 50);
}

#[test]
fn not_a_number_and_infinity_cross_unharmed() {
    let wasm = Guest {
        fields: r#"(data (i32.const 8192) "\00\00\00\00\00\00\f8\7f\00\00\00\00\00\00\f0\7f")"#
            .into(),
        ..Guest::default()
    }
    .build();
    let items = read_all(&host(limits()), &wasm).unwrap();
    let RawItem::Frames(frames) = &items[1] else {
        panic!("{items:?}")
    };
    assert!(frames.columns[0].values[0].is_nan());
    assert_eq!(frames.columns[0].values[1], f64::INFINITY);
}

#[test]
fn the_plugins_own_error_is_about_the_input() {
    let wasm = Guest {
        next: "(drop (call $fail)) (i32.store8 (i32.const 280) (i32.const 1))
            (i64.store (i32.const 296) (i64.const 4)) (i64.store (i32.const 304) (i64.const 6))
            (i32.const 256)",
        ..Guest::default()
    }
    .build();
    let HostError::Input(failure) = read_all(&host(limits()), &wasm).unwrap_err() else {
        panic!("not an error about the input")
    };
    assert_eq!(failure.message, "ring");
    let place = failure.place.unwrap();
    assert_eq!((place.input, place.offset, place.length), (0, 4, 6));
}

#[test]
fn reads_past_the_end_are_empty() {
    // The lengths of reads at 5 for 10 bytes, at 10, and far away come back as frame counts.
    let wasm = Guest {
        next: "(if (i32.eqz (global.get $call)) (then (return (call $take))))
            (if (i32.eq (global.get $call) (i32.const 1)) (then
                (call $read (global.get $source) (i64.const 5) (i32.const 10) (i32.const 64))
                (return (call $frames (i64.const 0) (i32.load (i32.const 68)) (call $column (i32.load (i32.const 68)))))))
            (if (i32.eq (global.get $call) (i32.const 2)) (then
                (call $read (global.get $source) (i64.const 10) (i32.const 10) (i32.const 64))
                (if (i32.load (i32.const 68)) (then unreachable))
                (call $read (global.get $source) (i64.const -1) (i32.const 10) (i32.const 64))
                (if (i32.load (i32.const 68)) (then unreachable))))
            (call $end)",
        ..Guest::default()
    }
    .build();
    let host = host(limits());
    let items = read_all(&host, &wasm).unwrap();
    assert!(matches!(&items[1], RawItem::Frames(frames) if frames.count == 5));

    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), b"0123456789").unwrap();
    let plugin = load(&host, &wasm).unwrap();
    let mut reading = plugin
        .read(vec![Box::new(FileSource::new(file.path()))], "{}")
        .unwrap();
    let mut count = 0;
    while reading.next().unwrap().is_some() {
        count += 1;
    }
    assert_eq!(count, 2);
}

#[test]
fn a_writer_writes_and_copies() {
    let wasm = Guest {
        world: "format-writer",
        put: "(call $write (global.get $sink) (i32.const 1000) (i32.const 4)) (call $done)",
        finish: "(call $copy (global.get $sink) (global.get $source) (i64.const 2) (i64.const 5))
            (call $done)",
        ..Guest::default()
    }
    .build();
    let plugin = load(&host(limits()), &wasm).unwrap();
    let sink = MemorySink::new();
    let mut writing = plugin
        .write(vec![Box::new(sink.clone())], inputs(), "{}")
        .unwrap();
    for _ in 0..2 {
        writing.put(RawItem::Take(RawTake::default())).unwrap();
    }
    writing.finish().unwrap();
    assert_eq!(sink.take(), b"ringring23456");
}

#[test]
fn what_a_plugin_has_not_is_unsupported() {
    let plugin = load(&host(limits()), &good()).unwrap();
    let error = plugin.write(Vec::new(), Vec::new(), "{}").err().unwrap();
    assert!(matches!(&error, HostError::Unsupported { .. }), "{error:?}");
}

struct Broken;

impl Source for Broken {
    fn name(&self) -> String {
        "broken\u{1b}[2J.test".into()
    }
    fn size(&mut self) -> io::Result<u64> {
        Err(io::Error::other("no size"))
    }
    fn read(&mut self, _: u64, _: u32) -> io::Result<Vec<u8>> {
        Err(io::Error::other("disk on fire"))
    }
}

#[test]
fn a_file_that_cannot_be_read_is_the_machines_fault() {
    let plugin = load(&host(limits()), &good()).unwrap();
    let mut reading = plugin.read(vec![Box::new(Broken)], "{}").unwrap();
    reading.next().unwrap();
    let error = reading.next().unwrap_err();
    assert!(matches!(error, HostError::Machine { .. }), "{error:?}");
    assert_eq!(
        error.to_string(),
        "reading 'broken[2J.test': disk on fire (plugin 'good')"
    );
    assert!(reading.next().is_err());
}

#[test]
fn many_files_at_once_and_in_threads() {
    let plugin = load(&host(limits()), &good()).unwrap();
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                let mut first = plugin.read(inputs(), "{}").unwrap();
                let mut second = plugin.read(inputs(), "{}").unwrap();
                for reading in [&mut first, &mut second] {
                    assert!(reading.next().unwrap().is_some());
                }
                for reading in [&mut first, &mut second] {
                    assert!(reading.next().unwrap().is_some());
                    assert!(reading.next().unwrap().is_none());
                }
            });
        }
    });
}

#[test]
fn a_second_reading_starts_afresh() {
    let plugin = load(&host(limits()), &good()).unwrap();
    for bytes in [b"0123".as_slice(), b"4567"] {
        let source = MemorySource::new("a", bytes);
        let mut reading = plugin.read(vec![Box::new(source)], "{}").unwrap();
        let first = reading.next().unwrap().unwrap();
        assert!(matches!(first, RawItem::Take(_)));
    }
}
