//! A take's ring and rangefinder side by side, frame by frame, in bounded memory.

use std::ops::Range;

use super::lag::{Lag, LagSearch, LagUnknown, MOST_LAG, SPAN};
use super::misfocus::{depths_between, full_depth};
use super::offsets::{self, DistanceOffset, RingOffset};
use super::robust::median;
use super::sample::{Pair, Sample};
use crate::circle_of_confusion::CircleOfConfusion;
use crate::curve::RingCurve;

/// Frames judged together, at what is known of lag and offset by then: nearly six minutes at 24 fps.
const BLOCK: usize = 8192;
/// Frames on both sides of those that are judged: the longest lag and the span of a change.
const CONTEXT: usize = MOST_LAG + 2 * SPAN;
/// Readings on both sides of a frame whose median, with its own, it is judged by: half a second in all.
const AROUND: usize = 6;
/// Frames on both sides in which they are looked for: as many before as after, though some are missing, or the median reaches
/// farther to one side and an end of what is out of focus moves.
const REACH: usize = 2 * AROUND;
/// Readings that the median needs.
const FEWEST: usize = AROUND + 1;
/// A reading that changes by more than this part of the distance in one frame has left its subject.
const STRAY: f64 = 0.15;
/// Offsets that a rangefinder on a camera can have, in metres. Common practice, no source.
const POSSIBLE: Range<f64> = -0.5..1.0;
/// Frames that the likeliest lag may be off where none can be told.
const UNSURE: f64 = 6.0;
/// Smaller offsets, in metres, are no finding: a rangefinder is mounted by eye.
const SMALLEST: f64 = 0.01;

/// One frame; `NaN` is 'not recorded'.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FinderFrame {
    /// Focus ring position.
    pub ring: f64,
    /// What the rangefinder measured, with the offset that is known added: metres from where the scale of the ring is
    /// measured from.
    pub reading_m: f64,
    /// Focal length in millimetres.
    pub focal_length_mm: f64,
    /// f-number.
    pub f_number: f64,
}

/// A frame in which subject and focus are apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutOfFocus {
    /// Index in the take.
    pub frame: u64,
    /// How far, in full depths of field, the median of half a second; positive where the subject is farther than focus.
    pub depths: f64,
    /// Distance by the ring, metres.
    pub focus_m: f64,
    /// Distance by the rangefinder with its offset, the lag taken out, metres.
    pub reading_m: f64,
    /// Whether the reading jumped here: the beam left its subject, or came back.
    pub strayed: bool,
}

/// What a take says as a whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// How late the rangefinder is.
    pub lag: Result<Lag, LagUnknown>,
    /// Frames in which both are recorded.
    pub frames: u64,
    /// Median misfocus as recorded, the lag taken out, in full depths of field; `NaN` where no depth is known.
    pub typical: f64,
    /// What added to the readings explains most.
    pub distance: Option<DistanceOffset>,
    /// What added to the ring positions explains most.
    pub ring: Option<RingOffset>,
    /// Whether `distance` is the explanation: it is significant and possible, it takes most of the misfocus away, and a ring
    /// offset takes away less. Where no offset is known, a ring offset need not be worse.
    pub distance_explains: bool,
}

/// Puts ring and rangefinder side by side.
///
/// Frames wait in blocks of 8192; a block is judged at the lag and the offset that all frames up to its end give. Where no lag
/// can be told the likeliest is taken: where nothing moves it does not matter.
#[derive(Debug, Clone)]
pub struct Reconciler {
    curve: RingCurve,
    circle: CircleOfConfusion,
    offset_is_known: bool,
    limit: f64,
    waiting: Vec<FinderFrame>,
    /// Index in the take of the first frame that waits.
    first: u64,
    /// Index in `waiting` of the first that was not judged.
    next: usize,
    lag: LagSearch,
    sample: Sample,
    /// The last frame of the take that was out of focus.
    last_out: Option<u64>,
}

impl Reconciler {
    /// For takes on the focus scale `curve`. Frames more than `limit` full depths of field apart are out of focus.
    pub fn new(
        curve: RingCurve,
        circle: CircleOfConfusion,
        offset_is_known: bool,
        limit: f64,
    ) -> Self {
        Self {
            curve,
            circle,
            offset_is_known,
            limit,
            waiting: Vec::new(),
            first: 0,
            next: 0,
            lag: LagSearch::new(),
            sample: Sample::default(),
            last_out: None,
        }
    }

    /// Takes in the next frame of the take.
    pub fn push(&mut self, frame: FinderFrame) {
        self.waiting.push(frame);
    }

    /// Whether a block is full: [`settle`](Self::settle) is due.
    pub fn is_due(&self) -> bool {
        self.waiting.len() >= self.next + BLOCK + CONTEXT
    }

    /// Judges the frames that wait, all of them if the take is over, and hands back those out of focus.
    pub fn settle(&mut self, over: bool) -> Vec<OutOfFocus> {
        let len = self.waiting.len();
        let range = self.next..if over {
            len
        } else {
            len.saturating_sub(CONTEXT).max(self.next)
        };
        let metres: Vec<f64> = self
            .waiting
            .iter()
            .map(|frame| self.curve.value_at(frame.ring))
            .collect();
        let focus: Vec<f64> = metres.iter().map(|metres| 1.0 / metres).collect();
        let readings: Vec<f64> = self
            .waiting
            .iter()
            .map(|frame| dioptres(frame.reading_m))
            .collect();
        self.lag.add(&focus, &readings, range.clone());
        let lag = self.lag.lag();
        let (lag, unsure) = match lag {
            Ok(lag) => (lag.frames, lag.error),
            Err(_) => (self.lag.likeliest(), UNSURE),
        };
        let aligned = Aligned {
            frames: &self.waiting,
            focus: &focus,
            lag,
            unsure,
        };
        let mut hint = 0;
        for at in range.clone() {
            if let Some(pair) = aligned.pair(at, &self.curve, &mut hint) {
                self.sample.add(pair);
            }
        }
        let agreement = self.agreement();
        let offset = agreement
            .distance
            .filter(|_| agreement.distance_explains)
            .map_or(0.0, |offset| offset.metres);
        let out = self.judge(&aligned, range.clone(), offset);
        self.last_out = out.last().map(|last| last.frame).or(self.last_out);
        let keep = range.end.saturating_sub(CONTEXT);
        self.waiting.drain(..keep);
        self.first += keep as u64;
        self.next = range.end - keep;
        out
    }

    /// Frames of the take that were judged.
    pub fn judged(&self) -> u64 {
        self.first + self.next as u64
    }

    fn judge(&self, aligned: &Aligned<'_>, range: Range<usize>, offset: f64) -> Vec<OutOfFocus> {
        let low = range.start.saturating_sub(REACH);
        let high = (range.end + REACH).min(self.waiting.len());
        let known: Vec<(usize, f64)> = (low..high)
            .map(|at| (at, aligned.depths(at, offset, self.circle)))
            .filter(|(_, depths)| !depths.is_nan())
            .collect();
        let mut out = Vec::new();
        let mut last_out = self.last_out;
        let mut window = Vec::with_capacity(2 * AROUND + 1);
        for (n, (at, own)) in known.iter().enumerate() {
            if !range.contains(at) {
                continue;
            }
            let around = known.get(n.saturating_sub(AROUND)..(n + AROUND + 1).min(known.len()));
            window.clear();
            window.extend(
                around
                    .unwrap_or_default()
                    .iter()
                    .filter(|(other, _)| other.abs_diff(*at) <= REACH)
                    .map(|(_, depths)| *depths),
            );
            let beyond = window
                .iter()
                .filter(|depths| depths.abs() > self.limit)
                .count();
            // The median can be beyond the limit only if most of them are.
            if window.len() < FEWEST || 2 * beyond <= window.len() {
                continue;
            }
            let depths = median(&mut window);
            // At the end of a take there are readings on one side only, and the median reaches too far there.
            if depths.abs() > self.limit && own * depths.signum() > 0.5 * self.limit {
                let frame = self.first + *at as u64;
                let goes_on = last_out.is_some_and(|last| last + 1 == frame);
                out.push(OutOfFocus {
                    frame,
                    depths,
                    focus_m: 1.0 / aligned.focus_at(*at),
                    reading_m: aligned.reading(*at).reading_m + offset,
                    strayed: !goes_on && aligned.strays_at(*at),
                });
                last_out = Some(frame);
            }
        }
        out
    }

    /// What the take says as a whole, of the frames judged so far.
    pub fn agreement(&self) -> Agreement {
        let pairs = self.sample.pairs();
        let typical = offsets::as_recorded(pairs, self.circle);
        let distance = offsets::distance_offset(pairs, self.circle);
        let ring = offsets::ring_offset(pairs, &self.curve, self.circle);
        let explains = |offset: &DistanceOffset| {
            let metres = offset.metres;
            let beats_the_ring = !self.offset_is_known
                || ring.is_none_or(|ring| offset.typical < 0.8 * ring.typical);
            POSSIBLE.contains(&metres)
                && metres.abs() > SMALLEST.max(2.0 * offset.error)
                && typical > 0.25
                && offset.typical < 0.6 * typical
                && beats_the_ring
        };
        Agreement {
            lag: self.lag.lag(),
            frames: self.sample.seen(),
            typical,
            distance,
            ring,
            distance_explains: distance.as_ref().is_some_and(explains),
        }
    }
}

/// Readings that cannot be are not recorded; far beyond everything is infinity.
fn dioptres(metres: f64) -> f64 {
    if metres > 0.0 { 1.0 / metres } else { f64::NAN }
}

/// Frames with the lag taken out: the reading of a frame is the one a lag later, to the nearest frame, and focus is taken
/// between frames.
struct Aligned<'a> {
    frames: &'a [FinderFrame],
    /// Dioptres.
    focus: &'a [f64],
    lag: f64,
    /// Frames that the lag may be off.
    unsure: f64,
}

const NONE: FinderFrame = FinderFrame {
    ring: f64::NAN,
    reading_m: f64::NAN,
    focal_length_mm: f64::NAN,
    f_number: f64::NAN,
};

impl Aligned<'_> {
    /// Between the values of this frame and its neighbour.
    fn between(&self, at: usize, value: impl Fn(usize) -> f64) -> f64 {
        let part = self.lag.round() - self.lag;
        let here = value(at);
        if part == 0.0 {
            return here;
        }
        let other = if part > 0.0 {
            Some(at + 1)
        } else {
            at.checked_sub(1)
        };
        let there = other.map_or(f64::NAN, value);
        if there.is_finite() {
            here + part.abs() * (there - here)
        } else {
            here
        }
    }

    fn focus_at(&self, at: usize) -> f64 {
        self.between(at, |at| self.focus.get(at).copied().unwrap_or(f64::NAN))
    }

    fn reading(&self, at: usize) -> &FinderFrame {
        let late = at as f64 + self.lag.round();
        let index = if late >= 0.0 {
            Some(late as usize)
        } else {
            None
        };
        index
            .and_then(|index| self.frames.get(index))
            .unwrap_or(&NONE)
    }

    fn depths(&self, at: usize, offset: f64, circle: CircleOfConfusion) -> f64 {
        let Some(frame) = self.frames.get(at) else {
            return f64::NAN;
        };
        let reading = self.reading(at).reading_m;
        if reading.is_nan() || reading <= 0.0 {
            return f64::NAN;
        }
        let focus = 1.0 / self.focus_at(at);
        let (f, n) = (frame.focal_length_mm, frame.f_number);
        let depths = depths_between(f, n, circle, focus, reading + offset);
        // What focus moves while nobody can tell is not held against it.
        let slack = self.unsure * self.speed(at) / full_depth(f, n, circle, focus);
        if depths.is_nan() {
            depths
        } else {
            (depths.abs() - slack).max(0.0).copysign(depths)
        }
    }

    /// Dioptres a frame around a frame, without sign.
    fn speed(&self, at: usize) -> f64 {
        let known = |at: usize| self.focus.get(at).copied().filter(|y| y.is_finite());
        let ends = known(at.saturating_sub(SPAN / 2)).zip(known(at + SPAN / 2));
        ends.map_or(0.0, |(before, after)| (after - before).abs() / SPAN as f64)
    }

    fn pair(&self, at: usize, curve: &RingCurve, hint: &mut usize) -> Option<Pair> {
        let frame = self.frames.get(at)?;
        let reading = self.reading(at).reading_m;
        let focus = 1.0 / self.focus_at(at);
        let ring_of = |at: usize| self.frames.get(at).map_or(f64::NAN, |frame| frame.ring);
        let ring = self.between(at, ring_of);
        let (_, slope) = curve.coordinate_and_slope(ring, hint);
        let speed = at
            .checked_sub(1)
            .map_or(0.0, |before| (ring_of(at) - ring_of(before)).abs());
        // An infinite distance says where the ring is not to a part of a frame.
        (reading > 0.0
            && reading.is_finite()
            && focus.is_finite()
            && slope != 0.0
            && slope.is_finite())
        .then(|| Pair {
            focus,
            reading,
            ring,
            travel: (1.0 / slope).abs(),
            speed: if speed.is_nan() { 0.0 } else { speed },
            focal_length_mm: frame.focal_length_mm,
            f_number: frame.f_number,
        })
    }

    /// Whether the reading jumps about here, from the last one there is.
    fn strays_at(&self, at: usize) -> bool {
        let mut before = f64::NAN;
        (at.saturating_sub(4 * AROUND)..=at + AROUND).any(|k| {
            let now = self.reading(k).reading_m;
            if now.is_nan() || now <= 0.0 {
                return false;
            }
            let jumps = k + AROUND >= at && ((now - before) / before).abs() > STRAY;
            before = now;
            jumps
        })
    }
}
