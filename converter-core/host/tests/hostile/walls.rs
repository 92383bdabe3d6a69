//! Endless and boundless plugins run into the walls.

use std::time::Duration;

use ringmark_host::{HostError, Limits, Wall};

use crate::guest::{Guest, good, load};
use crate::run::{fails, fails_within, host, limits, read_all, wall, writing_fails};

const FOREVER: &str = "(loop $again (br $again)) (unreachable)";

/// `next` that delivers a take and then, without end, what follows.
macro_rules! take_then {
    ($body:expr) => {
        concat!(
            "(if (i32.eqz (global.get $call)) (then (return (call $take)))) ",
            $body
        )
    };
}

#[test]
fn endless_loops_are_ended_wherever_they_are() {
    let cases = [
        Guest {
            next: FOREVER,
            ..Guest::default()
        },
        Guest {
            open: FOREVER,
            ..Guest::default()
        },
        Guest {
            describe: FOREVER,
            ..Guest::default()
        },
        Guest {
            fields: format!("(func $start {FOREVER}) (start $start)"),
            ..Guest::default()
        },
        Guest {
            realloc: FOREVER,
            ..Guest::default()
        },
    ];
    for case in cases {
        assert_eq!(wall(&fails(case)), Wall::Time);
    }
}

#[test]
fn an_endless_loop_in_recognising_is_ended() {
    let host = host(limits());
    let wasm = Guest {
        recognise: FOREVER,
        ..Guest::default()
    }
    .build();
    let plugin = load(&host, &wasm).unwrap();
    let error = plugin.recognise("a.test", b"0123").unwrap_err();
    assert_eq!(wall(&error), Wall::Time);
    assert_eq!(read_all(&host, &good()).unwrap().len(), 2);
}

#[test]
fn an_endless_loop_in_writing_is_ended() {
    for (put, finish) in [(FOREVER, "(call $done)"), ("(call $done)", FOREVER)] {
        let error = writing_fails(Guest {
            world: "format-writer",
            put,
            finish,
            ..Guest::default()
        });
        assert_eq!(wall(&error), Wall::Time);
    }
}

#[test]
fn time_is_counted_over_all_calls() {
    // Each batch takes a while, none of them forever.
    let error = fails_within(
        Limits {
            items: u64::MAX,
            output: u64::MAX,
            ..limits()
        },
        Guest {
            next: take_then!(
                "(loop $again
                    (local.set $at (i32.add (local.get $at) (i32.const 1)))
                    (br_if $again (i32.lt_u (local.get $at) (i32.const 1000000))))
                (call $frames (i64.extend_i32_u (i32.sub (global.get $call) (i32.const 1))) (i32.const 1) (i32.const 0))"
            ),
            ..Guest::default()
        },
    );
    assert_eq!(wall(&error), Wall::Time);
}

#[test]
fn endless_output_is_ended() {
    let error = fails(Guest {
        next: take_then!(
            "(call $frames (i64.mul (i64.const 1000) (i64.extend_i32_u (i32.sub (global.get $call) (i32.const 1)))) (i32.const 1000) (call $column (i32.const 1000)))"
        ),
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::Delivered);
}

#[test]
fn frames_without_columns_are_output_too() {
    let error = fails(Guest {
        next: take_then!(
            "(call $frames (i64.mul (i64.const 65536) (i64.extend_i32_u (i32.sub (global.get $call) (i32.const 1)))) (i32.const 65536) (i32.const 0))"
        ),
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::Delivered);
}

#[test]
fn endless_items_of_each_kind_are_ended() {
    for (next, expected) in [
        ("(call $item (i32.const 0))", Wall::Lenses),
        ("(call $item (i32.const 1))", Wall::Takes),
        ("(call $item (i32.const 3))", Wall::Remarks),
    ] {
        let error = fails(Guest {
            next,
            ..Guest::default()
        });
        assert_eq!(wall(&error), expected);
    }
    let few = Limits {
        items: 20,
        ..limits()
    };
    let endless = Guest {
        next: "(call $take)",
        ..Guest::default()
    };
    assert_eq!(wall(&fails_within(few, endless)), Wall::Items);
}

#[test]
fn endless_empty_batches_are_ended() {
    let error = fails(Guest {
        next: take_then!("(call $frames (i64.const 0) (i32.const 0) (i32.const 0))"),
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::EmptyBatches);
}

#[test]
fn endless_text_is_ended() {
    let error = fails(Guest {
        next: take_then!(
            "(drop (call $frames (i64.extend_i32_u (i32.sub (global.get $call) (i32.const 1))) (i32.const 1) (i32.const 0)))
            (i32.store (i32.const 8192) (i32.const 30000))
            (call $labels (i32.const 30000) (i32.const 8192) (i32.const 1) (i32.const 8196) (i32.const 1))
            (i32.store (i32.const 1216) (i32.const 20000))
            (i32.const 256)"
        ),
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::Text);
}

#[test]
fn two_gigabytes_of_aliased_text_do_not_cross() {
    // 60,000 columns, each of which calls the same 32 KiB its name.
    let error = fails_within(
        Limits {
            memory: 64 << 20,
            time: Duration::from_secs(60),
            ..limits()
        },
        Guest {
            memory: "(memory (export \"memory\") 64)",
            next: take_then!(
                "(local.set $at (i32.const 131072))
                (loop $again
                    (i32.store offset=4 (local.get $at) (i32.const 32768))
                    (local.set $at (i32.add (local.get $at) (i32.const 32)))
                    (br_if $again (i32.lt_u (local.get $at) (i32.const 2051072))))
                (drop (call $frames (i64.const 0) (i32.const 0) (i32.const 131072)))
                (i32.store (i32.const 304) (i32.const 60000))
                (i32.const 256)"
            ),
            ..Guest::default()
        },
    );
    assert_eq!(wall(&error), Wall::CallData);
}

#[test]
fn items_and_batches_have_a_largest_size() {
    let error = fails(Guest {
        memory: "(memory (export \"memory\") 16)",
        next: take_then!(
            "(memory.copy (i32.const 1400) (i32.const 1100) (i32.const 32))
            (drop (call $column (i32.const 65536)))
            (memory.copy (i32.const 1132) (i32.const 1100) (i32.const 32))
            (memory.copy (i32.const 1164) (i32.const 1100) (i32.const 32))
            (memory.copy (i32.const 1196) (i32.const 1100) (i32.const 32))
            (drop (call $frames (i64.const 0) (i32.const 65536) (i32.const 1100)))
            (i32.store (i32.const 304) (i32.const 3))
            (i32.const 256)"
        ),
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::ItemBytes);
    let error = fails(Guest {
        next: take_then!("(call $frames (i64.const 0) (i32.const 65537) (i32.const 0))"),
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::BatchFrames);
}

#[test]
fn memory_is_limited_at_the_start_and_as_it_grows() {
    let error = fails(Guest {
        next: "(loop $again (drop (memory.grow (i32.const 16))) (br $again)) (unreachable)",
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::Memory);
    let error = fails(Guest {
        memory: "(memory (export \"memory\") 65536)",
        ..Guest::default()
    });
    let HostError::Limit(hit) = &error else {
        panic!("{error:?}")
    };
    assert_eq!(
        (hit.wall, hit.asked, hit.allowed),
        (Wall::Memory, Some(4 << 30), 16 << 20)
    );
}

#[test]
fn tables_are_limited_at_the_start_and_as_they_grow() {
    let error = fails(Guest {
        fields: "(table $functions 1 funcref)".into(),
        next: "(loop $again (drop (table.grow $functions (ref.null func) (i32.const 1000))) (br $again)) (unreachable)",
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::TableEntries);
    let error = fails(Guest {
        fields: "(table 10000000 funcref)".into(),
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::TableEntries);
}

#[test]
fn many_tables_are_refused() {
    let error = fails(Guest {
        fields: "(table 1 funcref)".repeat(90),
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::Instances);
}

#[test]
fn endless_recursion_runs_out_of_stack() {
    let error = fails(Guest {
        fields: "(func $deeper (result i32) (i32.add (call $deeper) (i32.const 1)))".into(),
        next: "(call $deeper)",
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::Stack);
}

#[test]
fn a_flood_of_small_reads_is_ended() {
    let patient = || Limits {
        time: Duration::from_secs(60),
        ..limits()
    };
    for next in [
        "(loop $again (call $read (global.get $source) (i64.const 0) (i32.const 1) (i32.const 64)) (br $again)) (unreachable)",
        "(loop $again (drop (call $size (global.get $source))) (br $again)) (unreachable)",
        "(loop $again (call $log (i32.const 1000) (i32.const 4) (i32.const 1000) (i32.const 4)) (br $again)) (unreachable)",
    ] {
        let error = fails_within(
            patient(),
            Guest {
                next,
                ..Guest::default()
            },
        );
        assert_eq!(wall(&error), Wall::HostCalls);
    }
}

#[test]
fn reading_again_gives_no_more_room() {
    // The budget of output grows with the input, but not by reading it twice.
    let error = fails(Guest {
        next: take_then!(
            "(call $read (global.get $source) (i64.const 0) (i32.const 10) (i32.const 64))
            (call $frames (i64.mul (i64.const 1000) (i64.extend_i32_u (i32.sub (global.get $call) (i32.const 1)))) (i32.const 1000) (call $column (i32.const 1000)))"
        ),
        ..Guest::default()
    });
    let HostError::Limit(hit) = &error else {
        panic!("{error:?}")
    };
    assert_eq!(
        (hit.wall, hit.allowed),
        (Wall::Delivered, (1 << 20) + 10 * 64)
    );
}

#[test]
fn a_huge_read_is_refused() {
    let error = fails(Guest {
        next: "(call $read (global.get $source) (i64.const 0) (i32.const -1) (i32.const 64)) (call $end)",
        ..Guest::default()
    });
    assert_eq!(wall(&error), Wall::ReadLength);
}

#[test]
fn endless_writing_and_copying_is_ended() {
    for put in [
        "(loop $again (call $write (global.get $sink) (i32.const 0) (i32.const 60000)) (br $again)) (unreachable)",
        "(loop $again (call $copy (global.get $sink) (global.get $source) (i64.const 0) (i64.const 10)) (br $again)) (unreachable)",
    ] {
        let error = writing_fails(Guest {
            world: "format-writer",
            put,
            ..Guest::default()
        });
        assert!(
            matches!(wall(&error), Wall::Written | Wall::HostCalls),
            "{error}"
        );
    }
}
