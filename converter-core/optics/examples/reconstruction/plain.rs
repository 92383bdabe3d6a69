//! What the curve is compared with: straight lines between the marks, and the law alone by least squares.

use ringmark_optics::FocusLaw;

use super::lens::Truth;
use super::measure::{Mark, of};

/// Largest error of straight lines between marks in distance, where the last one has no end, so from the mark before.
pub fn straight_in_distance(lens: &Truth, marks: &[Mark]) -> f64 {
    let finite: Vec<Mark> = marks.iter().copied().filter(|m| m.1.is_finite()).collect();
    of(lens, &finite, |ring| line(&finite, ring))
}

/// Largest error of straight lines between marks in `1 / distance`.
pub fn straight_in_dioptres(lens: &Truth, marks: &[Mark]) -> f64 {
    let dioptres: Vec<Mark> = marks.iter().map(|(r, d)| (*r, 1.0 / d)).collect();
    of(lens, marks, |ring| 1.0 / line(&dioptres, ring))
}

fn line(knots: &[Mark], x: f64) -> f64 {
    let pairs = knots.iter().zip(knots.iter().skip(1));
    let mut inside = pairs
        .filter(|(a, b)| a.0 <= x && x <= b.0)
        .map(|(a, b)| a.1 + (x - a.0) / (b.0 - a.0) * (b.1 - a.1));
    inside.next_back().unwrap_or(f64::NAN)
}

/// Largest error of the bare law `d = A + B / e + C e` by least squares of the ring positions.
pub fn bare_law(lens: &Truth, marks: &[Mark], read: &[Mark]) -> f64 {
    let (law, start, gain) = least_squares(read);
    of(lens, marks, |ring| {
        1.0 / law.dioptres((ring - start) / gain).max(0.0)
    })
}

/// The law, the position of infinity and the travel per unit of extension. For a given law these two are a straight line;
/// `A` and `q`, in parts of the closest distance, follow by Gauss-Newton steps, damped where they do not help.
fn least_squares(read: &[Mark]) -> (FocusLaw, f64, f64) {
    let close = read.iter().map(|m| m.1).fold(f64::INFINITY, f64::min);
    let law = |at: [f64; 2]| FocusLaw {
        offset: at[0] * close,
        product: at[1] * close * close,
    };
    let line = |at: [f64; 2]| fitted_line(read, &law(at));
    let mut at = [0.2, 0.01];
    let mut now = line(at);
    let mut damping = 1e-3;
    for _ in 0..200 {
        const STEP: f64 = 1e-6;
        let Some(here) = &now else { break };
        let beside = [[at[0] + STEP, at[1]], [at[0], at[1] + STEP]].map(line);
        let [Some(by_offset), Some(by_product)] = &beside else {
            break;
        };
        let by = |other: &Line, k: usize| (other.off[k] - here.off[k]) / STEP;
        let (mut m, mut right) = ([0.0; 3], [0.0; 2]);
        for (k, off) in here.off.iter().enumerate() {
            let (a, b) = (by(by_offset, k), by(by_product, k));
            m = [m[0] + a * a, m[1] + a * b, m[2] + b * b];
            right = [right[0] - a * off, right[1] - b * off];
        }
        let (m0, m2) = (m[0] * (1.0 + damping), m[2] * (1.0 + damping));
        let room = m0 * m2 - m[1] * m[1];
        let next = [
            at[0] + (m2 * right[0] - m[1] * right[1]) / room,
            at[1] + (m0 * right[1] - m[1] * right[0]) / room,
        ];
        match line(next) {
            Some(better) if better.squares() < here.squares() => {
                (at, now, damping) = (next, Some(better), damping * 0.1);
            }
            _ => damping *= 10.0,
        }
    }
    now.map_or((law(at), f64::NAN, f64::NAN), |line| {
        (law(at), line.start, line.gain)
    })
}

/// The straight line through position over extension.
struct Line {
    start: f64,
    gain: f64,
    /// Positions minus those of the line.
    off: Vec<f64>,
}

impl Line {
    fn squares(&self) -> f64 {
        self.off.iter().map(|off| off * off).sum()
    }
}

/// `None` where the law folds before the closest mark.
fn fitted_line(read: &[Mark], law: &FocusLaw) -> Option<Line> {
    let points: Vec<(f64, f64)> = read
        .iter()
        .map(|(ring, d)| (law.extension(1.0 / d), *ring))
        .collect();
    let folds = |(mark, point): (&Mark, &(f64, f64))| {
        let off = (law.dioptres(point.0) - 1.0 / mark.1).abs();
        off.is_nan() || off > 1e-9
    };
    if read.iter().zip(&points).any(folds) {
        return None;
    }
    let n = points.len() as f64;
    let mean = (
        points.iter().map(|p| p.0).sum::<f64>() / n,
        points.iter().map(|p| p.1).sum::<f64>() / n,
    );
    let sum = |of: &dyn Fn(f64, f64) -> f64| {
        points
            .iter()
            .map(|p| of(p.0 - mean.0, p.1 - mean.1))
            .sum::<f64>()
    };
    let gain = sum(&|x, y| x * y) / sum(&|x, _| x * x);
    let start = mean.1 - gain * mean.0;
    Some(Line {
        start,
        gain,
        off: points.iter().map(|p| p.1 - start - gain * p.0).collect(),
    })
}
