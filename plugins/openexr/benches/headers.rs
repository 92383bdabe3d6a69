//! Headers of a long sequence, against copying the same bytes.
#![allow(missing_docs, clippy::unwrap_used)]

use std::hint::black_box;
use std::path::Path;
use std::rc::Rc;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use ringmark_openexr::Sequence;
use ringmark_sdk::native::MemoryInput;
use ringmark_sdk::{Input, Reader};

const FILES: usize = 10_000;

/// The 48 frames of the reference sequence over and over, so that values change from file to file.
fn files() -> Vec<(String, Rc<[u8]>)> {
    let folder =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/standards/openexr/rack_df2997");
    (0..FILES)
        .map(|n| {
            let path = folder.join(format!("rack_df2997.{}.exr", 1001 + n % 48));
            let bytes = std::fs::read(path).unwrap();
            (format!("rack_df2997.{:05}.exr", 1001 + n), bytes.into())
        })
        .collect()
}

fn inputs(files: &[(String, Rc<[u8]>)]) -> Vec<Box<dyn Input>> {
    let input = |(name, bytes): &(String, Rc<[u8]>)| MemoryInput::boxed(name, Rc::clone(bytes));
    files.iter().map(input).collect()
}

fn headers(criterion: &mut Criterion) {
    let files = files();
    let mut group = criterion.benchmark_group("headers of 10,000 files");
    group.throughput(Throughput::Elements(FILES as u64));
    group.sample_size(20);
    group.bench_function("read into memory only", |bench| {
        bench.iter(|| {
            let mut bytes = 0;
            for input in inputs(&files) {
                bytes += input.read(0, 4096).len() + input.name().len();
            }
            black_box(bytes)
        });
    });
    group.bench_function("read into frames", |bench| {
        bench.iter(|| {
            let mut sequence = Sequence::open(inputs(&files), "{}").unwrap();
            let mut items = 0;
            while let Some(item) = sequence.next().unwrap() {
                black_box(item);
                items += 1;
            }
            black_box(items)
        });
    });
    group.finish();
}

criterion_group!(benches, headers);
criterion_main!(benches);
