//! How well a smooth drive under the law of focusing explains the marks of a scale, as one number: the logarithm of the
//! probability density of the positions, given the values.
//!
//! With `z` the extension that the law gives for a value, as a part of that of the nearest mark, position is a straight
//! line in `z` bent by a Wiener process in its slope (a cubic smoothing spline, G. Wahba 1978, from memory), plus a
//! reading error. The density comes from a Kalman filter over the marks (R. E. Kalman 1960, from memory). It is averaged
//! over the law's constant A, the strength of the bending and the reading error, so explanations that need a contrived
//! lens or drive count for less.

use ringmark_optics::FocusLaw;

/// A mark: its value as a coordinate of the ring, and its position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    /// Dioptres (0 is infinity); for stops and focal lengths the logarithm.
    pub y: f64,
    pub position: f64,
}

/// What kind of scale, and what is known of the lens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Law {
    /// Focus, with the focal length in m if the lens has one.
    Focus(Option<f64>),
    /// Iris and zoom: nearly straight in the logarithm.
    Straight,
}

/// Where a drive may break.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Break {
    /// From this spot on (by falling `y`), positions are off by one amount.
    pub slip: Option<usize>,
    /// Before this spot the slope changes at once: a cam of two slopes.
    pub kink: Option<usize>,
}

/// Bending, in travel per unit of z to the power 3/2, and how likely it is.
const BENDING: [(f64, f64); 6] = [
    (1e-3, 0.40),
    (0.03, 0.12),
    (0.10, 0.12),
    (0.30, 0.12),
    (1.00, 0.12),
    (3.00, 0.12),
];
/// Reading errors of focus marks in travel, one standard deviation, and how likely they are.
const READING: [(f64, f64); 4] = [(2.5e-4, 0.3), (5e-4, 0.3), (1e-3, 0.3), (2e-3, 0.1)];
/// Stops and focal lengths are engraved in rounded numbers (5.6 for 5.657), which adds to the reading error.
const ROUNDED: [(f64, f64); 3] = [(1.5e-3, 0.4), (4e-3, 0.4), (8e-3, 0.2)];
/// How far a ring slips on its gear, one standard deviation, in travel.
const SLIP: f64 = 0.03;
/// How much the slope of a two-slope cam changes, as a part of the mean slope.
const KINK: f64 = 0.7;
/// Positions may run against the scale by reading errors only.
const AGAINST: f64 = 0.004;
/// What each pair that does so costs: no drive is made like that.
const AGAINST_WAY: f64 = 12.0;

/// The evidence for spots in any order.
pub(crate) fn evidence(spots: &[Spot], law: Law, broken: Break) -> f64 {
    let mut spots = spots.to_vec();
    spots.sort_by(|a, b| a.y.total_cmp(&b.y));
    if spots.len() < 3 {
        return f64::NEG_INFINITY;
    }
    let against = AGAINST_WAY * runs_against(&spots) as f64;
    let reading: &[(f64, f64)] = match law {
        Law::Focus(_) => &READING,
        Law::Straight => &ROUNDED,
    };
    let mut total = Sum::default();
    for (law, likely) in laws(&spots, law) {
        let Some(z) = extensions(&spots, law) else {
            continue;
        };
        for (bending, bent) in BENDING {
            for (error, read) in reading {
                let log = filter(&spots, &z, bending, *error, broken);
                total.add(log + (likely * bent * read).ln());
            }
        }
    }
    total.log() - against
}

/// Neighbours that run against the scale.
fn runs_against(spots: &[Spot]) -> usize {
    let (Some(first), Some(last)) = (spots.first(), spots.last()) else {
        return 0;
    };
    let rise = last.position - first.position;
    let pairs = spots.iter().zip(spots.iter().skip(1));
    pairs
        .into_iter()
        .filter(|(a, b)| (b.position - a.position) * rise.signum() < -AGAINST)
        .count()
}

/// Laws worth trying and how likely each is; `None` is the plain coordinate.
fn laws(spots: &[Spot], law: Law) -> Vec<(Option<FocusLaw>, f64)> {
    let Law::Focus(focal) = law else {
        return vec![(None, 1.0)];
    };
    let nearest = spots.last().map_or(f64::NAN, |spot| 1.0 / spot.y);
    // Lenses with an inner group and behind cams follow the law with any A.
    let odd = [
        -4.0, -2.0, -1.0, -0.5, -0.2, 0.0, 0.15, 0.3, 0.45, 0.6, 0.72,
    ]
    .map(|part| FocusLaw {
        offset: part * nearest,
        product: 0.0,
    });
    // The whole lens moves: A = 2 f + H.
    let whole = focal.map(|f| {
        [-0.3, 0.0, 0.3, 0.7, 1.2, 1.8, 2.4, 3.0].map(|hiatus| FocusLaw {
            offset: (2.0 + hiatus) * f,
            product: f * f,
        })
    });
    let whole: Vec<FocusLaw> = whole
        .into_iter()
        .flatten()
        .filter(|law| holds(law, nearest))
        .collect();
    let share = if whole.is_empty() { 1.0 } else { 0.6 };
    let each = |laws: &[FocusLaw], share: f64| -> Vec<(Option<FocusLaw>, f64)> {
        laws.iter()
            .map(|law| (Some(*law), share / laws.len() as f64))
            .collect()
    };
    let mut all = each(&odd, share);
    all.extend(each(&whole, 1.0 - share));
    all
}

/// Whether the lens reaches the distance before a magnification of 1.
fn holds(law: &FocusLaw, nearest: f64) -> bool {
    let k = nearest - law.offset;
    k > 2.05 * law.product.sqrt()
}

/// Extensions as parts of the largest, by rising `y`.
fn extensions(spots: &[Spot], law: Option<FocusLaw>) -> Option<Vec<f64>> {
    let raw: Vec<f64> = spots
        .iter()
        .map(|spot| law.map_or(spot.y, |law| law.extension(spot.y)))
        .collect();
    let (low, high) = (*raw.first()?, *raw.last()?);
    let width = high - low;
    let usable = width > 0.0 && raw.iter().all(|z| z.is_finite());
    usable.then(|| raw.iter().map(|z| (z - low) / width).collect())
}

/// Log density of the positions by a Kalman filter with position and slope as state.
fn filter(spots: &[Spot], z: &[f64], bending: f64, error: f64, broken: Break) -> f64 {
    let (q, r) = (bending * bending, error * error);
    // Where the scale starts and how steep it is: nearly unknown.
    let (mut f, mut g) = (0.5, 0.0);
    let (mut pff, mut pfg, mut pgg) = (0.5, 0.0, 1.5);
    let mut log = 0.0;
    let mut before = 0.0;
    for (at, (spot, &z)) in spots.iter().zip(z).enumerate() {
        let d = z - before;
        before = z;
        if broken.kink == Some(at) {
            pgg += KINK * KINK;
        }
        f += d * g;
        pff += 2.0 * d * pfg + d * d * pgg + q * d * d * d / 3.0;
        pfg += d * pgg + q * d * d / 2.0;
        pgg += q * d;
        if broken.slip == Some(at) {
            pff += SLIP * SLIP;
        }
        let s = pff + r;
        let miss = spot.position - f;
        log -= 0.5 * (miss * miss / s + s.ln() + LOG_2_PI);
        let (kf, kg) = (pff / s, pfg / s);
        f += kf * miss;
        g += kg * miss;
        (pff, pfg, pgg) = (pff - kf * pff, pfg - kf * pfg, pgg - kg * pfg);
    }
    log
}

/// ln 2π.
const LOG_2_PI: f64 = 1.837_877_066_409_345_5;

/// The logarithm of a sum of exponentials.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sum {
    most: f64,
    rest: f64,
}

impl Default for Sum {
    fn default() -> Self {
        Self {
            most: f64::NEG_INFINITY,
            rest: 0.0,
        }
    }
}

impl Sum {
    pub fn add(&mut self, log: f64) {
        if log > self.most {
            self.rest = self.rest * (self.most - log).exp() + 1.0;
            self.most = log;
        } else if log > f64::NEG_INFINITY {
            self.rest += (log - self.most).exp();
        }
    }

    pub fn log(self) -> f64 {
        self.most + self.rest.ln()
    }
}
