//! All checks over a million clean frames: the figure to read is the time an element (frame).
#![allow(missing_docs, clippy::unwrap_used)]

use std::sync::Arc;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use ringmark_checks::{Checker, Settings};
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, FramePlaces, Lens, LensKind, Mark, NumberColumn,
    Origin, Piece, Ring, ScaleQuantity, Take, TextColumn,
};
use ringmark_optics::RingCurve;
use ringmark_quantity::{CountingMode, FrameRate, Length, Timecode, Unit};

const FRAMES: usize = 1_000_000;
const BATCH: usize = 4096;

fn head(channel: Channel) -> Arc<ColumnHead> {
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: channel
            .unit()
            .map_or(String::new(), |unit| unit.symbol().to_owned()),
        reference: None,
        origin: Origin::Recorded,
        source_unit: None,
        form: None,
    })
}

fn lens() -> Lens {
    let mark = |k: u32| Mark {
        position: f64::from(k) / 12.0,
        raw: None,
        value: 1.0 / (2.0 - f64::from(k) / 6.0),
        engraved: None,
        place: None,
    };
    Lens {
        kind: Some(LensKind::Prime),
        close_focus: Some(Length::from_metres(0.5)),
        rings: vec![Ring {
            axis: Axis::Focus,
            quantity: ScaleQuantity::FocusDistance,
            reference: None,
            source_unit: Unit::Metre,
            encoder: None,
            rotation: None,
            marks: (0..=12).map(mark).collect(),
        }],
        ..Lens::default()
    }
}

fn batch(first: usize, curve: &RingCurve, rate: FrameRate) -> Batch {
    let frames = first..(first + BATCH).min(FRAMES);
    let numbers = |channel, value: &dyn Fn(usize) -> f64| NumberColumn {
        head: head(channel),
        values: frames.clone().map(value).collect(),
    };
    // A slow pull with the tremor of a hand.
    let ring = |n: usize| 0.5 + 0.4 * (n as f64 / 300.0).sin() + 1e-4 * (n as f64 * 1.7).sin();
    let label = |n: usize| {
        Timecode::from_frame(n as u64, rate, CountingMode::DropFrame)
            .unwrap()
            .to_string()
    };
    let labels: Vec<String> = frames.clone().map(label).collect();
    Batch {
        take: 0,
        first: first as u64,
        count: frames.len(),
        numbers: vec![
            numbers(Channel::Frame, &|n| (1001 + n) as f64),
            numbers(Channel::FocusRing, &ring),
            numbers(Channel::FocusDistance, &|n| curve.value_at(ring(n))),
            numbers(Channel::TStop, &|_| 2.8),
            numbers(Channel::FNumber, &|_| 2.5),
            numbers(Channel::NominalFocalLength, &|_| 50.0),
        ],
        texts: vec![
            TextColumn::from_texts(
                head(Channel::Timecode),
                labels.iter().map(|text| Some(text.as_str())),
            ),
            TextColumn::from_texts(
                head(Channel::Lens),
                frames.clone().map(|_| Some("Skerry 50 #SK-0117")),
            ),
        ],
        places: FramePlaces {
            inputs: Vec::new(),
            offsets: frames.map(|n| n as u64 * 80).collect(),
        },
    }
}

fn document(with_scale: bool) -> Vec<Piece> {
    let rate = FrameRate::new(30_000, 1001).unwrap();
    let mut lens = lens();
    let curve = RingCurve::new(&lens.rings[0]).unwrap();
    if !with_scale {
        lens.rings.clear();
    }
    let take = Take {
        frame_rate: Some(rate),
        counting: Some(CountingMode::DropFrame),
        lens: Some(0),
        ..Take::default()
    };
    let batches = (0..FRAMES)
        .step_by(BATCH)
        .map(|first| Piece::Frames(batch(first, &curve, rate)));
    [Piece::Lens(lens), Piece::Take(take)]
        .into_iter()
        .chain(batches)
        .collect()
}

fn run(pieces: &[Piece], settings: &Settings) -> usize {
    let mut checker = Checker::new(settings);
    pieces.iter().for_each(|piece| checker.piece(piece));
    checker.finish().len()
}

fn checks(c: &mut Criterion) {
    let mut group = c.benchmark_group("checks");
    group
        .throughput(Throughput::Elements(FRAMES as u64))
        .sample_size(20);
    for (name, with_scale) in [
        ("all, no calibration", false),
        ("all, with calibration", true),
    ] {
        let pieces = document(with_scale);
        assert_eq!(run(&pieces, &Settings::default()), 0, "clean frames");
        group.bench_function(name, |b| b.iter(|| run(&pieces, &Settings::default())));
    }
    group.finish();
}

criterion_group!(benches, checks);
criterion_main!(benches);
