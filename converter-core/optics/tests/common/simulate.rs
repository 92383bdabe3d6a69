//! Takes of a traced lens with a rangefinder on the camera.

use std::ops::Range;

use ringmark_model::ScaleQuantity;
use ringmark_optics::reconcile::FinderFrame;
use ringmark_optics::{Pchip, RingCurve};

/// A traced lens: the truth by ring position.
pub struct Lens {
    rows: Vec<(f64, f64)>,
    /// Ring position over dioptres.
    ring: Pchip,
    pub focal_length_mm: f64,
    pub f_number: f64,
    close: f64,
}

impl Lens {
    pub fn traced(name: &str) -> Lens {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/standards/traced");
        let text = std::fs::read_to_string(format!("{folder}/{name}.csv")).unwrap();
        let rows: Vec<(f64, f64)> = text
            .lines()
            .skip(1)
            .map(|line| {
                let cells: Vec<&str> = line.split(',').collect();
                (cells[0].parse().unwrap(), cells[3].parse().unwrap())
            })
            .collect();
        let (dioptres, ring): (Vec<f64>, Vec<f64>) = rows
            .iter()
            .rev()
            .map(|(ring, metres)| (1.0 / metres, *ring))
            .unzip();
        let facts = std::fs::read_to_string(format!("{folder}/{name}.json")).unwrap();
        let facts: serde_json::Value = serde_json::from_str(&facts).unwrap();
        Lens {
            close: rows[0].1,
            rows,
            ring: Pchip::new(dioptres, ring).unwrap(),
            focal_length_mm: facts["focal_mm"].as_f64().unwrap(),
            f_number: facts["f_number"].as_f64().unwrap(),
        }
    }

    /// Its scale from twelve marks.
    pub fn curve(&self) -> RingCurve {
        let last = self.rows.len() - 1;
        let marks: Vec<(f64, f64)> = (0..12).map(|n| self.rows[n * last / 11]).collect();
        RingCurve::from_marks(ScaleQuantity::FocusDistance, &marks).unwrap()
    }

    fn ring(&self, metres: f64) -> f64 {
        self.ring.value(1.0 / metres)
    }
}

/// What happens in a take.
#[derive(Clone)]
pub struct Scene {
    pub frames: usize,
    /// Frames that the rangefinder is late.
    pub lag: f64,
    /// Scatter of its readings, as a part of the distance.
    pub noise: f64,
    /// Part of the readings that are missing or of the background.
    pub dropouts: f64,
    /// What is missing in its readings, metres.
    pub offset: f64,
    pub offset_is_known: bool,
    /// To be added to the recorded ring positions to make them right, in travel.
    pub slip: f64,
    /// Frames in which focus stays behind by so many full depths.
    pub missed: Option<(Range<usize>, f64)>,
    pub still: bool,
    /// The rangefinder sees something that focus does not follow.
    pub other_subject: bool,
}

impl Default for Scene {
    fn default() -> Self {
        Scene {
            frames: 480,
            lag: 0.0,
            noise: 0.0,
            dropouts: 0.0,
            offset: 0.0,
            offset_is_known: true,
            slip: 0.0,
            missed: None,
            still: false,
            other_subject: false,
        }
    }
}

/// Numbers that look like chance and are the same in every run (Knuth's linear congruential generator, MMIX).
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Chance {
        let mut chance = Chance(seed);
        for _ in 0..3 {
            chance.uniform();
        }
        chance
    }

    /// 0 to 1.
    pub fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Mean 0, standard deviation 1 (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform().max(1e-300), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// Subjects that walk from one distance to the next and rest there, in dioptres by frame, which may be a part of one.
struct Walk {
    stations: Vec<(f64, f64)>,
}

impl Walk {
    fn new(lens: &Lens, scene: &Scene, chance: &mut Chance) -> Walk {
        let (near, far) = (1.0 / (1.6 * lens.close), 1.0 / 8.0);
        let mut stations = vec![(-100.0, 0.5 * (near + far))];
        let mut at = 20.0;
        while at < scene.frames as f64 + 100.0 {
            let last = stations.last().unwrap().1;
            let next = if scene.still {
                last
            } else {
                far + (near - far) * chance.uniform()
            };
            stations.push((at, last));
            let takes = 24.0 + 72.0 * chance.uniform();
            stations.push((at + takes, next));
            at += takes + 12.0 + 60.0 * chance.uniform();
        }
        stations.push((at + 1e6, stations.last().unwrap().1));
        Walk { stations }
    }

    /// Moves begin and end gently.
    fn dioptres(&self, frame: f64) -> f64 {
        let after = self
            .stations
            .partition_point(|(at, _)| *at <= frame)
            .clamp(1, self.stations.len() - 1);
        let ((from, a), (to, b)) = (self.stations[after - 1], self.stations[after]);
        let t = ((frame - from) / (to - from)).clamp(0.0, 1.0);
        a + (b - a) * t * t * (3.0 - 2.0 * t)
    }
}

/// The frames of a take; the same for the same seed.
pub fn take(lens: &Lens, scene: &Scene, seed: u64) -> Vec<FinderFrame> {
    let mut chance = Chance::new(seed);
    let walk = Walk::new(lens, scene, &mut chance);
    let other = Walk::new(lens, scene, &mut chance);
    let depth = 2000.0 * lens.f_number * 0.025 / lens.focal_length_mm.powi(2);
    let mut background = 0;
    (0..scene.frames)
        .map(|frame| {
            let at = frame as f64;
            let mut focus = walk.dioptres(at);
            if let Some((frames, depths)) = &scene.missed {
                // It falls back, and catches up, within four frames.
                let (first, end) = (frames.start as f64, frames.end as f64);
                focus += depths * depth * ((at - first + 1.0).min(end - at) / 4.0).clamp(0.0, 1.0);
            }
            let seen = if scene.other_subject { &other } else { &walk };
            let subject = 1.0 / seen.dioptres(at - scene.lag);
            let mut reading = (subject - scene.offset) * (1.0 + scene.noise * chance.normal());
            let lost = chance.uniform();
            if background == 0 && lost < scene.dropouts / 4.0 {
                background = 4;
            }
            if background > 0 {
                background -= 1;
                // Half of the time nothing comes back, else the wall behind.
                reading = if frame % 16 < 8 {
                    f64::NAN
                } else {
                    9.0 + chance.uniform()
                };
            }
            FinderFrame {
                ring: lens.ring(1.0 / focus) - scene.slip,
                reading_m: reading,
                focal_length_mm: lens.focal_length_mm,
                f_number: lens.f_number,
            }
        })
        .collect()
}
