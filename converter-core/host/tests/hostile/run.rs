//! Runs a plugin and checks what must hold whatever it does.

use std::mem::discriminant;
use std::time::{Duration, Instant};

use ringmark_host::{
    CacheMode, Host, HostConfig, HostError, Limits, MemorySink, MemorySource, Source, Wall,
};
use ringmark_model::raw::{RawFrames, RawItem};

use crate::guest::{Guest, good, load};

/// Small walls, so that tests are fast.
pub fn limits() -> Limits {
    Limits {
        time: Duration::from_millis(300),
        time_per_mebibyte: Duration::ZERO,
        memory: 16 << 20,
        table_entries: 10_000,
        item_bytes: 1 << 20,
        items: 10_000,
        text: 100_000,
        output: 1 << 20,
        remarks: 100,
        lenses: 100,
        takes: 100,
        host_calls: 10_000,
        ..Limits::default()
    }
}

pub fn host(limits: Limits) -> Host {
    Host::new(HostConfig {
        limits,
        cache: CacheMode::Off,
    })
    .unwrap()
}

pub fn inputs() -> Vec<Box<dyn Source>> {
    vec![Box::new(MemorySource::new("take.test", *b"0123456789"))]
}

/// All items of one input of ten bytes.
pub fn read_all(host: &Host, wasm: &[u8]) -> Result<Vec<RawItem>, HostError> {
    let mut reading = load(host, wasm)?.read(inputs(), "{}")?;
    let mut items = Vec::new();
    loop {
        match reading.next() {
            Ok(Some(item)) => items.push(item),
            Ok(None) => {
                assert_eq!(reading.next().unwrap(), None, "the end stays the end");
                return Ok(items);
            }
            Err(error) => {
                let again = reading.next().unwrap_err();
                assert_eq!(discriminant(&again), discriminant(&error));
                return Err(error);
            }
        }
    }
}

/// Reads with a hostile plugin in small walls; it must fail.
pub fn fails(guest: Guest) -> HostError {
    fails_within(limits(), guest)
}

pub fn fails_within(limits: Limits, guest: Guest) -> HostError {
    bytes_fail(limits, &guest.build())
}

/// The error of reading with a hostile plugin. It names the plugin, came soon, and the same host
/// then reads with a good one.
pub fn bytes_fail(limits: Limits, wasm: &[u8]) -> HostError {
    let host = host(limits);
    let start = Instant::now();
    let error = read_all(&host, wasm).unwrap_err();
    check(&host, &error, start);
    error
}

/// The error of writing with a hostile plugin, under the same conditions.
pub fn writing_fails(guest: Guest) -> HostError {
    let host = host(limits());
    let start = Instant::now();
    let plugin = load(&host, &guest.build()).unwrap();
    let sink = MemorySink::new();
    let error = plugin
        .write(vec![Box::new(sink.clone())], inputs(), "{}")
        .and_then(|mut writing| {
            writing.put(RawItem::Frames(RawFrames::default()))?;
            writing.finish()
        })
        .unwrap_err();
    assert!(sink.take().len() < 4 << 20);
    check(&host, &error, start);
    error
}

fn check(host: &Host, error: &HostError, start: Instant) {
    let text = error.to_string();
    let named = text.contains("'hostile'") || text.contains("'sha256:");
    assert!(named, "names the plugin: {text}");
    assert!(
        !text.contains(char::is_control) && text.len() < 10_000,
        "fit for a terminal: {text:?}"
    );
    // The walls of the tests are fractions of a second; the rest is for slow machines.
    assert!(start.elapsed() < Duration::from_secs(60));
    assert_eq!(read_all(host, &good()).unwrap().len(), 2, "the next file");
}

/// The wall that the error tells of.
#[track_caller]
pub fn wall(error: &HostError) -> Wall {
    match error {
        HostError::Limit(hit) => hit.wall,
        other => panic!("expected a limit, got {other:?}"),
    }
}

#[track_caller]
pub fn contract_broken(error: &HostError, with: &str) {
    match error {
        HostError::Contract { message, .. } => {
            assert!(message.contains(with), "{message:?} without {with:?}");
        }
        other => panic!("expected a broken contract, got {other:?}"),
    }
}

#[track_caller]
pub fn trapped(error: &HostError, with: &str) {
    match error {
        HostError::Trapped { message, .. } => {
            assert!(message.contains(with), "{message:?} without {with:?}");
        }
        other => panic!("expected a crash, got {other:?}"),
    }
}

#[track_caller]
pub fn unsupported(error: &HostError, with: &str) {
    match error {
        HostError::Unsupported { message, .. } => {
            assert!(message.contains(with), "{message:?} without {with:?}");
        }
        other => panic!("expected 'unsupported', got {other:?}"),
    }
}
