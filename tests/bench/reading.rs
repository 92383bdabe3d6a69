//! What reading costs: through the sandbox against the same parser run natively, checking
//! against reading, headers of a sequence against opening and reading the same bytes.
//! `tests/bench/ratios.py` prints the ratios.
#![allow(missing_docs, clippy::unwrap_used)]

use std::hint::black_box;
use std::io::Read;
use std::path::{Path, PathBuf};

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use ringmark::formats::{Format, Formats};
use ringmark_checks::{Checker, Settings};
use ringmark_host::{FileSource, MemorySource, Plugin, Source};
use ringmark_model::Piece;
use ringmark_normalise::Normaliser;
use ringmark_sdk::Reader;
use ringmark_sdk::native::MemoryInput;
use ringmark_table::TableReader;

const ROWS: usize = 1_000_000;
const FILES: usize = 10_000;

/// Delimited text as a recorder writes it: a frame number, a label and five numbers.
pub fn text() -> Vec<u8> {
    let mut text = String::from(
        "# document: take\n# clip: A001C001\n# frame rate: 24\n# timecode: non-drop\n\
         # measured from: image plane\n\
         frame,timecode,focus ring [0..1],focus distance [m],T-stop,f-number,focal length [mm]\n",
    );
    for n in 0..ROWS {
        let (seconds, frames) = (n / 24, n % 24);
        let ring = 0.5 + 0.4 * (n as f64 / 900.0).sin();
        text.push_str(&format!(
            "{},{:02}:{:02}:{:02}:{:02},{:.5},{:.4},2.8,2.5,50\n",
            n + 1,
            seconds / 3600 % 24,
            seconds / 60 % 60,
            seconds % 60,
            frames,
            ring,
            1.0 / (1.02 - ring)
        ));
    }
    text.into_bytes()
}

fn plugin(name: &str) -> Plugin {
    match Formats::bundled(true).unwrap().named(name).unwrap() {
        Format::Plugin(plugin) => plugin,
        Format::Neutral(_) => unreachable!("plugins only"),
    }
}

fn native(bytes: &std::rc::Rc<[u8]>) -> u64 {
    let mut reader =
        TableReader::open(vec![MemoryInput::boxed("t.csv", bytes.clone())], "{}").unwrap();
    let mut items = 0;
    while let Some(item) = reader.next().unwrap() {
        black_box(&item);
        items += 1;
    }
    items
}

fn sandbox(plugin: &Plugin, bytes: &std::sync::Arc<[u8]>) -> u64 {
    let source: Box<dyn Source> = Box::new(MemorySource::new("t.csv", bytes.clone()));
    let mut reading = plugin.read(vec![source], "{}").unwrap();
    let mut items = 0;
    while let Some(item) = reading.next().unwrap() {
        black_box(&item);
        items += 1;
    }
    items
}

fn pieces(plugin: &Plugin, bytes: &std::sync::Arc<[u8]>) -> Vec<Piece> {
    let source: Box<dyn Source> = Box::new(MemorySource::new("t.csv", bytes.clone()));
    let mut reading = plugin.read(vec![source], "{}").unwrap();
    let mut normaliser = Normaliser::new();
    let mut pieces = Vec::new();
    while let Some(item) = reading.next().unwrap() {
        normaliser.item(item, &mut pieces).unwrap();
    }
    pieces
}

fn delimited_text(c: &mut Criterion) {
    let bytes = text();
    let here: std::rc::Rc<[u8]> = bytes.as_slice().into();
    let shared: std::sync::Arc<[u8]> = bytes.as_slice().into();
    let table = plugin("table");
    sandbox(&table, &shared); // compiles it
    let mut group = c.benchmark_group("reading");
    group
        .sample_size(10)
        .throughput(Throughput::Bytes(bytes.len() as u64));
    group.bench_function("native", |b| b.iter(|| native(&here)));
    group.bench_function("sandbox", |b| b.iter(|| sandbox(&table, &shared)));
    let all = pieces(&table, &shared);
    group.bench_function("check", |b| {
        b.iter_batched(
            || Checker::new(&Settings::default()),
            |mut checker| {
                for piece in &all {
                    checker.piece(piece);
                }
                checker.finish()
            },
            BatchSize::LargeInput,
        );
    });
    group.finish();
}

/// A folder of small files as a render writes them, all with the header of one plate.
fn plates() -> (tempfile::TempDir, Vec<PathBuf>) {
    let folder = tempfile::tempdir().unwrap();
    let plate = std::fs::read(ringmark_tests::sample("plates/A012C003.1001.exr")).unwrap();
    let paths = (0..FILES)
        .map(|n| {
            let path = folder.path().join(format!("p.{n:05}.exr"));
            std::fs::write(&path, &plate).unwrap();
            path
        })
        .collect();
    (folder, paths)
}

fn headers(c: &mut Criterion) {
    let (_folder, paths) = plates();
    let openexr = plugin("openexr");
    let read = |paths: &[PathBuf]| {
        let sources = paths
            .iter()
            .map(|p| Box::new(FileSource::new(p.clone())) as Box<dyn Source>)
            .collect();
        let mut reading = openexr.read(sources, "{}").unwrap();
        let mut items = 0;
        while let Some(item) = reading.next().unwrap() {
            black_box(&item);
            items += 1;
        }
        items
    };
    read(&paths[..2]);
    let mut group = c.benchmark_group("headers");
    group
        .sample_size(10)
        .throughput(Throughput::Elements(FILES as u64));
    group.bench_function("open-and-read", |b| {
        b.iter(|| paths.iter().map(|p| open_and_read(p)).sum::<usize>());
    });
    group.bench_function("sandbox", |b| b.iter(|| read(&paths)));
    group.finish();
}

fn open_and_read(path: &Path) -> usize {
    let mut bytes = vec![0; 4096];
    std::fs::File::open(path).unwrap().read(&mut bytes).unwrap()
}

criterion_group!(benches, delimited_text, headers);
criterion_main!(benches);
