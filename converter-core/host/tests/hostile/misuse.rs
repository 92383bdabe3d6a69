//! Crashes, handles used wrongly, ill-formed results.

use crate::guest::Guest;
use crate::run::{contract_broken, fails, trapped, writing_fails};

#[track_caller]
fn broken(next: &'static str, found: &str) {
    contract_broken(
        &fails(Guest {
            next,
            ..Guest::default()
        }),
        found,
    );
}

#[track_caller]
fn crash(next: &'static str, found: &str) {
    trapped(
        &fails(Guest {
            next,
            ..Guest::default()
        }),
        found,
    );
}

#[test]
fn crashes_say_what_happened() {
    crash("(unreachable)", "unreachable");
    crash("(i32.div_u (i32.const 1) (i32.const 0))", "divide by zero");
    crash("(i32.load (i32.const -4))", "out of bounds memory access");
    let anywhere = [
        Guest {
            open: "(unreachable)",
            ..Guest::default()
        },
        Guest {
            describe: "(unreachable)",
            ..Guest::default()
        },
        Guest {
            realloc: "(unreachable)",
            ..Guest::default()
        },
        Guest {
            fields: "(func $start (unreachable)) (start $start)".into(),
            ..Guest::default()
        },
    ];
    for guest in anywhere {
        trapped(&fails(guest), "unreachable");
    }
}

#[test]
fn the_text_of_a_panic_is_shown() {
    let error = fails(Guest {
        fields: r#"(data (i32.const 1300) "error") (data (i32.const 1310) "row 7 has \1b[31mno end\nat 12")"#
            .into(),
        next: "(call $log (i32.const 1300) (i32.const 5) (i32.const 1310) (i32.const 28)) (unreachable)",
        ..Guest::default()
    });
    trapped(
        &error,
        "it logged: error: row 7 has [31mno end | error: at 12",
    );
}

#[test]
fn the_stack_of_a_crash_names_functions() {
    let error = fails(Guest {
        fields: "(func $inner-part (unreachable))".into(),
        next: "(call $inner-part) (unreachable)",
        ..Guest::default()
    });
    let ringmark_host::HostError::Trapped { backtrace, .. } = error else {
        panic!("{error:?}")
    };
    assert!(backtrace.starts_with("inner-part\n"), "{backtrace}");
}

#[test]
fn handles_used_wrongly() {
    broken(
        "(call $drop (global.get $source)) (call $drop (global.get $source)) (unreachable)",
        "handle",
    );
    broken(
        "(call $drop (global.get $source))
        (call $read (global.get $source) (i64.const 0) (i32.const 1) (i32.const 64)) (unreachable)",
        "handle",
    );
    broken("(drop (call $size (i32.const 77))) (unreachable)", "handle");
    broken("(drop (call $size (i32.const 0))) (unreachable)", "handle");
    for open in [
        // A session that was never made, and one that is an input.
        "(drop (call $opened)) (i32.store (i32.const 264) (i32.const 99)) (i32.const 256)",
        "(drop (call $opened)) (i32.store (i32.const 264) (global.get $source)) (i32.const 256)",
    ] {
        let error = fails(Guest {
            open,
            ..Guest::default()
        });
        contract_broken(&error, "handle");
    }
}

#[test]
fn outputs_used_wrongly() {
    for put in [
        "(call $drop-sink (global.get $sink))
        (call $write (global.get $sink) (i32.const 0) (i32.const 1)) (unreachable)",
        // An input is no output.
        "(call $write (global.get $source) (i32.const 0) (i32.const 1)) (unreachable)",
    ] {
        let error = writing_fails(Guest {
            world: "format-writer",
            put,
            ..Guest::default()
        });
        contract_broken(&error, "handle");
    }
    let error = writing_fails(Guest {
        world: "format-writer",
        put: "(call $copy (global.get $sink) (global.get $source) (i64.const 4) (i64.const -1)) (unreachable)",
        ..Guest::default()
    });
    contract_broken(&error, "from 'take.test', which ends");
    let error = writing_fails(Guest {
        world: "format-writer",
        put: "(call $write (global.get $sink) (i32.const 1000) (i32.const 4)) (unreachable)",
        ..Guest::default()
    });
    trapped(&error, "unreachable");
}

#[test]
fn invalid_utf_8_in_text() {
    let error = fails(Guest {
        fields: r#"(data (i32.const 1300) "\ff\fe")"#.into(),
        next: "(drop (call $item (i32.const 3)))
            (i32.store (i32.const 296) (i32.const 1300)) (i32.store (i32.const 300) (i32.const 2))
            (i32.const 256)",
        ..Guest::default()
    });
    contract_broken(&error, "utf-8");
    let error = fails(Guest {
        fields: r#"(data (i32.const 1300) "\ff\fe")"#.into(),
        next: "(call $log (i32.const 1300) (i32.const 2) (i32.const 1300) (i32.const 2)) (unreachable)",
        ..Guest::default()
    });
    contract_broken(&error, "utf-8");
}

#[test]
fn pointers_and_lengths_outside_and_askew() {
    // Where the result is.
    broken("(i32.const 257)", "aligned");
    broken("(i32.const -8)", "out of bounds");
    // The list of columns.
    for (columns, count, found) in [
        (-8, 1, "out of bounds"),
        (1100, -1, "out of bounds"),
        (1101, 1, "aligned"),
    ] {
        let next: &str = format!(
            "(if (i32.eqz (global.get $call)) (then (return (call $take))))
            (drop (call $frames (i64.const 0) (i32.const 0) (i32.const {columns})))
            (i32.store (i32.const 304) (i32.const {count})) (i32.const 256)"
        )
        .leak();
        broken(next, found);
    }
    // Bytes to write, text to log.
    broken(
        "(call $log (i32.const 0) (i32.const -1) (i32.const -1) (i32.const 5)) (unreachable)",
        "out of bounds",
    );
    let error = writing_fails(Guest {
        world: "format-writer",
        put: "(call $write (global.get $sink) (i32.const 1000) (i32.const -1)) (unreachable)",
        ..Guest::default()
    });
    contract_broken(&error, "out of bounds");
}

#[test]
fn cases_that_do_not_exist() {
    for place in ["256", "264", "272"] {
        let next: &str = format!(
            "(drop (call $item (i32.const 0))) (i32.store8 (i32.const {place}) (i32.const 9)) (i32.const 256)"
        )
        .leak();
        broken(next, "discriminant");
    }
}

#[test]
fn room_that_is_none() {
    let error = fails(Guest {
        realloc: "(i32.const -16)",
        ..Guest::default()
    });
    contract_broken(&error, "realloc");
}

#[test]
fn a_failure_without_words_still_says_something() {
    let error = fails(Guest {
        next: "(drop (call $fail)) (i32.store (i32.const 268) (i32.const 0)) (i32.const 256)",
        ..Guest::default()
    });
    assert!(error.to_string().contains("cannot go on"), "{error}");
}
