//! Files that are no plugins of this contract, or not ones to be compiled.

use std::time::{Duration, Instant};

use ringmark_host::{Host, HostError, Limits, PluginLimits, Wall};

use crate::guest::{Guest, contract_version, good, load, sha256};
use crate::run::{bytes_fail, host, limits, read_all, unsupported, wall};

fn component(text: &str) -> Vec<u8> {
    wat::parse_str(text).unwrap()
}

#[test]
fn what_is_no_component() {
    unsupported(&bytes_fail(limits(), b""), "no WebAssembly component");
    unsupported(
        &bytes_fail(limits(), b"# a table"),
        "no WebAssembly component",
    );
    unsupported(&bytes_fail(limits(), &component("(module)")), "core module");
    unsupported(
        &bytes_fail(limits(), &component("(component)")),
        "no format plugin",
    );
}

#[test]
fn a_truncated_plugin_is_refused() {
    let wasm = good();
    let whole = Host::inspect(&wasm, &Limits::default()).unwrap();
    let mut whole_enough = 0;
    for length in 0..wasm.len() {
        match Host::inspect(&wasm[..length], &Limits::default()) {
            Err(HostError::Unsupported { .. }) => {}
            // Only sections with remarks about the plugin's making come after the last export.
            Ok(cut) if cut.exports == whole.exports => whole_enough += 1,
            other => panic!("{length}: {other:?}"),
        }
    }
    assert!(whole_enough < 5, "{whole_enough}");
}

#[test]
fn a_damaged_plugin_never_harms() {
    let wasm = good();
    let host = host(limits());
    for place in (0..wasm.len() * 8).step_by(wasm.len() * 8 / 300) {
        let mut damaged = wasm.clone();
        damaged[place / 8] ^= 1 << (place % 8);
        // Some damage does not matter, such as that to names of functions.
        if let Err(error) = read_all(&host, &damaged) {
            assert!(!error.to_string().contains(char::is_control));
        }
    }
    assert_eq!(read_all(&host, &wasm).unwrap().len(), 2);
}

/// A component with these imports that claims to be a reader.
fn asking_for(imports: &str) -> Vec<u8> {
    component(&format!(
        r#"(component {imports} (instance $nothing)
            (export "ringmark:format/about@1.0.0" (instance $nothing))
            (export "ringmark:format/reader@1.0.0" (instance $nothing)))"#
    ))
}

#[test]
fn nothing_is_given_but_the_contract() {
    let error = bytes_fail(
        limits(),
        &asking_for(
            r#"(import "wasi:filesystem/preopens@0.2.0" (instance)) (import "wasi:clocks/wall-clock@0.2.0" (instance))"#,
        ),
    );
    unsupported(
        &error,
        "this plugin asks for wasi:filesystem/preopens@0.2.0, wasi:clocks/wall-clock@0.2.0; the contract has no such thing",
    );
    let error = bytes_fail(
        limits(),
        &asking_for(
            r#"(import "ringmark:format/host@1.0.0" (instance (export "open-socket" (func))))"#,
        ),
    );
    unsupported(&error, "open-socket");
    unsupported(&bytes_fail(limits(), &asking_for("")), "contract");
}

#[test]
fn other_versions_of_the_contract() {
    let version = |version: &str| {
        Guest {
            contract: Some(contract_version(version)),
            ..Guest::default()
        }
        .build()
    };
    unsupported(
        &bytes_fail(limits(), &version("2.0.0")),
        "the plugin is newer, update this program",
    );
    unsupported(
        &bytes_fail(limits(), &version("0.9.0")),
        "older than what is still served",
    );
    unsupported(
        &bytes_fail(limits(), &version("1.0.0-rc.1")),
        "older than what is still served",
    );
    // A newer minor version that uses nothing new.
    let newer = version("1.7.3");
    let inspection = Host::inspect(&newer, &limits()).unwrap();
    assert_eq!(inspection.contract, (1, 7, 3));
    assert_eq!(read_all(&host(limits()), &newer).unwrap().len(), 2);
}

#[test]
fn an_inspection_tells_what_a_plugin_is() {
    let wasm = good();
    let inspection = Host::inspect(&wasm, &Limits::default()).unwrap();
    assert_eq!(inspection.contract, (1, 0, 0));
    assert_eq!((inspection.reads, inspection.writes), (true, false));
    assert_eq!(inspection.sha256, sha256(&wasm));
    assert!(
        inspection
            .exports
            .contains(&"ringmark:format/reader@1.0.0".into())
    );
}

#[test]
fn a_changed_file_is_refused_before_it_is_looked_at() {
    let host = host(limits());
    let accepted = sha256(&good());
    let error = host
        .foreign(b"not even a plugin".to_vec(), &accepted)
        .err()
        .unwrap();
    let HostError::Changed { pinned, found, .. } = &error else {
        panic!("{error:?}")
    };
    assert_eq!(pinned, &accepted);
    assert_eq!(found, &sha256(b"not even a plugin"));
    assert!(error.to_string().contains(pinned) && error.to_string().contains(found));
}

/// A function of about `bytes` bytes made of additions of loads.
fn bomb(bytes: usize) -> Vec<u8> {
    let body = "(i32.load (i32.const 0)) (i32.add)".repeat(bytes / 6);
    Guest {
        fields: format!("(func $bomb (result i32) (i32.const 0) {body})"),
        ..Guest::default()
    }
    .build()
}

#[test]
fn a_function_that_would_take_minutes_to_compile_is_not_compiled() {
    let wasm = bomb(1_700_000);
    assert!(wasm.len() > 1_600_000);
    let start = Instant::now();
    let error = load(&host(Limits::default()), &wasm).err().unwrap();
    assert_eq!(wall(&error), Wall::FunctionSize);
    // Compiled with the usual settings it takes 150 s.
    assert!(start.elapsed() < Duration::from_secs(20));
}

#[test]
fn the_largest_function_that_is_compiled_compiles_soon() {
    let start = Instant::now();
    load(&host(Limits::default()), &bomb(450_000)).unwrap();
    assert!(start.elapsed() < Duration::from_secs(30));
}

#[test]
fn plugins_that_are_too_large_are_not_compiled() {
    let small = |change: fn(&mut PluginLimits)| {
        let mut limits = limits();
        change(&mut limits.plugin);
        limits
    };
    let cases: [(Limits, Vec<u8>, Wall); 5] = [
        (
            small(|l| l.size = 20_000),
            Guest {
                fields: format!("(data (i32.const 20000) \"{}\")", "x".repeat(20_000)),
                ..Guest::default()
            }
            .build(),
            Wall::PluginSize,
        ),
        (
            small(|l| l.functions = 1000),
            Guest {
                fields: "(func)".repeat(1001),
                ..Guest::default()
            }
            .build(),
            Wall::Functions,
        ),
        (
            limits(),
            component(&format!("(component {})", "(core module)".repeat(100))),
            Wall::Parts,
        ),
        (
            small(|l| l.initial_data = 10_000),
            Guest {
                fields: format!("(data (i32.const 20000) \"{}\")", "x".repeat(10_001)),
                ..Guest::default()
            }
            .build(),
            Wall::InitialData,
        ),
        (
            small(|l| l.declarations = 10_000),
            component(&format!(
                "(component {})",
                "(type (list (list (list u8))))".repeat(5000)
            )),
            Wall::Declarations,
        ),
    ];
    for (limits, wasm, expected) in cases {
        assert_eq!(wall(&bytes_fail(limits, &wasm)), expected);
    }
}
