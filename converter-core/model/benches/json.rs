//! Frames a second and bytes a second of the line form, one core, eight columns.

#![allow(clippy::unwrap_used, missing_docs)]

use std::hint::black_box;
use std::sync::Arc;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use ringmark_model::json::{JsonLinesWriter, LineEncoder, encode_batch, open};
use ringmark_model::{
    Batch, Channel, ColumnHead, ColumnKey, NumberColumn, Origin, Piece, Take, TextColumn, TextForm,
};
use ringmark_quantity::{CountingMode, DistanceReference, FrameRate, Timecode, Unit};

const BATCH: usize = 4096;
const BATCHES: usize = 50;

fn head(channel: Channel) -> Arc<ColumnHead> {
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: channel.unit().map_or("", Unit::symbol).to_owned(),
        reference: channel
            .is_distance()
            .then_some(DistanceReference::ImagePlane),
        origin: Origin::Recorded,
        source_unit: None,
        form: channel.is_text().then_some(TextForm::Text),
    })
}

/// How a value runs over a take.
type Curve = fn(f64) -> f64;

/// A take that racks focus all the time, with lens values in full precision, as after a change of unit.
fn batch(index: usize) -> Batch {
    let curves: [(Channel, Curve); 7] = [
        (Channel::Frame, |t| 86_400.0 + t),
        (Channel::FocusRing, |t| 0.5 + 0.4 * (t / 97.0).sin()),
        (Channel::IrisRing, |_| 0.25),
        (Channel::FocusDistance, |t| {
            (6.0 + 5.0 * (t / 97.0).sin()) * 0.3048
        }),
        (Channel::TStop, |_| 2.8),
        (Channel::NominalFocalLength, |_| 50.0),
        (Channel::EntrancePupilOffset, |t| 120.0 + (t / 97.0).cos()),
    ];
    let first = index * BATCH;
    let frames = first..first + BATCH;
    let numbers = curves.map(|(channel, curve)| NumberColumn {
        head: head(channel),
        values: frames.clone().map(|frame| curve(frame as f64)).collect(),
    });
    let rate = FrameRate::new(24, 1).unwrap();
    let labels: Vec<String> = frames
        .map(|frame| {
            Timecode::from_frame(frame as u64, rate, CountingMode::NonDrop)
                .unwrap()
                .to_string()
        })
        .collect();
    let labels = labels.iter().map(|label| Some(label.as_str()));
    Batch {
        first: first as u64,
        count: BATCH,
        numbers: numbers.into(),
        texts: vec![TextColumn::from_texts(head(Channel::Timecode), labels)],
        ..Batch::default()
    }
}

fn pieces() -> Vec<Piece> {
    let mut pieces = vec![Piece::Take(Take::default())];
    pieces.extend((0..BATCHES).map(|index| Piece::Frames(batch(index))));
    pieces.push(Piece::End(Vec::new()));
    pieces
}

fn text(pieces: &[Piece]) -> Vec<u8> {
    let mut writer = JsonLinesWriter::new(Vec::new());
    for piece in pieces {
        writer.put(piece).unwrap();
    }
    writer.finish().unwrap()
}

fn bench(c: &mut Criterion) {
    let pieces = pieces();
    let text = text(&pieces);
    let bytes = text.len() as u64;
    let frames = (BATCH * BATCHES) as u64;
    println!("{bytes} bytes, {:.1} a frame", bytes as f64 / frames as f64);
    for (unit, throughput) in [
        ("frames", Throughput::Elements(frames)),
        ("bytes", Throughput::Bytes(bytes)),
    ] {
        let mut group = c.benchmark_group(format!("take.jsonl, {unit}"));
        group.throughput(throughput).sample_size(20);
        group.bench_function("write", |b| {
            let mut out = Vec::new();
            b.iter(|| {
                let mut encoder = LineEncoder::new();
                for piece in &pieces {
                    out.clear();
                    let layout = encoder.piece(piece, &mut out).unwrap();
                    if let (Some(layout), Piece::Frames(batch)) = (layout, piece) {
                        encode_batch(&layout, batch, &mut out).unwrap();
                    }
                    black_box(&out);
                }
            });
        });
        group.bench_function("read", |b| {
            b.iter(|| {
                open("bench", text.as_slice()).for_each(|piece| drop(black_box(piece.unwrap())))
            });
        });
        group.finish();
    }
}

criterion_group!(benches, bench);
criterion_main!(benches);
