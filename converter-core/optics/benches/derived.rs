//! Speed of what is computed for every frame, and of distortion for every pixel.
#![allow(missing_docs, clippy::unwrap_used)]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use ringmark_optics::field_of_view::horizontal_fields_of_view;
use ringmark_optics::{
    CircleOfConfusion, Coefficients, DepthColumns, Direction, Distortion, Normalisation,
};
use ringmark_quantity::DistanceReference;

const COUNT: usize = 10_000;

fn column(value: impl Fn(f64) -> f64) -> Vec<f64> {
    (0..COUNT)
        .map(|k| value((k as f64 / 500.0).sin()))
        .collect()
}

fn frames(c: &mut Criterion) {
    let focus = column(|x| 2.0 + x);
    let focal = column(|x| 50.0 + 10.0 * x);
    let stop = column(|x| 4.0 + x);
    let pupil = column(|x| 60.0 + 5.0 * x);
    let circle = CircleOfConfusion::from_mm(0.025).unwrap();
    let mut group = c.benchmark_group("frame");
    group.throughput(Throughput::Elements(COUNT as u64));
    for (name, pinhole, pupil) in [
        ("depth_of_field/thin", None, None),
        (
            "depth_of_field/known",
            Some(focal.as_slice()),
            Some(pupil.as_slice()),
        ),
    ] {
        let columns = DepthColumns {
            focus_m: &focus,
            reference: DistanceReference::ImagePlane,
            focal_length_mm: &focal,
            f_number: &stop,
            pinhole_mm: pinhole,
            pupil_offset_mm: pupil,
        };
        group.bench_function(name, |b| {
            b.iter(|| columns.depths_of_field(circle).unwrap())
        });
    }
    let mut out = vec![0.0; COUNT];
    group.bench_function("field_of_view", |b| {
        b.iter(|| horizontal_fields_of_view(&focal, 24.89, 1.0, &mut out).unwrap());
    });
    group.finish();
}

fn pixels(c: &mut Criterion) {
    let radial = Coefficients {
        k1: -0.12,
        k2: 0.02,
        k3: -0.001,
        ..Coefficients::default()
    };
    let all = Coefficients {
        p1: 0.001,
        p2: -0.002,
        ..radial
    };
    let points: Vec<[f64; 2]> = column(|x| x)
        .into_iter()
        .map(|x| [x, 0.5 * x * x])
        .collect();
    let made = |coefficients| {
        Distortion::new(
            coefficients,
            Direction::UndistortedToDistorted,
            Normalisation::HalfWidth,
        )
        .unwrap()
    };
    let mut group = c.benchmark_group("pixel");
    group.throughput(Throughput::Elements(COUNT as u64));
    for (name, distortion) in [("radial", made(radial)), ("tangential", made(all))] {
        let sum =
            |way: &dyn Fn([f64; 2]) -> [f64; 2]| points.iter().map(|p| way(*p)[0]).sum::<f64>();
        group.bench_function(format!("distort/{name}"), |b| {
            b.iter(|| sum(&|p| distortion.distort(p).unwrap()));
        });
        group.bench_function(format!("undistort/{name}"), |b| {
            b.iter(|| sum(&|p| distortion.undistort(p).unwrap()));
        });
    }
    group.finish();
    c.bench_function("distortion/new", |b| {
        b.iter(|| made(std::hint::black_box(all)))
    });
}

criterion_group!(benches, frames, pixels);
criterion_main!(benches);
