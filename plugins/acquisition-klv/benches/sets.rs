//! A long stream into frames and back, against copying the same bytes.
#![allow(missing_docs, clippy::unwrap_used)]

use std::hint::black_box;
use std::rc::Rc;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use ringmark_acquisition_klv::{SetReader, SetWriter};
use ringmark_sdk::native::{MemoryInput, MemoryOutput};
use ringmark_sdk::{Item, Reader, Writer};

/// The 48 frames of the reference stream over and over: 96,000 frames.
const REPEATS: usize = 2000;

fn read(bytes: &Rc<[u8]>) -> Vec<Item> {
    let input = MemoryInput::boxed("take.klv", Rc::clone(bytes));
    let mut reader = SetReader::open(vec![input], "{}").unwrap();
    std::iter::from_fn(|| reader.next().unwrap()).collect()
}

fn write(items: &[Item]) -> usize {
    let output = MemoryOutput::default();
    let mut writer = SetWriter::open(vec![output.boxed()], Vec::new(), "{}").unwrap();
    for item in items {
        writer.put(item.clone()).unwrap();
    }
    writer.finish().unwrap();
    output.bytes().len()
}

fn sets(criterion: &mut Criterion) {
    let stream = include_bytes!("../tests/data/rack_48f.klv");
    let bytes: Rc<[u8]> = stream.repeat(REPEATS).into();
    let items = read(&bytes);
    let mut group = criterion.benchmark_group("96,000 frames of acquisition sets");
    group.throughput(Throughput::Bytes(bytes.len() as u64));
    group.sample_size(10);
    group.bench_function("copied", |bench| bench.iter(|| black_box(bytes.to_vec())));
    group.bench_function("read into frames", |bench| {
        bench.iter(|| black_box(read(&bytes)));
    });
    group.bench_function("written from frames", |bench| {
        bench.iter(|| black_box(write(&items)));
    });
    group.finish();
}

criterion_group!(benches, sets);
criterion_main!(benches);
