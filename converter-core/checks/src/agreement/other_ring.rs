//! Which ring position, if not the recorded one, gives the recorded distance.

use ringmark_model::{Channel, NumberColumn};

use super::{LIMIT, comparable};
use crate::by_frame::value;
use crate::ranges::Span;
use crate::view::{BatchView, FrameMark, TakeView};

/// Fewer frames say nothing.
const FEWEST: u64 = 12;
/// Every so many frames one is looked at: a position in the wrong column is so all along.
const EVERY: u64 = 3;
/// Travel that the ring must turn through: a single position may fit by chance.
const LEAST_TRAVEL: f64 = 0.02;

/// Where the position that fits was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Elsewhere {
    /// In the focus ring, counted from the other end.
    Reversed,
    /// In the iris ring.
    Iris,
    /// In the zoom ring.
    Zoom,
}

/// All places, in the order of the counts.
const PLACES: [Elsewhere; 3] = [Elsewhere::Reversed, Elsewhere::Iris, Elsewhere::Zoom];

/// Frames that tell one place from the recorded one.
#[derive(Debug, Clone, Copy, Default)]
struct Votes {
    /// The position there fits, the recorded one does not.
    there: u64,
    /// The recorded one fits, that there does not.
    here: u64,
}

/// Counts, along a take with a focus scale, which position goes with the recorded distance.
#[derive(Debug, Default)]
pub(super) struct OtherRing {
    votes: [Votes; PLACES.len()],
    /// Frames in which the recorded position does not fit.
    astray: u64,
    first: Option<FrameMark>,
    hint: usize,
    least: f64,
    most: f64,
}

impl OtherRing {
    /// Looks at a batch.
    pub fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>) {
        let column = batch.batch.number_column(Channel::FocusDistance);
        let (Some(focus), Some(column), Some(ring)) =
            (take.focus, column, batch.numbers(Channel::FocusRing))
        else {
            return;
        };
        if !comparable(focus, column) {
            return;
        }
        if self.first.is_none() {
            self.first = Some(batch.mark_at(0));
            (self.least, self.most) = (f64::INFINITY, f64::NEG_INFINITY);
        }
        let others = [Channel::IrisRing, Channel::ZoomRing].map(|channel| batch.numbers(channel));
        // Twice the tolerance within which ring and distance agree.
        let limit = 2.0 * take.value(LIMIT);
        for (at, &position) in ring.iter().enumerate() {
            if !batch.frame(at).is_multiple_of(EVERY) {
                continue;
            }
            let distance = distance_at(column, at);
            if distance.is_nan() || distance <= 0.0 {
                continue;
            }
            // The slope says at once that most frames agree; the rest is computed.
            let (dioptres, slope) = focus.curve.coordinate_and_slope(position, &mut self.hint);
            let agrees = (1.0 / distance - dioptres).abs() <= limit * slope.abs();
            let expected = if agrees {
                position
            } else {
                focus.curve.position_of(distance)
            };
            if !expected.is_finite() {
                continue;
            }
            let fits = |position: f64| (position - expected).abs() <= limit;
            let here = fits(position);
            self.astray += u64::from(!here);
            self.least = self.least.min(expected);
            self.most = self.most.max(expected);
            let elsewhere = [1.0 - position, value(others[0], at), value(others[1], at)];
            // Where both fit, as with a ring at its middle, nothing is learned.
            for (votes, there) in self.votes.iter_mut().zip(elsewhere.map(fits)) {
                votes.there += u64::from(there && !here);
                votes.here += u64::from(here && !there);
            }
        }
    }

    /// Where the position is instead, if it is there in nine of ten frames that tell.
    pub fn found(&self) -> Option<Elsewhere> {
        if self.most - self.least < LEAST_TRAVEL {
            return None;
        }
        let place = |votes: &Votes| {
            let telling = (self.astray + votes.here) as f64;
            votes.there >= FEWEST && votes.there as f64 >= 0.9 * telling
        };
        PLACES
            .into_iter()
            .zip(&self.votes)
            .find(|(_, votes)| place(votes))
            .map(|(place, _)| place)
    }

    /// The whole take.
    pub fn span(&self, take: &TakeView<'_>) -> Option<Span> {
        let mut span = Span::at(self.first.clone()?);
        let last = take.tail.last.as_ref()?;
        span.reach(last.index);
        span.seal_with(Some(last));
        Some(span)
    }

    /// Frames in which the recorded position does not fit.
    pub fn astray(&self) -> u64 {
        self.astray
    }
}

fn distance_at(column: &NumberColumn, at: usize) -> f64 {
    column.values.get(at).copied().unwrap_or(f64::NAN)
}
