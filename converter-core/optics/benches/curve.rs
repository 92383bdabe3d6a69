//! Speed of ring curves: the fit, position to value and back.
#![allow(missing_docs, clippy::unwrap_used)]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use ringmark_model::ScaleQuantity;
use ringmark_optics::{FocusLaw, Reading, RingCurve};

/// Marks of a 50 mm lens from 0.5 m, read with an error of about 0.1 % of travel, behind a cam.
fn marks(count: u32, cam: f64) -> Vec<(f64, f64)> {
    let law = FocusLaw {
        offset: 0.104,
        product: 0.0025,
    };
    let mark = |k: u32| {
        let y = 2.0 * f64::from(k) / f64::from(count - 1);
        let e = law.extension(y) / law.extension(2.0);
        let read = 0.001 * (1.7 * f64::from(k * k)).sin();
        let ring = 1.0 - e + cam * (std::f64::consts::PI * e).sin() + read;
        (ring, if k == 0 { f64::INFINITY } else { 1.0 / y })
    };
    (0..count).map(mark).collect()
}

fn curves(c: &mut Criterion) {
    let focus = ScaleQuantity::FocusDistance;
    let curve = RingCurve::from_marks(focus, &marks(13, 0.0)).unwrap();
    let slow: Vec<f64> = (0..10_000)
        .map(|k| 0.5 + 0.45 * (f64::from(k) / 500.0).sin())
        .collect();
    let scattered: Vec<f64> = (0..10_000)
        .map(|k| 0.01 + 0.98 * (f64::from(k) * 0.618_033_988_75).fract())
        .collect();
    let mut values = vec![0.0; slow.len()];
    curve.evaluate(&slow, &mut values);
    let mut out = vec![0.0; slow.len()];
    let mut readings = vec![curve.reading_at(0.5); slow.len()];
    let mut group = c.benchmark_group("curve");
    group.throughput(Throughput::Elements(slow.len() as u64));
    for (name, positions) in [("as a take", &slow), ("scattered", &scattered)] {
        group.bench_function(format!("value_at, {name}"), |b| {
            b.iter(|| curve.evaluate(positions, &mut out))
        });
        group.bench_function(format!("with its band, {name}"), |b| {
            b.iter(|| curve.evaluate_with_band(positions, &mut readings))
        });
    }
    group.bench_function("position_of", |b| {
        b.iter(|| values.iter().map(|v| curve.position_of(*v)).sum::<f64>());
    });
    group.finish();
    std::hint::black_box::<&[Reading]>(&readings);

    let mut group = c.benchmark_group("fit");
    for (name, cam) in [("even drive", 0.0), ("cam", 0.08)] {
        let marks = marks(40, cam);
        group.bench_function(format!("40 marks, {name}"), |b| {
            b.iter(|| RingCurve::from_marks(focus, &marks).unwrap())
        });
    }
    group.finish();
}

criterion_group!(benches, curves);
criterion_main!(benches);
