//! How many frames a rangefinder is behind the ring.

use std::ops::Range;

use thiserror::Error;

use super::robust::median;

/// Longest lag that is looked for, either way, in frames: 2 s at 24 fps.
pub const MOST_LAG: usize = 48;

/// Changes are taken over this many frames: the noise of a change does not grow with the span, what focus moves does.
pub const SPAN: usize = 8;

/// Focus moves where it changes by this much over the span, in dioptres: 2 cm at 2 m.
const MOVING: f64 = 0.005;

/// Frames in motion below which nothing is said: one second at 24 fps.
const FEWEST: f64 = 24.0;

/// Below this correlation the two do not follow one another.
const LEAST_CORRELATION: f64 = 0.5;

/// Enough before strays are taken out.
const FIRST_LOOK: f64 = 0.25;

/// Another peak at least this high, relative to the highest, leaves the lag open.
const RIVAL: f64 = 0.95;

/// Largest half width of the 95 % interval with which a lag is worth saying, in frames.
const WIDEST: f64 = 2.0;

/// Frames on both sides of one that say how far readings are off around it.
const AROUND: usize = 24;
/// A reading farther off than this many medians of what the others are off has left its subject: six standard deviations.
const STRAY: f64 = 9.0;
/// And by at least this part of the dioptres.
const LEAST_STRAY: f64 = 0.05;

/// Frames that the first look at a lag may be off.
const UNSURE: f64 = 3.0;

/// Frames that changes of one side alone can pull the highest correlation away.
const NEAR: usize = 6;

const LAGS: usize = 2 * MOST_LAG + 1;

/// A lag that was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lag {
    /// Frames; positive where the rangefinder is late.
    pub frames: f64,
    /// Half width of the 95 % interval, in frames.
    pub error: f64,
    /// Highest correlation of the changes, 0 to 1.
    pub correlation: f64,
    /// Frames in motion that it rests on.
    pub moving: u64,
}

/// Why there is no lag to say.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum LagUnknown {
    /// Focus hardly moves where both are recorded.
    #[error("focus moves in {moving} frames only: a lag shows in motion")]
    TooLittleMotion {
        /// Frames in motion.
        moving: u64,
    },
    /// The changes of the two have little to do with each other.
    #[error("ring and rangefinder do not follow one another (correlation {correlation:.2})")]
    Unlike {
        /// The highest correlation.
        correlation: f64,
    },
    /// Several lags fit, or none within what was looked for.
    #[error("several lags fit equally well, or one beyond {MOST_LAG} frames")]
    Ambiguous,
}

/// Cross-correlation of the changes of focus and reading, in dioptres, over all lags up to [`MOST_LAG`] either way.
///
/// With `Δx[i] = x[i] - x[i - 8]`, `r(l) = Σ Δfocus[i - l] Δreading[i] / sqrt(Σ Δfocus[i - l]² Σ Δreading[i]²)`, over frames
/// around which focus moves and where both changes are recorded. A change of the reading of more than twice the largest one of
/// the ring is a beam that left its subject and counts as a gap.
///
/// The highest `r` says where to look and how exactly: `σ² = (1 - r²) / (n r κ)` with `κ` the curvature of the peak, least
/// squares for the delay of a known signal in white noise. The lag itself, to a part of a frame by a parabola, is where the mean
/// of `|Δreading[i] - Δfocus[i - l]|` is least: where focus drops its subject and finds it again only one side changes, and the
/// squares in `r` would let those few frames pull the lag by frames. What the two differ by is part of the error.
/// Sums only: memory does not grow with the take.
#[derive(Debug, Clone, PartialEq)]
pub struct LagSearch {
    products: Vec<f64>,
    focus: Vec<f64>,
    readings: Vec<f64>,
    pairs: Vec<f64>,
    /// Sums of what the changes of the two are apart, without sign.
    apart: Vec<f64>,
    moving: u64,
}

impl Default for LagSearch {
    fn default() -> Self {
        Self {
            products: vec![0.0; LAGS],
            focus: vec![0.0; LAGS],
            readings: vec![0.0; LAGS],
            pairs: vec![0.0; LAGS],
            apart: vec![0.0; LAGS],
            moving: 0,
        }
    }
}

impl LagSearch {
    /// A search over nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds the readings of `frames`, an index range of the slices. Both hold dioptres, `NaN` where nothing is recorded, and
    /// are of one length; what lies outside `frames` is context and should reach [`MOST_LAG`] + 8 frames either way.
    ///
    /// Readings that stand apart from their neighbours once the lag is taken out count as gaps: a beam that left its subject.
    pub fn add(&mut self, focus: &[f64], readings: &[f64], frames: Range<usize>) {
        let mut tentative = self.clone();
        tentative.add_all(focus, readings, frames.clone());
        match tentative.peak(FIRST_LOOK) {
            Ok(lag) => {
                let kept = without_strays(focus, readings, lag.frames.round() as isize);
                self.add_all(focus, &kept, frames);
            }
            Err(_) => *self = tentative,
        }
    }

    fn add_all(&mut self, focus: &[f64], readings: &[f64], frames: Range<usize>) {
        let (moves, known) = changes(focus);
        let (mut seen, mut seen_known) = changes(readings);
        let largest = moves
            .iter()
            .fold(0.0, |most: f64, step| most.max(step.abs()));
        let near = near_motion(&moves);
        let last = frames.end.min(seen.len()).min(moves.len());
        for (at, (value, known)) in seen.iter_mut().zip(&mut seen_known).enumerate() {
            let wanted = frames.contains(&at) && near.get(at) == Some(&true);
            if !wanted || value.abs() > 2.0 * largest {
                (*value, *known) = (0.0, 0.0);
            }
        }
        self.moving += seen_known.iter().filter(|known| **known > 0.0).count() as u64;
        for lag in 0..LAGS {
            // Reading `at` belongs to focus `at + MOST_LAG - lag`.
            let ahead = MOST_LAG.saturating_sub(lag);
            let behind = lag.saturating_sub(MOST_LAG);
            let first = frames.start.max(behind);
            let end = last.min(moves.len().saturating_sub(ahead));
            if first >= end {
                continue;
            }
            let shifted = first + ahead - behind..end + ahead - behind;
            let (Some(a), Some(a_known), Some(b), Some(b_known)) = (
                moves.get(shifted.clone()),
                known.get(shifted),
                seen.get(first..end),
                seen_known.get(first..end),
            ) else {
                continue;
            };
            let mut sums = [0.0; 5];
            for (((a, a_known), b), b_known) in a.iter().zip(a_known).zip(b).zip(b_known) {
                sums[0] += a * b;
                sums[1] += a * a * b_known;
                sums[2] += b * b * a_known;
                sums[3] += a_known * b_known;
                sums[4] += (b - a).abs() * a_known * b_known;
            }
            let totals = [
                &mut self.products,
                &mut self.focus,
                &mut self.readings,
                &mut self.pairs,
                &mut self.apart,
            ];
            for (total, sum) in totals.into_iter().zip(sums) {
                if let Some(total) = total.get_mut(lag) {
                    *total += sum;
                }
            }
        }
    }

    /// `r` at every lag from `-MOST_LAG` to `MOST_LAG`; `NaN` where there is nothing to correlate.
    pub fn correlations(&self) -> Vec<f64> {
        let most = self
            .pairs
            .iter()
            .fold(0.0, |most: f64, pairs| most.max(*pairs));
        let sums = self
            .products
            .iter()
            .zip(&self.focus)
            .zip(&self.readings)
            .zip(&self.pairs);
        sums.map(|(((xy, xx), yy), pairs)| {
            let enough = *pairs > 0.5 * most && xx * yy > 0.0;
            if enough {
                xy / (xx * yy).sqrt()
            } else {
                f64::NAN
            }
        })
        .collect()
    }

    /// The lag of all that was added.
    pub fn lag(&self) -> Result<Lag, LagUnknown> {
        let lag = self.peak(LEAST_CORRELATION)?;
        if lag.error > WIDEST {
            return Err(LagUnknown::TooLittleMotion { moving: lag.moving });
        }
        Ok(lag)
    }

    /// The whole frames of the highest correlation, 0 where the two do not follow one another: to judge by where there is no
    /// lag to say.
    pub fn likeliest(&self) -> f64 {
        let all = self.correlations().into_iter().enumerate();
        let best = all
            .filter(|(_, r)| *r >= LEAST_CORRELATION)
            .max_by(|a, b| a.1.total_cmp(&b.1));
        best.map_or(0.0, |(lag, _)| lag as f64 - MOST_LAG as f64)
    }

    /// The highest correlation, at least `least`, however broad.
    fn peak(&self, least: f64) -> Result<Lag, LagUnknown> {
        let moving = self.moving;
        if (moving as f64) < FEWEST {
            return Err(LagUnknown::TooLittleMotion { moving });
        }
        let r = self.correlations();
        let at = |lag: usize| r.get(lag).copied().unwrap_or(f64::NAN);
        let Some(peak) = (0..LAGS)
            .filter(|lag| !at(*lag).is_nan())
            .max_by(|a, b| at(*a).total_cmp(&at(*b)))
        else {
            return Err(LagUnknown::TooLittleMotion { moving });
        };
        let top = at(peak);
        if top < least {
            return Err(LagUnknown::Unlike {
                correlation: top.max(0.0),
            });
        }
        let (before, after) = (peak.checked_sub(1).map_or(f64::NAN, at), at(peak + 1));
        let curvature = 2.0 * top - before - after;
        let is_rival = |lag: usize| {
            lag > 0
                && lag.abs_diff(peak) > 1
                && at(lag) >= RIVAL * top
                && at(lag) > at(lag - 1)
                && at(lag) > at(lag + 1)
        };
        // NaN: a peak at the end of the range.
        if curvature.is_nan() || curvature <= 0.0 || (0..LAGS).any(is_rival) {
            return Err(LagUnknown::Ambiguous);
        }
        let pairs = self.pairs.get(peak).copied().unwrap_or(0.0);
        let variance = (1.0 - top * top).max(1e-9) / (pairs * top * curvature);
        let correlated = peak as f64 + 0.5 * (after - before) / curvature;
        let closest = self.closest(peak).ok_or(LagUnknown::Ambiguous)?;
        // The parabola itself is off by up to this much where motion is sharp. Two ways to look that differ tell of changes
        // that only one side has.
        let error = (2.0 * variance.sqrt())
            .hypot(0.03)
            .hypot(closest - correlated);
        Ok(Lag {
            frames: closest - MOST_LAG as f64,
            error,
            correlation: top,
            moving,
        })
    }

    /// Where the changes of the two are least apart by their mean amount, near `peak`; none where that is no minimum.
    fn closest(&self, peak: usize) -> Option<f64> {
        let apart = |lag: usize| match (self.apart.get(lag), self.pairs.get(lag)) {
            (Some(apart), Some(pairs)) if *pairs > 0.0 => apart / pairs,
            _ => f64::NAN,
        };
        let near = peak.saturating_sub(NEAR)..=peak + NEAR;
        let best = near
            .filter(|lag| apart(*lag).is_finite())
            .min_by(|a, b| apart(*a).total_cmp(&apart(*b)))?;
        let (before, least, after) = (apart(best.checked_sub(1)?), apart(best), apart(best + 1));
        let curvature = before + after - 2.0 * least;
        (curvature > 0.0 && least <= before && least <= after)
            .then(|| best as f64 + 0.5 * (before - after) / curvature)
    }
}

/// The readings without those that differ from focus, `lag` frames earlier, much more than the readings around them do.
fn without_strays(focus: &[f64], readings: &[f64], lag: isize) -> Vec<f64> {
    let off: Vec<f64> = readings
        .iter()
        .enumerate()
        .map(|(at, reading)| {
            let earlier = at.checked_add_signed(-lag).and_then(|at| focus.get(at));
            earlier.map_or(f64::NAN, |focus| reading - focus)
        })
        .collect();
    let mut known: Vec<f64> = Vec::new();
    // A constant offset differs from distance to distance: the level is that of a second or two around.
    let level = |at: usize, known: &mut Vec<f64>| {
        let around = off.get(at.saturating_sub(AROUND)..(at + AROUND + 1).min(off.len()));
        known.clear();
        known.extend(
            around
                .unwrap_or_default()
                .iter()
                .filter(|off| !off.is_nan()),
        );
        median(known)
    };
    let apart: Vec<f64> = off
        .chunks(AROUND)
        .enumerate()
        .flat_map(|(n, chunk)| {
            let level = level(n * AROUND + AROUND / 2, &mut known);
            chunk.iter().map(move |off| off - level).collect::<Vec<_>>()
        })
        .collect();
    let mut sizes: Vec<f64> = apart
        .iter()
        .map(|off| off.abs())
        .filter(|off| !off.is_nan())
        .collect();
    let limit = STRAY * median(&mut sizes);
    let (moves, _) = changes(focus);
    // A lag that is not exact yet shows in motion, and must not choose what confirms it.
    let moved = |at: usize| {
        let around = moves.get(at.saturating_sub(AROUND)..(at + AROUND).min(moves.len()));
        around
            .unwrap_or_default()
            .iter()
            .fold(0.0, |most: f64, step| most.max(step.abs()))
    };
    let kept = readings.iter().zip(&apart).enumerate();
    kept.map(|(at, (reading, apart))| {
        let limit = limit.max(LEAST_STRAY * reading);
        // Most frames are near, whatever moves there. What has no frame to be compared with, at the ends, tells nothing.
        let near = apart.abs() <= limit || apart.abs() <= limit + UNSURE / SPAN as f64 * moved(at);
        if near { *reading } else { f64::NAN }
    })
    .collect()
}

/// Changes over [`SPAN`] frames, 0 where they are not known, and 1 where they are.
fn changes(values: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let mut changes = vec![0.0; values.len()];
    let mut known = vec![0.0; values.len()];
    let places = changes.iter_mut().zip(&mut known).skip(SPAN);
    for ((change, known), (before, now)) in places.zip(values.iter().zip(values.iter().skip(SPAN)))
    {
        let step = now - before;
        if step.is_finite() {
            (*change, *known) = (step, 1.0);
        }
    }
    (changes, known)
}

/// Frames with motion within [`MOST_LAG`] of them.
fn near_motion(moves: &[f64]) -> Vec<bool> {
    let mut near = vec![false; moves.len()];
    let mut until = 0;
    for (at, step) in moves.iter().enumerate() {
        if step.abs() > MOVING {
            let from = at.saturating_sub(MOST_LAG).max(until);
            until = (at + MOST_LAG + 1).min(moves.len());
            if let Some(places) = near.get_mut(from..until) {
                places.fill(true);
            }
        }
    }
    near
}
