//! One-parameter drives and corners: the main shape of a barrel's scale, before small corrections.
//!
//! A warp takes the even extension `z` to `w`, 0 to 0 and 1 to 1, and rises. Beyond the marks it goes on as a straight
//! line. Shapes, as common in textbooks on curve fitting (from memory):
//!
//! - logarithm: `w = ln(1 + (exp p - 1) z) / p`, slopes of the ratio `exp p` at the ends;
//! - sine: `w = z + p sin(π z) / π`, slopes `1 + p` and `1 - p` at the ends;
//! - wave: `w = z + p sin(2 π z) / 2 π`, slopes `1 + p` at both ends and `1 - p` half way;
//! - corner: `w = z + c (h(z) - h(0) - z (h(1) - h(0)))` with `h = s ln(1 + exp((z - k) / s))`: two straight parts whose
//!   slopes differ by `c`, joined at `k` within about `3 s`.

use std::f64::consts::PI;

/// Most parameters a warp has.
pub(crate) const MOST: usize = 3;

/// The kind of a warp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Family {
    /// `w = z`.
    Plain,
    /// Spread of `p`.
    Logarithm(f64),
    /// Spread of `p`.
    Sine(f64),
    /// Spread of `p`.
    Wave(f64),
    /// Where the corner is expected, and how exactly.
    Corner(f64, f64),
}

/// Expected half width of a corner, as the logarithm of a part of the marked extension, and its spread.
const SOFTNESS: (f64, f64) = (-4.0, 0.8);
/// Spread of the change of slope at a corner.
const CHANGE: f64 = 0.8;
/// A drive that turns slower than this, relative to its mean, is none.
const LEAST_SLOPE: f64 = 0.05;
/// Below this the logarithm is taken from its series.
const SMALL: f64 = 1e-3;

impl Family {
    /// Expected value and spread of each parameter.
    pub fn parameters(self) -> ([(f64, f64); MOST], usize) {
        let none = (0.0, 0.0);
        match self {
            Self::Plain => ([none; MOST], 0),
            Self::Logarithm(spread) | Self::Sine(spread) | Self::Wave(spread) => {
                ([(0.0, spread), none, none], 1)
            }
            Self::Corner(at, spread) => ([(0.0, CHANGE), (at, spread), SOFTNESS], 3),
        }
    }
}

/// A warp with its parameters.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Warp {
    Plain,
    Logarithm {
        p: f64,
        growth: f64,
    },
    Sine {
        p: f64,
    },
    Wave {
        p: f64,
    },
    Corner {
        c: f64,
        bend: Bend,
        first: Soft,
        last: Soft,
    },
}

/// `w`, its slope, and the change of both with each parameter.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Warped {
    pub w: f64,
    pub slope: f64,
    pub by: [f64; MOST],
}

/// Where a corner is and how soft.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bend {
    k: f64,
    s: f64,
}

/// `h`, `h'` and the change of both with `k` and `ln s`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Soft {
    h: f64,
    slope: f64,
    by: [f64; 2],
    slope_by: [f64; 2],
}

impl Bend {
    fn at(self, z: f64) -> Soft {
        let x = (z - self.k) / self.s;
        let small = (-x.abs()).exp();
        let slope = if x > 0.0 {
            1.0 / (1.0 + small)
        } else {
            small / (1.0 + small)
        };
        let h = self.s * (x.max(0.0) + small.ln_1p());
        let turn = small / ((1.0 + small) * (1.0 + small));
        Soft {
            h,
            slope,
            by: [-slope, h - self.s * x * slope],
            slope_by: [-turn / self.s, -x * turn],
        }
    }
}

impl Warp {
    /// The warp of a family; `None` where it would not rise everywhere.
    pub fn new(family: Family, parameters: &[f64]) -> Option<Self> {
        let p = parameters.first().copied().unwrap_or_default();
        let warp = match family {
            Family::Plain => return Some(Self::Plain),
            Family::Logarithm(_) => Self::Logarithm {
                p,
                growth: p.exp_m1(),
            },
            Family::Sine(_) => Self::Sine { p },
            Family::Wave(_) => Self::Wave { p },
            Family::Corner(..) => {
                let (k, s) = (*parameters.get(1)?, parameters.get(2)?.exp());
                let bend = Bend { k, s };
                let (first, last) = (bend.at(0.0), bend.at(1.0));
                Self::Corner {
                    c: p,
                    bend,
                    first,
                    last,
                }
            }
        };
        let rises = |z| {
            let slope = warp.at(z).slope;
            LEAST_SLOPE < slope && slope < 1.0 / LEAST_SLOPE
        };
        // The least and the greatest slope are at the ends, those of a wave half way too.
        (rises(0.0) && rises(0.5) && rises(1.0)).then_some(warp)
    }

    #[inline]
    pub fn at(&self, z: f64) -> Warped {
        let inside = z.clamp(0.0, 1.0);
        let (w, slope, by, slope_by) = self.inside(inside);
        let beyond = z - inside;
        Warped {
            w: w + slope * beyond,
            slope,
            by: std::array::from_fn(|k| by[k] + slope_by[k] * beyond),
        }
    }

    #[inline]
    fn inside(&self, z: f64) -> (f64, f64, [f64; MOST], [f64; MOST]) {
        let one = |w, slope, by, slope_by| (w, slope, [by, 0.0, 0.0], [slope_by, 0.0, 0.0]);
        match *self {
            Self::Plain => one(z, 1.0, 0.0, 0.0),
            Self::Sine { p } => {
                let (sine, tilt) = (PI * z).sin_cos();
                let bulge = sine / PI;
                one(z + p * bulge, 1.0 + p * tilt, bulge, tilt)
            }
            Self::Wave { p } => {
                let (sine, tilt) = (2.0 * PI * z).sin_cos();
                let bulge = sine / (2.0 * PI);
                one(z + p * bulge, 1.0 + p * tilt, bulge, tilt)
            }
            Self::Logarithm { p, .. } if p.abs() < SMALL => {
                let (bulge, tilt) = (0.5 * z * (1.0 - z), 0.5 - z);
                let (next, next_tilt) = (
                    z * (1.0 / 6.0 + z * (z / 3.0 - 0.5)),
                    1.0 / 6.0 - z * (1.0 - z),
                );
                one(
                    z + p * (bulge + p * next),
                    1.0 + p * (tilt + p * next_tilt),
                    bulge + 2.0 * p * next,
                    tilt + 2.0 * p * next_tilt,
                )
            }
            Self::Logarithm { p, growth } => {
                let d = 1.0 + growth * z;
                let w = (growth * z).ln_1p() / p;
                let slope = growth / (p * d);
                let up = growth + 1.0;
                one(
                    w,
                    slope,
                    (up * z / d - w) / p,
                    up / (p * d) - slope * (1.0 / p + up * z / d),
                )
            }
            Self::Corner {
                c,
                bend,
                first,
                last,
            } => {
                let at = bend.at(z);
                let mean = last.h - first.h;
                let bulge = at.h - first.h - z * mean;
                let moved =
                    |k: usize| c * (at.by[k] - first.by[k] - z * (last.by[k] - first.by[k]));
                let turned = |k: usize| c * (at.slope_by[k] - last.by[k] + first.by[k]);
                (
                    z + c * bulge,
                    1.0 + c * (at.slope - mean),
                    [bulge, moved(0), moved(1)],
                    [at.slope - mean, turned(0), turned(1)],
                )
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    const CASES: [(Family, [f64; 3]); 7] = [
        (Family::Logarithm(1.0), [1.6, 0.0, 0.0]),
        (Family::Logarithm(1.0), [-1.2, 0.0, 0.0]),
        (Family::Logarithm(1.0), [5e-4, 0.0, 0.0]),
        (Family::Sine(1.0), [0.6, 0.0, 0.0]),
        (Family::Wave(1.0), [0.4, 0.0, 0.0]),
        (Family::Corner(0.5, 0.1), [0.8, 0.4, -3.0]),
        (Family::Corner(0.5, 0.1), [-1.1, 0.55, -4.5]),
    ];

    #[test]
    fn ends_stay_and_slopes_and_changes_are_right() {
        for (family, parameters) in CASES {
            let warp = Warp::new(family, &parameters).unwrap();
            assert!(warp.at(0.0).w.abs() < 1e-15 && (warp.at(1.0).w - 1.0).abs() < 1e-12);
            for z in [-0.3, 0.1, 0.41, 0.9, 1.2] {
                let slope = (warp.at(z + 1e-6).w - warp.at(z - 1e-6).w) / 2e-6;
                assert!((warp.at(z).slope - slope).abs() < 1e-6, "{family:?} {z}");
                for k in 0..family.parameters().1 {
                    let moved = |by: f64| {
                        let mut parameters = parameters;
                        parameters[k] += by;
                        Warp::new(family, &parameters).unwrap().at(z).w
                    };
                    let found = (moved(1e-6) - moved(-1e-6)) / 2e-6;
                    assert!(
                        (warp.at(z).by[k] - found).abs() < 1e-6,
                        "{family:?} {z} {k}"
                    );
                }
            }
        }
    }

    #[test]
    fn the_series_of_the_logarithm_joins_it() {
        let of = |p: f64| Warp::new(Family::Logarithm(1.0), &[p]).unwrap().at(0.3);
        let (below, above) = (of(SMALL * (1.0 - 1e-9)), of(SMALL * (1.0 + 1e-9)));
        assert!((below.w - above.w).abs() < 1e-9 && (below.by[0] - above.by[0]).abs() < 1e-6);
    }

    #[test]
    fn refuses_what_turns_round() {
        assert!(Warp::new(Family::Sine(1.0), &[1.2]).is_none());
        assert!(Warp::new(Family::Corner(0.5, 0.1), &[-3.0, 0.5, -4.0]).is_none());
        assert!(Warp::new(Family::Logarithm(1.0), &[f64::NAN]).is_none());
    }
}
