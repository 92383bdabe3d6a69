//! Speed of ring curves: position to value and back.
#![allow(missing_docs, clippy::unwrap_used)]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use ringmark_model::ScaleQuantity;
use ringmark_optics::RingCurve;

fn curves(c: &mut Criterion) {
    let marks: Vec<(f64, f64)> = (0..13)
        .map(|k| (f64::from(k) / 12.0, 1.0 / (2.0 - f64::from(k) / 6.0)))
        .collect();
    let curve = RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks).unwrap();
    let positions: Vec<f64> = (0..10_000)
        .map(|k| 0.5 + 0.45 * (f64::from(k) / 500.0).sin())
        .collect();
    let mut values = vec![0.0; positions.len()];
    curve.evaluate(&positions, &mut values);
    let mut group = c.benchmark_group("curve");
    group.throughput(Throughput::Elements(positions.len() as u64));
    let mut out = vec![0.0; positions.len()];
    group.bench_function("value_at", |b| {
        b.iter(|| curve.evaluate(&positions, &mut out))
    });
    group.bench_function("position_of", |b| {
        b.iter(|| values.iter().map(|v| curve.position_of(*v)).sum::<f64>());
    });
    group.finish();
}

criterion_group!(benches, curves);
criterion_main!(benches);
