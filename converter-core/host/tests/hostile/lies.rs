//! Items that do not hold together, or speak of what does not exist.

use ringmark_host::MemorySource;
use ringmark_model::raw::RawItem;

use crate::guest::{Guest, good, load};
use crate::run::{contract_broken, fails, host, limits, read_all};

/// `next` that delivers a take first.
macro_rules! take_then {
    ($body:expr) => {
        concat!(
            "(if (i32.eqz (global.get $call)) (then (return (call $take)))) ",
            $body
        )
    };
}

#[track_caller]
fn lie(next: &'static str, found: &str) {
    contract_broken(
        &fails(Guest {
            next,
            ..Guest::default()
        }),
        found,
    );
}

#[test]
fn columns_of_another_length_than_stated() {
    lie(
        take_then!("(call $frames (i64.const 0) (i32.const 2) (call $column (i32.const 3)))"),
        "column 'ring' has 3 values where 2 are expected",
    );
}

#[test]
fn frames_that_are_not_the_next_ones() {
    lie(
        take_then!("(call $frames (i64.const 5) (i32.const 1) (i32.const 0))"),
        "starts at frame 5, but 0 frames came before it",
    );
    lie(
        take_then!("(call $frames (i64.const 0) (i32.const 1) (i32.const 0))"),
        "starts at frame 0, but 1 frames came before it",
    );
    lie(
        take_then!("(call $frames (i64.const -1) (i32.const 1) (i32.const 0))"),
        "starts at frame 18446744073709551615",
    );
}

#[test]
fn takes_and_lenses_that_were_not_delivered() {
    lie(
        "(call $frames (i64.const 0) (i32.const 1) (i32.const 0))",
        "frames of take 0, but 0 takes were delivered",
    );
    lie(
        take_then!(
            "(drop (call $frames (i64.const 0) (i32.const 1) (i32.const 0)))
            (i32.store (i32.const 280) (i32.const -1)) (i32.const 256)"
        ),
        "frames of take 4294967295",
    );
    lie(
        "(drop (call $take)) (i32.store8 (i32.const 280) (i32.const 1)) (i32.const 256)",
        "a take refers to lens 0, but 0 lenses were delivered",
    );
}

/// One frame with an offset, after ten bytes were read.
macro_rules! frame_at {
    ($offset:literal, $more:literal) => {
        take_then!(concat!(
            "(call $read (global.get $source) (i64.const 0) (i32.const 10) (i32.const 64))
            (drop (call $frames (i64.const 0) (i32.const 1) (i32.const 0)))
            (i64.store (i32.const 8192) (i64.const ",
            $offset,
            ")) (i32.store (i32.const 324) (i32.const 8192)) (i32.store (i32.const 328) (i32.const 1))",
            $more,
            "(i32.const 256)"
        ))
    };
}

#[test]
fn offsets_and_inputs_that_do_not_exist() {
    lie(frame_at!("11", ""), "byte 11 of input 0");
    lie(frame_at!("-1", ""), "byte 18446744073709551615 of input 0");
    // With an input for each frame.
    lie(
        frame_at!(
            "11",
            "(i32.store (i32.const 316) (i32.const 8200)) (i32.store (i32.const 320) (i32.const 1))"
        ),
        "byte 11 of input 0",
    );
    lie(
        frame_at!(
            "0",
            "(i32.store (i32.const 8200) (i32.const 1))
            (i32.store (i32.const 316) (i32.const 8200)) (i32.store (i32.const 320) (i32.const 1))"
        ),
        "frames of input 1, but there are 1 inputs",
    );
    lie(
        frame_at!("0", "(i32.store (i32.const 328) (i32.const 2))"),
        "1 frames states 2 offsets",
    );
}

#[test]
fn an_offset_at_the_end_is_no_lie() {
    let wasm = Guest {
        next: concat!(
            "(if (i32.eq (global.get $call) (i32.const 2)) (then (return (call $end))))",
            frame_at!("10", "")
        ),
        ..Guest::default()
    }
    .build();
    assert_eq!(read_all(&host(limits()), &wasm).unwrap().len(), 2);
}

#[test]
fn remarks_and_failures_about_places_that_do_not_exist() {
    lie(
        "(drop (call $item (i32.const 3))) (i32.store8 (i32.const 312) (i32.const 1))
        (i64.store (i32.const 328) (i64.const 8)) (i64.store (i32.const 336) (i64.const 3)) (i32.const 256)",
        "bytes 8 to 11 of input 0",
    );
    lie(
        "(drop (call $item (i32.const 3))) (i32.store8 (i32.const 312) (i32.const 1))
        (i64.store (i32.const 328) (i64.const 8)) (i64.store (i32.const 336) (i64.const -1)) (i32.const 256)",
        "of input 0, which do not exist",
    );
    lie(
        "(drop (call $fail)) (i32.store8 (i32.const 280) (i32.const 1))
        (i32.store (i32.const 288) (i32.const 3)) (i32.const 256)",
        "it says 'ring' about byte 0 of input 3",
    );
}

/// One frame with labels; the end of the first text is `$end`, its index `$index`.
macro_rules! labels {
    ($text:literal, $ends:literal, $end:literal, $indices:literal, $index:literal) => {
        take_then!(concat!(
            "(drop (call $frames (i64.const 0) (i32.const 1) (i32.const 0)))
            (i32.store (i32.const 8192) (i32.const ",
            $end,
            "))
            (i32.store (i32.const 8196) (i32.const 1))
            (i32.store (i32.const 8200) (i32.const ",
            $index,
            "))
            (i32.store16 (i32.const 1002) (i32.const 0xa9c3))
            (call $labels (i32.const ",
            $text,
            ") (i32.const 8192) (i32.const ",
            $ends,
            ")
                (i32.const 8200) (i32.const ",
            $indices,
            ")) (i32.const 256)"
        ))
    };
}

#[test]
fn labels_that_do_not_hold_together() {
    // The text is 'ri' and an e with an accent, two bytes.
    lie(labels!("4", "1", "9", "1", "0"), "byte 9 of 4");
    lie(labels!("4", "1", "-1", "1", "0"), "byte 4294967295 of 4");
    lie(labels!("4", "1", "3", "1", "0"), "byte 3 of 4");
    lie(labels!("4", "2", "4", "1", "0"), "byte 1 of 4, after 4");
    lie(labels!("4", "1", "2", "1", "0"), "the texts end at byte 2");
    lie(
        labels!("4", "1", "4", "1", "1"),
        "pick text 1, but there are 1",
    );
    lie(
        labels!("0", "0", "0", "1", "0"),
        "pick text 0, but there are 0",
    );
    lie(labels!("4", "1", "4", "2", "0"), "2 entries where 1 are");
}

#[test]
fn labels_that_are_not_recorded_need_no_text() {
    let wasm = Guest {
        next: concat!(
            "(if (i32.eq (global.get $call) (i32.const 2)) (then (return (call $end))))",
            labels!("0", "0", "0", "1", "-1")
        ),
        ..Guest::default()
    }
    .build();
    assert_eq!(read_all(&host(limits()), &wasm).unwrap().len(), 2);
}

#[test]
fn a_table_with_ragged_columns() {
    lie(
        "(memory.copy (i32.const 1132) (call $column (i32.const 3)) (i32.const 32))
        (drop (call $column (i32.const 2)))
        (memory.fill (i32.const 1400) (i32.const 0) (i32.const 24))
        (i32.store (i32.const 1416) (i32.const 1100)) (i32.store (i32.const 1420) (i32.const 2))
        (drop (call $item (i32.const 0)))
        (i32.store (i32.const 296) (i32.const 1400)) (i32.store (i32.const 300) (i32.const 1))
        (i32.const 256)",
        "3 values where 2 are expected",
    );
}

#[test]
fn names_and_messages_are_cleaned_and_limited() {
    // Check 'a ESC b', message 'ESC [2J, a mark that turns the direction, a line break'.
    let wasm = Guest {
        fields: r#"(data (i32.const 1300) "a\1bb\1b[2J\e2\80\aex\0ay")"#.into(),
        next: "(if (global.get $call) (then (return (call $end))))
            (drop (call $item (i32.const 3)))
            (i32.store (i32.const 288) (i32.const 1300)) (i32.store (i32.const 292) (i32.const 3))
            (i32.store (i32.const 296) (i32.const 1303)) (i32.store (i32.const 300) (i32.const 10))
            (i32.const 256)",
        ..Guest::default()
    }
    .build();
    let items = read_all(&host(limits()), &wasm).unwrap();
    let RawItem::Remark(remark) = &items[0] else {
        panic!("{items:?}")
    };
    assert_eq!(
        (remark.check.as_str(), remark.message.as_str()),
        ("ab", "[2Jx y")
    );
    lie(
        "(drop (call $item (i32.const 3)))
        (i32.store (i32.const 288) (i32.const 8192)) (i32.store (i32.const 292) (i32.const 5000))
        (i32.const 256)",
        "a name of 5000 bytes",
    );
}

#[test]
fn manifests_that_do_not_fit() {
    let fails = |manifest: &'static str, found: &str| {
        let wasm = Guest {
            manifest: Some(manifest),
            ..Guest::default()
        }
        .build();
        let host = host(limits());
        let error = load(&host, &wasm).err().unwrap();
        contract_broken(&error, found);
        assert!(!error.to_string().contains(char::is_control));
        assert_eq!(read_all(&host, &good()).unwrap().len(), 2);
    };
    let rest = r#""version":"1","contract":"1.0","title":"","about":"","carries":{}"#;
    // Leaked once a run, so that each case can be written as a manifest with a few holes.
    let manifest = |start: &str| -> &'static str { format!("{{{start},{rest}}}").leak() };
    fails("", "not as the schema wants it");
    fails("{}", "not as the schema wants it");
    fails("\u{1b}[2J", "not as the schema wants it");
    fails(
        manifest(r#""name":"../up","reads":true,"writes":false,"files":{"extensions":[]}"#),
        "'../up' is no name for a format",
    );
    fails(
        manifest(r#""name":"a\u202eb","reads":true,"writes":false,"files":{"extensions":[]}"#),
        "'ab' is no name for a format",
    );
    fails(
        manifest(r#""name":"a","reads":true,"writes":false,"files":{"extensions":["../../etc"]}"#),
        "no ending of file names",
    );
    fails(
        manifest(
            r#""name":"a","reads":true,"writes":false,"files":{"extensions":[],"magic":["0x"]}"#,
        ),
        "hexadecimal",
    );
    fails(
        manifest(r#""name":"a","reads":true,"writes":true,"files":{"extensions":[]}"#),
        "says that it writes, but it has nothing that does",
    );
}

#[test]
fn more_than_certain_is_a_lie() {
    let wasm = Guest {
        recognise: "(i32.const 101)",
        ..Guest::default()
    }
    .build();
    let plugin = load(&host(limits()), &wasm).unwrap();
    contract_broken(&plugin.recognise("a", b"").unwrap_err(), "101 % sure");
}

#[test]
fn arbitrary_bytes_as_an_item_never_harm() {
    // The input's bytes become the result of `next`, and the records it points to.
    let wasm = Guest {
        next: "(call $read (global.get $source) (i64.const 0) (i32.const 4096) (i32.const 64))
            (memory.copy (i32.const 256) (i32.load (i32.const 64)) (i32.const 4096))
            (i32.const 256)",
        ..Guest::default()
    }
    .build();
    let host = host(limits());
    let plugin = load(&host, &wasm).unwrap();
    let mut seed = 0x2545_f491_4f6c_dd1d_u64;
    let mut random = move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        seed
    };
    let mut accepted = 0;
    for _ in 0..2000 {
        // Mostly small numbers and pointers into the same bytes, so that much of it is sound.
        let mut bytes: Vec<u8> = (0..1024)
            .flat_map(|_| match random() % 8 {
                0 => (random() as u32).to_le_bytes(),
                1 => (256 + 8 * (random() % 400) as u32).to_le_bytes(),
                2 => ((random() % 4) as u32).to_le_bytes(),
                _ => [0; 4],
            })
            .collect();
        bytes[0] = (random() % 16 == 0).into();
        bytes[8] = 1;
        bytes[16] = (random() % 4) as u8;
        let source = MemorySource::new("bytes", bytes);
        let mut reading = plugin.read(vec![Box::new(source)], "{}").unwrap();
        for _ in 0..3 {
            match reading.next() {
                Ok(_) => accepted += 1,
                Err(error) => {
                    assert_eq!(error.plugin(), "hostile");
                    assert!(!error.to_string().contains(char::is_control));
                    break;
                }
            }
        }
    }
    assert!(
        accepted > 10,
        "some get through the first check: {accepted}"
    );
    assert_eq!(read_all(&host, &good()).unwrap().len(), 2);
}
