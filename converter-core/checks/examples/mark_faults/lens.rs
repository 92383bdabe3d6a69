//! Invented lenses: the exact law for lenses that move as a whole, several drives, engraved series, reading noise.

use ringmark_model::{Axis, Lens, LensKind, Mark, Ring, ScaleQuantity};
use ringmark_quantity::{DistanceReference, Length, NominalFocalLength, Unit};

/// Numbers from a seed (SplitMix64, S. Vigna, public domain, from memory).
pub struct Dice(pub u64);

impl Dice {
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.bits() % n.max(1) as u64) as usize
    }

    pub fn pick<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())]
    }

    /// Normal, by the sum of twelve.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// How the ring drives the focus.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Drive {
    Linear,
    SineCam,
    LogCam,
    TwoSlope,
    InnerFocus,
}

pub const DRIVES: [Drive; 5] = [
    Drive::Linear,
    Drive::SineCam,
    Drive::LogCam,
    Drive::TwoSlope,
    Drive::InnerFocus,
];

/// A clean scale, and the ring beyond its marks.
pub struct Made {
    pub drive: Drive,
    pub lens: Lens,
    /// Distance between the front of the lens and the image plane, in m.
    pub length: f64,
    /// Position of the end stop behind infinity.
    pub stop: f64,
}

const METRES: [&[f64]; 3] = [
    &[
        0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2, 1.5, 2.0, 3.0,
        5.0, 10.0,
    ],
    &[
        0.2, 0.22, 0.25, 0.28, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5,
        1.8, 2.1, 2.5, 3.0, 3.5, 4.0, 5.0, 7.0, 12.0, 20.0,
    ],
    &[
        0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 6.0, 8.0, 15.0, 30.0,
    ],
];
/// Inches.
const FEET: [&[f64]; 2] = [
    &[
        8.0, 9.0, 10.0, 11.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 24.0, 27.0, 30.0, 33.0, 36.0,
        42.0, 48.0, 54.0, 60.0, 72.0, 84.0, 96.0, 120.0, 180.0, 300.0, 600.0,
    ],
    &[
        12.0, 13.0, 14.0, 15.0, 17.0, 19.0, 21.0, 24.0, 28.0, 32.0, 36.0, 40.0, 45.0, 50.0, 55.0,
        62.0, 66.0, 70.0, 78.0, 90.0, 108.0, 144.0, 240.0, 420.0,
    ],
];

pub fn make(dice: &mut Dice) -> Made {
    let drive = dice.pick(&DRIVES);
    loop {
        if let Some(made) = try_make(dice, drive) {
            return made;
        }
    }
}

fn try_make(dice: &mut Dice, drive: Drive) -> Option<Made> {
    let f = dice.pick(&[
        14.0, 16.0, 18.0, 21.0, 25.0, 28.0, 32.0, 35.0, 40.0, 50.0, 65.0, 75.0, 85.0, 100.0, 135.0,
        180.0, 200.0, 300.0,
    ]) / 1000.0;
    let hiatus = dice.between(-0.3, if f < 0.03 { 3.0 } else { 1.0 }) * f;
    let close = (f * dice.between(7.0, 14.0)).max(0.2);
    let close = (close * 20.0).round() / 20.0;
    let unit = dice.pick(&[
        Unit::Metre,
        Unit::Metre,
        Unit::Metre,
        Unit::Centimetre,
        Unit::Foot,
        Unit::FeetInches,
    ]);
    let feet = matches!(unit, Unit::Foot | Unit::FeetInches);
    let series: Vec<f64> = if feet {
        dice.pick(&FEET)
            .iter()
            .map(|inches| inches * 0.0254)
            .collect()
    } else {
        dice.pick(&METRES).to_vec()
    };
    let mut distances: Vec<f64> = series
        .into_iter()
        .filter(|d| *d >= 0.999 * close && *d < close * 60.0)
        .collect();
    let wanted = 6 + dice.below(19);
    while distances.len() + 1 > wanted.max(6) && distances.len() > 5 {
        let drop = 1 + dice.below(distances.len() - 1);
        distances.remove(drop);
    }
    if distances.len() < 5 {
        return None;
    }
    distances.push(f64::INFINITY);
    let odd = dice.between(-2.0, 6.0) * f;
    let e = |d: f64| extension(d, f, hiatus, (drive == Drive::InnerFocus).then_some(odd));
    let most = e(distances[0].min(close));
    if !most.is_finite() || most <= 0.0 {
        return None;
    }
    let bend = dice.between(-0.12, 0.12);
    let ratio = dice
        .between(1.5, 5.0)
        .powf(if dice.below(2) == 0 { 1.0 } else { -1.0 });
    let (knee, slope) = (dice.between(0.25, 0.75), dice.between(0.55, 1.7));
    let cam = |z: f64| match drive {
        Drive::Linear | Drive::InnerFocus => z,
        Drive::SineCam => z + bend * (std::f64::consts::PI * z).sin(),
        Drive::LogCam => (1.0 + (ratio - 1.0) * z).ln() / ratio.ln(),
        Drive::TwoSlope => {
            if z < knee {
                z * slope
            } else {
                knee * slope + (z - knee)
            }
        }
    };
    let whole = cam(1.0);
    let over = dice.between(0.01, 0.05);
    let noise = dice.pick(&[0.0, 3e-4, 5e-4, 1e-3]);
    let falls = dice.below(5) == 0;
    // Many encoders are homed on infinity: it then stands at the end of the range.
    let homed = dice.below(2) == 0;
    let marks = distances.iter().map(|&d| {
        let z = cam(e(d) / most) / whole;
        let mut position = if homed {
            1.0 - z
        } else {
            1.0 - over - (1.0 - over) * z
        };
        if !(homed && d.is_infinite()) {
            position = (position + noise * dice.normal()).clamp(0.0, 1.0);
        }
        position = (position * 1e5).round() / 1e5;
        let position = if falls { 1.0 - position } else { position };
        Mark {
            position,
            raw: None,
            value: d,
            engraved: Some(text(d, unit)),
            place: None,
        }
    });
    let marks: Vec<Mark> = marks.collect();
    let way = (marks[0].position - marks[marks.len() - 1].position).signum();
    if !marks
        .windows(2)
        .all(|pair| (pair[0].position - pair[1].position) * way > 0.0)
    {
        return None;
    }
    let stated = dice.below(5);
    let lens = Lens {
        maker: Some("Halden Optikk".to_owned()),
        kind: Some(LensKind::Prime),
        focal_length: (stated != 0)
            .then(|| {
                let mm = NominalFocalLength::from_mm(f * 1000.0).ok()?;
                Some((mm, mm))
            })
            .flatten(),
        close_focus: (stated != 1).then(|| Length::from_metres(close)),
        rings: vec![Ring {
            axis: Axis::Focus,
            quantity: ScaleQuantity::FocusDistance,
            reference: Some(DistanceReference::ImagePlane),
            source_unit: unit,
            encoder: None,
            rotation: None,
            marks,
        }],
        ..Lens::default()
    };
    let length = (dice.between(1.5, 2.6) * f + hiatus.max(0.0))
        .max(0.07)
        .min(0.3 * close);
    Some(Made {
        drive,
        lens,
        length: (length * 100.0).round() / 100.0,
        stop: if falls { 0.0 } else { 1.0 },
    })
}

/// `e = 2 f² / (K + sqrt(K² - 4 f²))`, K = D - 2 f - H; for an inner group `f² / (D - A)` with any A.
fn extension(d: f64, f: f64, hiatus: f64, odd: Option<f64>) -> f64 {
    if d.is_infinite() {
        return 0.0;
    }
    if let Some(odd) = odd {
        return f * f / (d - odd.min(0.7 * d));
    }
    let k = d - 2.0 * f - hiatus;
    if k < 2.05 * f {
        f64::NAN
    } else {
        2.0 * f * f / (k + (k * k - 4.0 * f * f).sqrt())
    }
}

/// The text of a distance in the unit of a scale.
pub fn text(metres: f64, unit: Unit) -> String {
    if metres.is_infinite() {
        return "inf".to_owned();
    }
    let short = |x: f64, decimals: usize| {
        let t = format!("{x:.decimals$}");
        if t.contains('.') {
            t.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            t
        }
    };
    match unit {
        Unit::Foot => format!("{:.4}", metres / 0.3048),
        Unit::FeetInches => {
            let inches = (metres / 0.0254).round();
            format!("{}'{}\"", (inches / 12.0).floor(), inches % 12.0)
        }
        Unit::Centimetre => short(metres * 100.0, 1),
        _ => short(metres, 3),
    }
}
