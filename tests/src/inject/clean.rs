//! Clean takes: motion of rings on a lens whose law is known.

use std::collections::BTreeMap;
use std::sync::Arc;

use ringmark_checks::Expected;
use ringmark_model::{
    Axis, Batch, Camera, Channel, ColumnHead, ColumnKey, EncoderRange, Lens, LensKind, Mark,
    NumberColumn, Origin, Piece, Ring, ScaleQuantity, Take, TextColumn, TextForm,
};
use ringmark_quantity::{
    Angle, CountingMode, DistanceReference, FNumber, FrameRate, Length, NominalFocalLength, TStop,
    Timecode, Unit,
};

use super::random::Random;

/// What the rings do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// Hardly anything.
    Static,
    /// Two pulls with rests between.
    Racks,
    /// A subject is followed to and fro.
    Follow,
    /// A slow pull over the whole take.
    Creep,
    /// Focus is followed while the focal length changes; on a zoom.
    Zoom,
    /// Two pulls of the iris, focus followed.
    Iris,
}

impl Motion {
    /// All of them.
    pub const ALL: [Motion; 6] = [
        Motion::Static,
        Motion::Racks,
        Motion::Follow,
        Motion::Creep,
        Motion::Zoom,
        Motion::Iris,
    ];
}

/// A take with its lens.
#[derive(Debug, Clone)]
pub struct Case {
    /// The law of its focus ring.
    pub thin: Thin,
    /// The calibration, as `--lens` gives it.
    pub calibration: Option<Lens>,
    /// What the take itself says of the lens.
    pub lens: Lens,
    /// The head.
    pub take: Take,
    /// Columns of numbers.
    pub numbers: BTreeMap<Channel, Vec<f64>>,
    /// Columns of texts.
    pub texts: BTreeMap<Channel, Vec<String>>,
    /// What distances count from.
    pub reference: DistanceReference,
    /// What the show expects.
    pub expected: Expected,
    /// How far the rangefinder is in front of the image plane, in m.
    pub finder_offset: f64,
    /// Frames.
    pub frames: usize,
}

/// Millimetres from the image plane to the front of a rangefinder.
pub const FINDER: f64 = 0.12;
const SENSOR: (f64, f64) = (24.9, 18.7);
/// Hyperfocal distances and limits are computed with it, in mm.
const CIRCLE: f64 = 0.025;

/// A thin lens on an even helicoid: position 0 at close focus, 1 at infinity. Gauss: `1/f = 1/a + 1/b`; Newton: extension
/// `e = f² / (a - f)`; distance from the image plane `a + b`.
#[derive(Debug, Clone, Copy)]
pub struct Thin {
    /// Focal length in mm.
    pub mm: f64,
    /// Close focus in m.
    pub close: f64,
}

impl Thin {
    fn extension(self, metres: f64) -> f64 {
        if metres.is_infinite() {
            return 0.0;
        }
        // e + 2f + f²/e = d.
        let k = metres * 1000.0 - 2.0 * self.mm;
        2.0 * self.mm * self.mm / (k + (k * k - 4.0 * self.mm * self.mm).sqrt())
    }

    /// Ring position of a distance.
    pub fn position(self, metres: f64) -> f64 {
        1.0 - self.extension(metres) / self.extension(self.close)
    }

    /// Distance at a ring position.
    pub fn distance(self, position: f64) -> f64 {
        let e = (1.0 - position) * self.extension(self.close);
        if e <= 0.0 {
            f64::INFINITY
        } else {
            (self.mm * self.mm / e + 2.0 * self.mm + e) / 1000.0
        }
    }
}

/// Stops of the iris scale: T2.8 at 0, T22 at 1, even in stops.
pub fn t_stop(position: f64) -> f64 {
    2.8 * 2f64.powf(position * 3.0)
}

/// Focal lengths of the zoom scale: 24 mm at 0, 70 mm at 1, even in their logarithm.
pub fn focal_length(position: f64) -> f64 {
    24.0 * (70.0f64 / 24.0).powf(position)
}

/// The scale of a ring.
fn ring(axis: Axis, quantity: ScaleQuantity, marks: &[(f64, f64)]) -> Ring {
    let mark = |&(position, value): &(f64, f64)| Mark {
        position,
        raw: None,
        value,
        engraved: None,
        place: None,
    };
    Ring {
        axis,
        quantity,
        reference: (axis == Axis::Focus).then_some(DistanceReference::ImagePlane),
        source_unit: quantity.unit(),
        encoder: None,
        rotation: Some(Angle::from_degrees(if axis == Axis::Focus {
            330.0
        } else {
            90.0
        })),
        marks: marks.iter().map(mark).collect(),
    }
}

fn round(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

/// The lens of a motion, with its scales.
fn lens(zoom: bool, thin: Thin) -> Lens {
    let distances = [
        0.5,
        0.6,
        0.7,
        0.8,
        1.0,
        1.2,
        1.5,
        2.0,
        3.0,
        5.0,
        10.0,
        f64::INFINITY,
    ];
    let near = distances.into_iter().filter(|metres| *metres >= thin.close);
    let focus: Vec<(f64, f64)> = near
        .map(|metres| (round(thin.position(metres), 1e-4), metres))
        .collect();
    let iris = [2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0];
    let iris: Vec<(f64, f64)> = iris
        .iter()
        .map(|t| (round((t / 2.8f64).log2() / 3.0, 1e-4), *t))
        .collect();
    let mm = |mm: f64| NominalFocalLength::from_mm(mm).ok();
    let (min, max) = if zoom {
        (24.0, 70.0)
    } else {
        (thin.mm, thin.mm)
    };
    let mut rings = vec![
        ring(Axis::Focus, ScaleQuantity::FocusDistance, &focus),
        ring(Axis::Iris, ScaleQuantity::TStop, &iris),
    ];
    if zoom {
        let marks: Vec<(f64, f64)> = [24.0, 28.0, 35.0, 40.0, 50.0, 60.0, 70.0]
            .iter()
            .map(|f| (round((f / 24.0f64).ln() / (70.0f64 / 24.0).ln(), 1e-4), *f))
            .collect();
        rings.push(ring(Axis::Zoom, ScaleQuantity::FocalLength, &marks));
    }
    Lens {
        maker: Some("Halden Optikk".to_owned()),
        model: Some(if zoom {
            "Halden 24-70".to_owned()
        } else {
            format!("Halden {}", thin.mm)
        }),
        serial: Some("H-1207".to_owned()),
        kind: Some(if zoom {
            LensKind::Zoom
        } else {
            LensKind::Prime
        }),
        focal_length: mm(min).zip(mm(max)),
        close_focus: Some(Length::from_metres(thin.close)),
        close_focus_reference: Some(DistanceReference::ImagePlane),
        widest_t: TStop::new(2.8).ok(),
        smallest_t: TStop::new(22.0).ok(),
        widest_f: FNumber::new(2.6).ok(),
        image_circle: Some(Length::from_mm(46.0)),
        rings,
        ..Lens::default()
    }
}

/// A pull without a jerk, 0 to 1: 10t³ - 15t⁴ + 6t⁵.
pub fn smooth(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * t * (10.0 - 15.0 * t + 6.0 * t * t)
}

/// Two pulls: from `a` to `b` and to `c`.
fn pulls(frames: usize, a: f64, b: f64, c: f64, random: &mut Random) -> Vec<f64> {
    let first = random.whole(frames / 8, frames / 4) as f64;
    let second = random.whole(frames / 2, frames * 5 / 8) as f64;
    let (long, short) = (random.between(14.0, 40.0), random.between(14.0, 40.0));
    (0..frames)
        .map(|n| {
            let n = n as f64;
            a + (b - a) * smooth((n - first) / long) + (c - b) * smooth((n - second) / short)
        })
        .collect()
}

/// What the focus ring does, without the jitter.
fn path(motion: Motion, frames: usize, random: &mut Random) -> Vec<f64> {
    let n = |k: usize| k as f64 / frames as f64;
    match motion {
        Motion::Static => vec![random.between(0.2, 0.85); frames],
        Motion::Racks => {
            let (low, high) = (random.between(0.12, 0.35), random.between(0.6, 0.85));
            let back = random.between(0.3, 0.55);
            if random.either() {
                pulls(frames, low, high, back, random)
            } else {
                pulls(frames, high, low, back, random)
            }
        }
        Motion::Creep => {
            let (low, high) = (random.between(0.2, 0.4), random.between(0.5, 0.8));
            (0..frames)
                .map(|k| low + (high - low) * smooth(n(k) * 1.1 - 0.05))
                .collect()
        }
        Motion::Follow | Motion::Zoom | Motion::Iris => {
            let (middle, turn) = (random.between(0.4, 0.6), random.between(0.0, 6.0));
            let (wide, small) = (random.between(0.1, 0.2), random.between(0.02, 0.05));
            let (slow, fast) = (random.between(1.5, 3.0), random.between(4.0, 7.0));
            let tau = std::f64::consts::TAU;
            (0..frames)
                .map(|k| {
                    middle
                        + wide * (tau * slow * n(k) + turn).sin()
                        + small * (tau * fast * n(k)).sin()
                })
                .collect()
        }
    }
}

impl Case {
    /// A take without a fault.
    pub fn clean(motion: Motion, random: &mut Random) -> Case {
        let frames = random.whole(220, 280);
        let zoom = motion == Motion::Zoom;
        let thin = *random.one_of(&[
            Thin {
                mm: 50.0,
                close: 0.5,
            },
            Thin {
                mm: 35.0,
                close: 0.5,
            },
            Thin {
                mm: 75.0,
                close: 0.7,
            },
        ]);
        let thin = if zoom {
            Thin {
                mm: 50.0,
                close: 0.5,
            }
        } else {
            thin
        };
        let calibration = lens(zoom, thin);
        let rate = *random.one_of(&["24", "25", "24000/1001", "30000/1001"]);
        let mode = if rate == "30000/1001" {
            CountingMode::DropFrame
        } else {
            CountingMode::NonDrop
        };
        let frame_rate = FrameRate::parse(rate).ok();
        let mut case = Case {
            lens: Lens {
                rings: Vec::new(),
                ..calibration.clone()
            },
            thin,
            calibration: Some(calibration),
            take: Take {
                clip: Some("H014C007".to_owned()),
                reel: Some("H014".to_owned()),
                camera: Camera {
                    maker: Some("Orrin".to_owned()),
                    model: Some("Orrin M4".to_owned()),
                    serial: Some("OM4-0233".to_owned()),
                    label: Some("A".to_owned()),
                    ..Camera::default()
                },
                sensor_mm: Some(SENSOR),
                resolution: Some((2880, 2160)),
                frame_rate,
                capture_rate: frame_rate,
                counting: Some(mode),
                distortion_model: Some("Brown-Conrady U-D, focal-length".to_owned()),
                lens: Some(0),
                ..Take::default()
            },
            numbers: BTreeMap::new(),
            texts: BTreeMap::new(),
            reference: DistanceReference::ImagePlane,
            expected: Expected::default(),
            finder_offset: FINDER,
            frames,
        };
        case.clock(random.whole(3600 * 24, 20 * 3600 * 24) as u64, mode);
        case.rings(motion, random);
        case.follow(thin);
        case
    }

    /// Frame numbers, and timecode from a frame of the day on.
    pub fn clock(&mut self, start: u64, mode: CountingMode) {
        let numbers = (0..self.frames).map(|k| (1001 + k) as f64).collect();
        self.numbers.insert(Channel::Frame, numbers);
        let Some(rate) = self.take.frame_rate else {
            return;
        };
        let day = ringmark_quantity::timecode::frames_per_day(rate, mode).unwrap_or(u64::MAX);
        let label = |k: usize| Timecode::from_frame((start + k as u64) % day, rate, mode);
        let labels: Vec<String> = (0..self.frames)
            .filter_map(|k| Some(label(k).ok()?.to_string()))
            .collect();
        self.take.start_timecode = labels.first().cloned();
        self.texts.insert(Channel::Timecode, labels);
    }

    fn rings(&mut self, motion: Motion, random: &mut Random) {
        let focus = path(motion, self.frames, random);
        let iris = match motion {
            Motion::Iris => pulls(self.frames, 0.34, 0.7, 0.5, random),
            _ => vec![0.34; self.frames],
        };
        let zoom = (motion == Motion::Zoom).then(|| pulls(self.frames, 0.2, 0.75, 0.4, random));
        // Steps of a 16-bit encoder, and a hand that trembles by a few of them. A ring that nobody touches does not.
        let mut encoder = |position: f64| {
            round(
                (position + random.between(-2e-4, 2e-4)).clamp(0.0, 1.0),
                1.0 / 65535.0,
            )
        };
        let focus: Vec<f64> = focus.into_iter().map(&mut encoder).collect();
        let iris = if motion == Motion::Iris {
            iris.into_iter().map(&mut encoder).collect()
        } else {
            iris
        };
        let raw = focus
            .iter()
            .map(|position| (position * 65535.0).round())
            .collect();
        if let Some(zoom) = zoom {
            self.numbers.insert(
                Channel::ZoomRing,
                zoom.into_iter().map(&mut encoder).collect(),
            );
        }
        self.numbers.insert(Channel::FocusRing, focus);
        self.numbers.insert(Channel::IrisRing, iris);
        self.numbers.insert(Channel::FocusRingRaw, raw);
        self.take.encoders.push((
            Axis::Focus,
            EncoderRange {
                low: 0.0,
                high: 65535.0,
            },
        ));
    }

    /// Everything that follows from the rings.
    fn follow(&mut self, thin: Thin) {
        let column =
            |case: &Case, channel: Channel| case.numbers.get(&channel).cloned().unwrap_or_default();
        let focus = column(self, Channel::FocusRing);
        let zoom = column(self, Channel::ZoomRing);
        let iris = column(self, Channel::IrisRing);
        let mut put = |channel, value: &dyn Fn(usize) -> f64| {
            self.numbers
                .insert(channel, (0..focus.len()).map(value).collect());
        };
        let distance = |k: usize| round(thin.distance(focus[k]), 1e-4);
        let nominal = |k: usize| {
            zoom.get(k)
                .map_or(thin.mm, |position| round(focal_length(*position), 0.01))
        };
        let t = |k: usize| round(t_stop(iris[k]), 0.01);
        let f = |k: usize| round(t(k) * 0.92, 0.01);
        // A thin lens: f (1 + m), its pupil in its own plane.
        let extension = |k: usize| {
            nominal(k) * nominal(k) / (distance(k) * 1000.0 - 2.0 * nominal(k)).max(nominal(k))
        };
        let pinhole = |k: usize| nominal(k) + extension(k);
        let hyperfocal =
            |k: usize| (nominal(k) * nominal(k) / (f(k) * CIRCLE) + nominal(k)) / 1000.0;
        let half = |k: usize| 1.0 / hyperfocal(k);
        put(Channel::FocusDistance, &distance);
        put(Channel::TStop, &t);
        put(Channel::FNumber, &f);
        put(Channel::NominalFocalLength, &nominal);
        put(Channel::PinholeFocalLength, &|k| round(pinhole(k), 0.001));
        put(Channel::EntrancePupilOffset, &|k| {
            round(pinhole(k) + 12.0, 0.01)
        });
        put(Channel::Hyperfocal, &|k| round(hyperfocal(k), 0.001));
        put(Channel::NearLimit, &|k| {
            round(1.0 / (1.0 / distance(k) + half(k)), 1e-3)
        });
        put(Channel::FarLimit, &|k| {
            let far = 1.0 / distance(k) - half(k);
            if far > 0.0 {
                round(1.0 / far, 1e-3)
            } else {
                f64::INFINITY
            }
        });
        put(Channel::FieldOfView, &|k| {
            2.0 * (SENSOR.0 / 2.0 / pinhole(k)).atan().to_degrees()
        });
        put(Channel::ShutterAngle, &|_| 180.0);
        let rate = self.take.frame_rate.map_or(24.0, |rate| rate.as_f64());
        let mut put = |channel, value: f64| {
            self.numbers.insert(channel, vec![value; self.frames]);
        };
        put(Channel::ExposureTime, 0.5 / rate);
        put(Channel::Sensitivity, 800.0);
        put(Channel::DistortionK1, -0.04);
        put(Channel::DistortionK2, 0.006);
        let name = format!("{} #H-1207", self.lens.model.as_deref().unwrap_or_default());
        self.texts.insert(Channel::Lens, vec![name; self.frames]);
    }

    /// Adds what a rangefinder beside the camera sees, in m.
    pub fn with_rangefinder(&mut self, offset: f64, lag: usize) {
        let focus = self.numbers[&Channel::FocusDistance].clone();
        let seen = (0..self.frames)
            .map(|k| round(focus[k.saturating_sub(lag)] - offset, 0.001))
            .collect();
        self.numbers.insert(Channel::RangefinderDistance, seen);
    }

    /// The pieces of the document.
    pub fn pieces(&self) -> Vec<Piece> {
        let numbers = self.numbers.iter().map(|(channel, values)| NumberColumn {
            head: head(*channel, self.reference),
            values: values.clone(),
        });
        let texts = self.texts.iter().map(|(channel, texts)| {
            TextColumn::from_texts(
                head(*channel, self.reference),
                texts
                    .iter()
                    .map(|text| (!text.is_empty()).then_some(text.as_str())),
            )
        });
        let batch = Batch {
            count: self.frames,
            numbers: numbers.collect(),
            texts: texts.collect(),
            ..Batch::default()
        };
        vec![
            Piece::Lens(self.lens.clone()),
            Piece::Take(self.take.clone()),
            Piece::Frames(batch),
        ]
    }
}

fn head(channel: Channel, reference: DistanceReference) -> Arc<ColumnHead> {
    // A rangefinder counts from its own front, wherever that is.
    let point = if channel == Channel::RangefinderDistance {
        DistanceReference::Unstated
    } else {
        reference
    };
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: channel
            .unit()
            .map_or(String::new(), |unit: Unit| unit.symbol().to_owned()),
        reference: channel.is_distance().then_some(point),
        origin: Origin::Recorded,
        source_unit: None,
        form: channel.is_text().then_some(TextForm::Text),
    })
}
