//! Thick lenses behind drives of many kinds, by Newton's equation: not those that anything was fitted to.

use super::lens::{Row, Truth, depth};

/// What stands between extension and ring.
#[derive(Debug, Clone, Copy)]
pub enum Drive {
    Even,
    /// Logarithm with this ratio of the slopes at the ends.
    Log(f64),
    Power(f64),
    /// Even plus a sine of this amplitude.
    Sine(f64),
    /// Two straight parts, the second with this slope relative to the first, joined within a tenth of the travel.
    Bent(f64),
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
            Self::Bent(slope) => {
                let at = |e: f64| {
                    let soft = 0.03;
                    let x = (e - 0.5) / soft;
                    // A softened corner: ln(1 + exp x).
                    e + (slope - 1.0) * soft * (x.max(0.0) + (-x.abs()).exp().ln_1p())
                };
                (at(e) - at(0.0)) / (at(1.0) - at(0.0))
            }
        }
    }
}

/// A lens that moves as a whole: focal length and distance of the principal planes in mm, f-number, close focus in m.
pub fn lens(focal: f64, planes: f64, f_number: f64, close: f64, drive: Drive) -> Truth {
    let (f, h) = (focal / 1000.0, planes / 1000.0);
    let extension = |d: f64| {
        let k = d - 2.0 * f - h;
        2.0 * f * f / (k + (k * k - 4.0 * f * f).sqrt())
    };
    let most = extension(close);
    let row = |k: i32| {
        // Even in dioptres, closer near both ends.
        let t = 0.5 - 0.5 * (std::f64::consts::PI * f64::from(k) / 240.0).cos();
        let distance = close / (1.0 - t).max(close / 1000.0);
        let e = extension(distance);
        // The entrance pupil at the front principal plane.
        let pupil = f + e + h;
        Row {
            ring: 1.0 - drive.ring(e / most),
            distance,
            depth: depth(distance, pupil, e / f, f / f_number),
        }
    };
    Truth {
        name: format!("{focal}{planes:+} f/{f_number} from {close} m, {drive:?}"),
        rows: (0..=240).map(row).collect(),
    }
}

/// Lenses with an even drive.
pub fn even() -> Vec<Truth> {
    let all = [
        (18.0, 70.0, 2.0, 0.3),
        (24.0, 55.0, 1.4, 0.25),
        (35.0, 30.0, 1.4, 0.3),
        (40.0, -6.0, 2.0, 0.4),
        (75.0, 0.0, 1.8, 0.7),
        (100.0, -12.0, 2.8, 0.9),
        (135.0, -40.0, 2.0, 1.5),
        (100.0, -10.0, 2.8, 0.45),
        (200.0, -80.0, 2.8, 2.0),
    ];
    let lens = |(f, h, n, d)| lens(f, h, n, d, Drive::Even);
    all.into_iter().map(lens).collect()
}

/// Lenses with cams.
pub fn cams() -> Vec<Truth> {
    let drives = [
        Drive::Log(2.0),
        Drive::Log(5.0),
        Drive::Power(0.8),
        Drive::Power(1.3),
        Drive::Sine(0.03),
        Drive::Sine(0.12),
        Drive::Sine(-0.08),
        Drive::Sine(0.2),
        Drive::Bent(0.5),
        Drive::Bent(2.5),
    ];
    let bodies = [
        (28.0, 40.0, 2.0, 0.3),
        (65.0, 5.0, 1.8, 0.6),
        (100.0, -12.0, 2.8, 0.9),
    ];
    let all = drives.iter().zip(bodies.iter().cycle());
    all.map(|(drive, (f, h, n, d))| lens(*f, *h, *n, *d, *drive))
        .collect()
}
