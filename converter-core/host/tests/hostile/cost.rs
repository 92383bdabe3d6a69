//! What the sandbox costs. `cargo test --release -p ringmark-host --test hostile cost -- --ignored --nocapture`

use std::path::Path;
use std::time::{Duration, Instant};

use ringmark_host::{CacheMode, Host, HostConfig, Limits, MemorySource};
use ringmark_model::raw::RawItem;

use crate::guest::{Guest, load, sha256};

fn run(folder: &Path) -> Host {
    Host::new(HostConfig {
        limits: Limits::default(),
        cache: CacheMode::Folder(folder.to_owned()),
    })
    .unwrap()
}

/// Start with each bundled plugin, its compiled code to be made and at hand.
#[test]
#[ignore = "measures; run it alone and in release mode"]
fn starts() {
    let folder = std::env::var("RINGMARK_PLUGINS").unwrap_or_else(|_| {
        concat!(env!("CARGO_MANIFEST_DIR"), "/../../plugins/bundled").to_owned()
    });
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ending| ending != "wasm") {
            continue;
        }
        let wasm: &'static [u8] = std::fs::read(&path).unwrap().leak();
        let digest = sha256(wasm);
        let home = tempfile::tempdir().unwrap();
        let cache = home.path().join("cache");
        let manifest = {
            let host = Host::new(HostConfig::default()).unwrap();
            load(&host, wasm).unwrap().manifest().clone()
        };
        // Opening, and the first item or the plugin's objection to the small file.
        let start = || {
            let began = Instant::now();
            let plugin = run(&cache).bundled(wasm, manifest.clone(), &digest);
            let source = MemorySource::new("small", *b"frame,focus ring [0..1]\n1,0.5\n");
            if let Ok(mut reading) = plugin.read(vec![Box::new(source)], "{}") {
                let _ = reading.next();
            }
            began.elapsed()
        };
        let cold = start();
        let mut warm: Vec<Duration> = (0..15).map(|_| start()).collect();
        warm.sort();
        println!(
            "{}: {} kB, cold {cold:.1?}, warm {:.2?} (median of 15)",
            path.display(),
            wasm.len() / 1000,
            warm[7]
        );
    }
}

/// A million frames of six columns and their offsets, which the plugin has ready: all that is
/// measured is the way over the border and the checks.
#[test]
#[ignore = "measures; run it alone and in release mode"]
fn crossing() {
    // Six columns of 8,192 values at 8192; offsets behind them are all 0.
    let wasm = Guest {
        memory: "(memory (export \"memory\") 64)",
        next: "(if (i32.eqz (global.get $call)) (then (return (call $take))))
            (if (i32.gt_u (global.get $call) (i32.const 122)) (then (return (call $end))))
            (drop (call $column (i32.const 8192)))
            (loop $again
                (memory.copy (i32.add (i32.const 3000) (local.get $at)) (i32.const 1100) (i32.const 32))
                (local.set $at (i32.add (local.get $at) (i32.const 32)))
                (br_if $again (i32.lt_u (local.get $at) (i32.const 192))))
            (drop (call $frames (i64.extend_i32_u (i32.shl (i32.sub (global.get $call) (i32.const 1)) (i32.const 13))) (i32.const 8192) (i32.const 3000)))
            (i32.store (i32.const 304) (i32.const 6))
            (i32.store (i32.const 324) (i32.const 600000)) (i32.store (i32.const 328) (i32.const 8192))
            (i32.const 256)",
        ..Guest::default()
    }
    .build();
    let home = tempfile::tempdir().unwrap();
    let plugin = load(&run(&home.path().join("cache")), &wasm).unwrap();
    let mut best = Duration::MAX;
    for _ in 0..10 {
        let source = MemorySource::new("a", *b"0123");
        let mut reading = plugin.read(vec![Box::new(source)], "{}").unwrap();
        let began = Instant::now();
        let mut frames = 0;
        while let Some(item) = reading.next().unwrap() {
            if let RawItem::Frames(batch) = item {
                frames += batch.count;
            }
        }
        assert_eq!(frames, 122 * 8192);
        best = best.min(began.elapsed());
    }
    println!("999,424 frames of 6 columns: {best:.2?}");
}
