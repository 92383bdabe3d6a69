//! Lenses and drives of many kinds, none of which anything was fitted to: thick lenses that move as a whole, by
//! Newton's equation, and lenses of two thin groups of which the rear one moves.

use ringmark_model::ScaleQuantity;

use super::lens::{Row, Truth, depth};

/// What stands between extension and ring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Drive {
    Even,
    /// Logarithm with this ratio of the slopes at the ends.
    Log(f64),
    Power(f64),
    /// Even plus a sine of this amplitude.
    Sine(f64),
    /// A crank that swings through this angle.
    Crank(f64),
    /// Even plus a whole wave of this amplitude.
    Wave(f64),
    /// A logarithm of this ratio behind a whole wave of this amplitude.
    Mixed(f64, f64),
    /// Two straight parts, the second with this slope relative to the first, joined at this part of the travel, within
    /// about three times the last figure.
    Bent(f64, f64, f64),
}

impl Drive {
    /// Ring position, 0 to 1, of a part of the extension.
    fn ring(self, e: f64) -> f64 {
        use std::f64::consts::PI;
        match self {
            Self::Even => e,
            Self::Log(ratio) => (1.0 + (ratio - 1.0) * e).ln() / ratio.ln(),
            Self::Power(p) => e.powf(p),
            Self::Sine(amplitude) => e + amplitude * (PI * e).sin(),
            Self::Crank(angle) => (angle * e).sin() / angle.sin(),
            Self::Wave(amplitude) => e + amplitude * (2.0 * PI * e).sin(),
            Self::Mixed(ratio, amplitude) => Self::Log(ratio).ring(Self::Wave(amplitude).ring(e)),
            Self::Bent(slope, corner, soft) => {
                let at = |e: f64| {
                    let x = (e - corner) / soft;
                    // A softened corner: ln(1 + exp x).
                    e + (slope - 1.0) * soft * (x.max(0.0) + (-x.abs()).exp().ln_1p())
                };
                (at(e) - at(0.0)) / (at(1.0) - at(0.0))
            }
        }
    }
}

/// What stands before the drive; lengths in mm, close focus in m.
#[derive(Debug, Clone, Copy)]
pub enum Body {
    /// Moves as a whole: focal length, distance of the principal planes, f-number, close focus.
    Unit(f64, f64, f64, f64),
    /// Thin groups: focal lengths, distance between them and to the image plane at infinity, f-number, close focus.
    /// The stop is at the front group; the rear group moves.
    Inner([f64; 2], f64, f64, f64),
}

/// Steps of a table, even in dioptres and closer near both ends.
const ROWS: i32 = 240;

fn distances(close: f64) -> impl Iterator<Item = f64> {
    (0..=ROWS).map(move |k| {
        let t = 0.5 - 0.5 * (std::f64::consts::PI * f64::from(k) / f64::from(ROWS)).cos();
        close / (1.0 - t).max(close / 1000.0)
    })
}

/// A lens behind a drive.
pub fn lens(body: Body, drive: Drive) -> Truth {
    let (name, rows) = match body {
        Body::Unit(focal, planes, f_number, close) => (
            format!("{focal}{planes:+} f/{f_number} from {close} m"),
            unit(focal / 1000.0, planes / 1000.0, f_number, close),
        ),
        Body::Inner(groups, apart, f_number, close) => (
            format!(
                "inner {}|{} f/{f_number} from {close} m",
                groups[0], groups[1]
            ),
            inner(groups.map(|f| f / 1000.0), apart / 1000.0, f_number, close),
        ),
    };
    let row = |(part, row): (f64, Row)| Row {
        ring: 1.0 - drive.ring(part),
        ..row
    };
    Truth {
        name: format!("{name}, {drive:?}"),
        quantity: ScaleQuantity::FocusDistance,
        rows: rows.into_iter().map(row).collect(),
    }
}

/// Parts of the movement from infinity to close focus, and what is true there.
fn unit(f: f64, h: f64, f_number: f64, close: f64) -> Vec<(f64, Row)> {
    let extension = |d: f64| {
        let k = d - 2.0 * f - h;
        2.0 * f * f / (k + (k * k - 4.0 * f * f).sqrt())
    };
    let most = extension(close);
    let row = |distance: f64| {
        let e = extension(distance);
        // The entrance pupil at the front principal plane.
        let row = Row {
            ring: 0.0,
            value: distance,
            one: depth(distance, f + e + h, e / f, f / f_number),
        };
        (e / most, row)
    };
    distances(close).map(row).collect()
}

/// With the groups at 0 and `p` and the image plane at `x`: the front group's image is the rear one's object, twice
/// `1 / s' = 1 / f + 1 / s`.
fn inner([f1, f2]: [f64; 2], apart: f64, f_number: f64, close: f64) -> Vec<(f64, Row)> {
    // At infinity the front group's image is at f1.
    let x = apart + 1.0 / (1.0 / f2 + 1.0 / (f1 - apart));
    // Where the rear group brings an image at `s` to the image plane: p² - (x + s) p + x s + f2 (x - s) = 0.
    let place = |s: f64| {
        let half = 0.5 * (x + s);
        let root = (half * half - x * s - f2 * (x - s)).max(0.0).sqrt();
        let (a, b) = (half - root, half + root);
        if (a - apart).abs() < (b - apart).abs() {
            a
        } else {
            b
        }
    };
    let image = |distance: f64| 1.0 / (1.0 / f1 - 1.0 / (distance - x));
    let most = place(image(close)) - apart;
    let focal = f1 * (x - apart) / (f1 - apart);
    let row = |distance: f64| {
        let s = image(distance);
        let p = place(s);
        let m = s / (distance - x) * (x - p) / (s - p);
        let row = Row {
            ring: 0.0,
            value: distance,
            one: depth(distance, x, m.abs(), focal / f_number),
        };
        ((p - apart) / most, row)
    };
    distances(close).map(row).collect()
}

const BODIES: [Body; 13] = [
    Body::Unit(18.0, 70.0, 2.0, 0.3),
    Body::Unit(24.0, 55.0, 1.4, 0.25),
    Body::Unit(35.0, 30.0, 1.4, 0.3),
    Body::Unit(40.0, -6.0, 2.0, 0.4),
    Body::Unit(75.0, 0.0, 1.8, 0.7),
    Body::Unit(100.0, -12.0, 2.8, 0.9),
    Body::Unit(135.0, -40.0, 2.0, 1.5),
    Body::Unit(100.0, -10.0, 2.8, 0.45),
    Body::Unit(200.0, -80.0, 2.8, 2.0),
    // Positive groups, a rear group that shortens the focal length, a long lens with a negative one, a retrofocus one.
    Body::Inner([120.0, 150.0], 45.0, 2.0, 0.8),
    Body::Inner([160.0, 110.0], 30.0, 1.8, 0.7),
    Body::Inner([110.0, -160.0], 50.0, 2.8, 1.5),
    Body::Inner([-90.0, 45.0], 50.0, 2.8, 0.35),
];

/// Lenses with an even drive.
pub fn even() -> Vec<Truth> {
    BODIES
        .into_iter()
        .map(|body| lens(body, Drive::Even))
        .collect()
}

fn behind(drives: &[Drive]) -> Vec<Truth> {
    let bodies = [
        Body::Unit(28.0, 40.0, 2.0, 0.3),
        Body::Unit(65.0, 5.0, 1.8, 0.6),
        Body::Unit(100.0, -12.0, 2.8, 0.9),
        Body::Inner([120.0, 150.0], 45.0, 2.0, 0.8),
    ];
    let all = drives.iter().zip(bodies.iter().cycle());
    all.map(|(drive, body)| lens(*body, *drive)).collect()
}

/// Lenses with smooth cams.
pub fn cams() -> Vec<Truth> {
    behind(&[
        Drive::Log(2.0),
        Drive::Log(5.0),
        Drive::Log(3.0),
        Drive::Log(0.3),
        Drive::Power(1.3),
        Drive::Power(0.8),
        Drive::Sine(0.03),
        Drive::Sine(0.12),
        Drive::Sine(-0.08),
        Drive::Sine(0.2),
        Drive::Sine(0.08),
        Drive::Sine(-0.15),
        Drive::Sine(0.2),
        Drive::Crank(1.2),
        Drive::Crank(0.9),
        Drive::Wave(0.04),
        Drive::Wave(-0.06),
        Drive::Crank(1.35),
        Drive::Mixed(3.0, 0.03),
        Drive::Mixed(2.0, -0.02),
        Drive::Mixed(0.4, 0.03),
    ])
}

/// Lenses with two-slope drives.
pub fn bent() -> Vec<Truth> {
    behind(&[
        Drive::Bent(2.5, 0.5, 0.03),
        Drive::Bent(0.5, 0.3, 0.01),
        Drive::Bent(0.5, 0.5, 0.03),
        Drive::Bent(0.6, 0.4, 0.005),
        Drive::Bent(0.4, 0.6, 0.05),
        Drive::Bent(2.0, 0.35, 0.01),
        Drive::Bent(1.5, 0.7, 0.03),
        Drive::Bent(2.5, 0.25, 0.005),
    ])
}

/// Rings that read `low` to `high`, straight in the coordinate behind a drive; errors are counted in `one`.
fn straight(quantity: ScaleQuantity, low: f64, high: f64, one: f64, drive: Drive) -> Truth {
    let row = |k: i32| {
        let t = f64::from(k) / f64::from(ROWS);
        Row {
            ring: drive.ring(t),
            value: low * (high / low).powf(t),
            one,
        }
    };
    Truth {
        name: format!("{low} to {high}, {drive:?}"),
        quantity,
        rows: (0..=ROWS).map(row).collect(),
    }
}

/// Drives of iris and zoom rings.
const STRAIGHT: [Drive; 6] = [
    Drive::Even,
    Drive::Log(1.5),
    Drive::Sine(0.05),
    Drive::Crank(0.9),
    Drive::Mixed(2.0, 0.02),
    Drive::Bent(1.6, 0.6, 0.02),
];

/// Iris rings; errors in stops.
pub fn irises() -> Vec<Truth> {
    let ranges = [(1.4, 22.0), (2.1, 16.0), (0.7, 64.0)];
    let all = STRAIGHT.iter().zip(ranges.iter().cycle());
    all.map(|(drive, (low, high))| straight(ScaleQuantity::TStop, *low, *high, 1.0, *drive))
        .collect()
}

/// Zoom rings of 3 to 20 times; errors in hundredths of the focal length.
pub fn zooms() -> Vec<Truth> {
    let ranges = [(28.0, 84.0), (25.0, 250.0), (15.0, 300.0)];
    let all = STRAIGHT.iter().zip(ranges.iter().cycle());
    all.map(|(drive, (low, high))| straight(ScaleQuantity::FocalLength, *low, *high, 0.01, *drive))
        .collect()
}
