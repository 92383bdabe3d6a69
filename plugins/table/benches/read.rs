//! Rows a second of the reader, outside the sandbox.

use std::fmt::Write as _;
use std::hint::black_box;
use std::rc::Rc;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use ringmark_sdk::native::MemoryInput;
use ringmark_sdk::{Item, Reader};
use ringmark_table::TableReader;

const ROWS: u64 = 200_000;

/// A take whose ring moves, as text.
fn take(lens: bool) -> Rc<[u8]> {
    let mut text = String::from(
        "# document: take\n# frame rate: 24\nframe,timecode,focus ring [0..1],focus distance [m],T-stop,f-number,focal length [mm]",
    );
    text.push_str(if lens { ",lens\n" } else { "\n" });
    for frame in 0..ROWS {
        let (seconds, part) = (frame / 24, frame % 24);
        let ring = 0.5 + 0.4 * (frame as f64 * 0.001).sin();
        let _ = write!(
            text,
            "{},{:02}:{:02}:{:02}:{:02},{ring:.5},{:.4},2.8,2.5,50",
            1001 + frame,
            seconds / 3600,
            seconds / 60 % 60,
            seconds % 60,
            part,
            0.5 / (1.001 - ring),
        );
        text.push_str(if lens { ",Halden 50 #H-1207\n" } else { "\n" });
    }
    text.into_bytes().into()
}

fn frames(bytes: &Rc<[u8]>) -> u64 {
    let inputs = vec![MemoryInput::boxed("take.csv", bytes.clone())];
    let Ok(mut reader) = TableReader::open(inputs, "{}") else {
        return 0;
    };
    let mut frames = 0;
    while let Ok(Some(item)) = reader.next() {
        if let Item::Frames(batch) = black_box(item) {
            frames += u64::from(batch.count);
        }
    }
    frames
}

fn read(criterion: &mut Criterion) {
    for (name, lens) in [("rows", false), ("rows with a lens", true)] {
        let bytes = take(lens);
        assert_eq!(frames(&bytes), ROWS);
        let mut group = criterion.benchmark_group("read take");
        group.sample_size(20);
        group.throughput(Throughput::Elements(ROWS));
        group.bench_function(name, |bencher| bencher.iter(|| frames(&bytes)));
        group.throughput(Throughput::Bytes(bytes.len() as u64));
        group.bench_function(format!("{name}, bytes"), |bencher| {
            bencher.iter(|| frames(&bytes));
        });
        group.finish();
    }
}

criterion_group!(benches, read);
criterion_main!(benches);
