//! What a curve through few marks is off between them, in depths of field.

use ringmark_model::ScaleQuantity::FocusDistance;
use ringmark_optics::{Pchip, Reading, RingCurve, coordinate};

use super::lens::{Row, Truth};

/// A mark: ring position and distance.
pub type Mark = (f64, f64);

/// `count` marks at the rows nearest to even steps of travel; on a focus ring the last one is infinity.
pub fn even_marks(lens: &Truth, count: usize) -> Vec<Mark> {
    let step = |k: usize| k as f64 / (count - 1) as f64;
    let last = if lens.quantity == FocusDistance {
        Some((1.0, f64::INFINITY))
    } else {
        nearest(lens, |row| row.ring - 1.0)
    };
    let others = (0..count - 1).filter_map(|k| nearest(lens, |row| row.ring - step(k)));
    others.chain(last).collect()
}

/// `count` marks as barrels have them, growing apart in steps of one ratio to five times `f / close`, then infinity.
pub fn engraved_marks(lens: &Truth, count: usize) -> Vec<Mark> {
    let close = lens
        .rows
        .iter()
        .map(|row| row.value)
        .fold(f64::INFINITY, f64::min);
    let ratio = 14f64.powf(1.0 / (count - 2) as f64);
    let mut marks: Vec<Mark> = (0..count - 1)
        .filter_map(|k| {
            nearest(lens, |row| {
                (row.value / (close * ratio.powi(k as i32))).ln()
            })
        })
        .collect();
    marks.push((1.0, f64::INFINITY));
    marks
}

fn nearest(lens: &Truth, off: impl Fn(&Row) -> f64) -> Option<Mark> {
    let row = lens
        .rows
        .iter()
        .min_by(|a, b| off(a).abs().total_cmp(&off(b).abs()))?;
    Some((row.ring, row.value))
}

/// Normally distributed numbers from a seed: splitmix64 (S. Vigna's public-domain generator) and Box-Muller.
pub struct Noise(pub u64);

impl Noise {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// The marks with a reading error; `None` if it brings two of them out of order.
    pub fn on(&mut self, marks: &[Mark], error: f64) -> Option<Vec<Mark>> {
        let read: Vec<Mark> = marks
            .iter()
            .map(|(ring, d)| (ring + error * self.normal(), *d))
            .collect();
        read.windows(2)
            .all(|pair| pair[0].0 < pair[1].0)
            .then_some(read)
    }
}

/// Rows between the marks as they truly are.
fn between<'a>(lens: &'a Truth, marks: &'a [Mark]) -> impl Iterator<Item = &'a Row> {
    let inside = |row: &&Row| {
        let (first, last) = (marks.first(), marks.last());
        first
            .zip(last)
            .is_some_and(|(a, b)| a.0 <= row.ring && row.ring <= b.0)
    };
    lens.rows.iter().filter(inside)
}

/// The largest error; a missing value is an infinite one.
fn largest(errors: impl Iterator<Item = f64>) -> f64 {
    errors
        .map(|e| if e.is_nan() { f64::INFINITY } else { e })
        .fold(0.0, f64::max)
}

/// Largest error of the curve through `read`, and the share of rows whose true distance lies in its band.
pub fn of_curve(lens: &Truth, marks: &[Mark], read: &[Mark]) -> (f64, f64) {
    let Ok(curve) = RingCurve::from_marks(lens.quantity, read) else {
        return (f64::INFINITY, 0.0);
    };
    let readings: Vec<(&Row, Reading)> = between(lens, marks)
        .map(|row| (row, curve.reading_at(row.ring)))
        .collect();
    let y = |value| coordinate(lens.quantity, value);
    let error =
        |(row, reading): &(&Row, Reading)| (y(reading.value) - y(row.value)).abs() / row.one;
    let inside =
        |(row, reading): &&(&Row, Reading)| reading.low <= row.value && row.value <= reading.high;
    let covered = readings.iter().filter(inside).count() as f64 / readings.len() as f64;
    (largest(readings.iter().map(error)), covered)
}

/// Largest error of what gives a value for a ring position.
pub fn of(lens: &Truth, marks: &[Mark], value: impl Fn(f64) -> f64) -> f64 {
    let y = |value| coordinate(lens.quantity, value);
    let error = |row: &Row| (y(value(row.ring)) - y(row.value)).abs() / row.one;
    largest(between(lens, marks).map(error))
}

/// Largest error of the monotone cubic through `read` in the coordinate, which keeps its ends beyond them.
pub fn of_pchip(lens: &Truth, marks: &[Mark], read: &[Mark]) -> f64 {
    let y = |value| coordinate(lens.quantity, value);
    let (knots, values): (Vec<f64>, Vec<f64>) = read.iter().map(|(ring, v)| (*ring, y(*v))).unzip();
    let Some(curve) = Pchip::new(knots, values) else {
        return f64::INFINITY;
    };
    let (first, last) = (curve.x()[0], curve.x()[curve.x().len() - 1]);
    let error =
        |row: &Row| (curve.value(row.ring.clamp(first, last)) - y(row.value)).abs() / row.one;
    largest(between(lens, marks).map(error))
}

/// What draws of reading errors give.
pub struct Draws {
    /// Median over draws of the largest error, of the curve and of the monotone cubic.
    pub curve: f64,
    pub pchip: f64,
    /// Share of rows and draws inside the band.
    pub covered: f64,
}

/// `count` draws of a reading error, in travel.
pub fn draws(lens: &Truth, marks: &[Mark], error: f64, count: usize, seed: u64) -> Draws {
    let mut noise = Noise(seed);
    let (mut curve, mut pchip, mut covered) = (Vec::new(), Vec::new(), 0.0);
    while curve.len() < count {
        let Some(read) = noise.on(marks, error) else {
            continue;
        };
        let (largest, inside) = of_curve(lens, marks, &read);
        curve.push(largest);
        pchip.push(of_pchip(lens, marks, &read));
        covered += inside;
    }
    Draws {
        curve: median(curve),
        pchip: median(pchip),
        covered: covered / count as f64,
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    if values.len() % 2 == 1 {
        values[middle]
    } else {
        0.5 * (values[middle - 1] + values[middle])
    }
}
