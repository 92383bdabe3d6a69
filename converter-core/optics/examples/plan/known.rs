//! Traced lenses as `plan` meets them, and what marks on them are worth.

use ringmark_optics::plan::{Bench, Goal, plan};
use ringmark_optics::{CircleOfConfusion, FocusedLens, ImageFormat, Pchip};
use ringmark_quantity::{
    DistanceReference, EffectiveFocalLength, FNumber, FocusDistance as Distance,
};

use super::lens::Truth;
use super::measure::{Mark, Noise, of_curve};

/// Reading error, one standard deviation in travel.
const ERROR: f64 = 0.001;

/// Distances that are offered, in metres, the roundest first: as people tape them out.
const OFFERED: [f64; 44] = [
    1.0, 2.0, 5.0, 0.5, 10.0, 20.0, 1.5, 3.0, 0.7, 4.0, 0.6, 0.8, 0.9, 1.2, 2.5, 6.0, 8.0, 15.0,
    7.0, 0.3, 0.35, 0.4, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95, 1.1, 1.3, 1.4, 1.6, 1.8, 2.2, 2.8,
    3.5, 4.5, 5.5, 9.0, 12.0, 30.0, 0.33, 0.37, 50.0,
];

/// A lens of which everything is known.
pub struct Known {
    pub truth: Truth,
    ring: Pchip,
    pub near: f64,
    focal_length: f64,
    f_number: f64,
}

impl Known {
    /// A traced lens, named by how it focuses and its focal length in mm. Planned at f/2: another stop makes all depths
    /// larger or smaller alike.
    pub fn named(truth: Truth) -> Option<Known> {
        let focal_length = truth.name.split('-').nth(1)?.parse().ok()?;
        Known::new(truth, focal_length, 2.0)
    }

    fn new(truth: Truth, focal_length: f64, f_number: f64) -> Option<Known> {
        let mut rows: Vec<(f64, f64)> = truth
            .rows
            .iter()
            .map(|row| (1.0 / row.value, row.ring))
            .collect();
        rows.push((0.0, 1.0));
        rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        rows.dedup_by(|a, b| a.0 == b.0);
        let (y, ring): (Vec<f64>, Vec<f64>) = rows.into_iter().unzip();
        let near = truth
            .rows
            .iter()
            .map(|row| row.value)
            .fold(f64::INFINITY, f64::min);
        Some(Known {
            ring: Pchip::new(y, ring)?,
            truth,
            near,
            focal_length,
            f_number,
        })
    }

    /// The marks at these distances as they truly are.
    fn marks(&self, distances: &[f64]) -> Vec<Mark> {
        let mut marks: Vec<Mark> = distances
            .iter()
            .map(|d| (self.ring.value(1.0 / d), *d))
            .collect();
        marks.sort_by(|a, b| a.0.total_cmp(&b.0));
        marks
    }

    fn depth(&self, metres: f64) -> Option<f64> {
        let lens = FocusedLens::thin(
            EffectiveFocalLength::from_mm(self.focal_length).ok()?,
            Distance::new(metres, DistanceReference::ImagePlane).ok()?,
        )
        .ok()?;
        let circle = CircleOfConfusion::of_format(ImageFormat::Cine35);
        let depth = lens
            .depth_of_field(FNumber::new(self.f_number).ok()?, circle)
            .ok()?;
        let (near, far) = (depth.near.metres(), depth.far.metres());
        Some(if far.is_finite() {
            1.0 / near - 1.0 / far
        } else {
            2.0 * (1.0 / near - 1.0 / metres)
        })
    }

    pub fn planned(&self, taken: &[Mark], goal: Goal) -> Vec<f64> {
        let depth = |metres| self.depth(metres);
        let bench = Bench {
            near: self.near,
            focal_length: Some(self.focal_length / 1000.0),
            depth: &depth,
        };
        plan(&bench, taken, &OFFERED, goal)
            .marks
            .iter()
            .map(|mark| mark.metres)
            .collect()
    }
}

/// Even in 1/distance from close focus to infinity.
pub fn even(near: f64, count: usize) -> Vec<f64> {
    let of = |k: usize| near / (1.0 - k as f64 / (count - 1) as f64);
    (0..count).map(of).collect()
}

/// Even in the logarithm of distance to 15 times close focus, and infinity.
pub fn spread(near: f64, count: usize) -> Vec<f64> {
    let ratio = 15f64.powf(1.0 / (count - 2) as f64);
    let mut distances: Vec<f64> = (0..count - 1)
        .map(|k| near * ratio.powi(k as i32))
        .collect();
    distances.push(f64::INFINITY);
    distances
}

/// Even in distance to 10 m, and infinity.
pub fn metres(near: f64, count: usize) -> Vec<f64> {
    let mut distances: Vec<f64> = (0..count - 1)
        .map(|k| near + (10.0 - near) * k as f64 / (count - 2) as f64)
        .collect();
    distances.push(f64::INFINITY);
    distances
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Median of the largest true error.
pub fn fixed(lens: &Known, distances: &[f64], draws: usize, seed: u64) -> f64 {
    let marks = lens.marks(distances);
    let mut noise = Noise(seed);
    let mut found = Vec::new();
    while found.len() < draws {
        if let Some(read) = noise.on(&marks, ERROR) {
            found.push(of_curve(&lens.truth, &marks, &read).0);
        }
    }
    median(found)
}

/// The same where a few marks are there, and the others are planned from them as they were read.
pub fn adaptive(lens: &Known, first: &[f64], count: usize, draws: usize, seed: u64) -> f64 {
    let start = lens.marks(first);
    let mut noise = Noise(seed);
    let mut found = Vec::new();
    while found.len() < draws {
        let Some(mut read) = noise.on(&start, ERROR) else {
            continue;
        };
        let more = lens.marks(&lens.planned(&read, Goal::Marks(count - first.len())));
        let Some(added) = noise.on(&more, ERROR) else {
            continue;
        };
        read.extend(added);
        let mut all = start.clone();
        all.extend(more);
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        found.push(of_curve(&lens.truth, &all, &read).0);
    }
    median(found)
}
