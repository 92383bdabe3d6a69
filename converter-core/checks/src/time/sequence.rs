//! Counts that should rise by one a frame: where they jump, stand still or fall.
//!
//! A change that is undone later, as when numbers fall back by 50 and return to the old count after 20 frames, is one
//! event over those frames; a change that stays is an event at its first frame. Events of one kind that follow each
//! other closely are joined.

use ringmark_model::Channel;

use super::labels::counts;
use crate::ranges::Span;
use crate::view::{BatchView, FrameMark};

/// What a count did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Change {
    /// It jumped ahead.
    Gap,
    /// It stood still.
    Repeated,
    /// It fell.
    Back,
}

/// Which count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Source {
    FrameNumber,
    Timecode,
}

/// Something that happened to a count.
#[derive(Debug, Clone)]
pub(crate) struct Event {
    pub change: Change,
    pub span: Span,
    /// The last count before, and the first one of the span.
    pub before: i64,
    pub after: i64,
    /// Label of the frame before, if recorded.
    pub before_label: Option<String>,
    /// Counts expected there beyond those found: frames missing if above 0.
    pub missing: i64,
    /// Whether the count is back on its line afterwards.
    pub returned: bool,
    /// Events joined into this one.
    pub times: u64,
}

/// Larger numbers are no frame numbers: the model's limit.
const LARGEST: f64 = 9.0e15;
/// Events of one kind this close, in frames, are one.
const NEAR: u64 = 8;

/// Follows one count along a take.
#[derive(Debug)]
pub(crate) struct Sequence {
    source: Source,
    /// Last frame with a count, and its count.
    last: Option<(u64, i64)>,
    /// Count minus frame index while all is well.
    line: i64,
    /// The change under way.
    open: Option<Event>,
    /// An event that a near one may still join.
    ready: Option<Event>,
    numbers: Vec<i64>,
}

impl Sequence {
    pub fn new(source: Source) -> Self {
        Self {
            source,
            last: None,
            line: 0,
            open: None,
            ready: None,
            numbers: Vec::new(),
        }
    }

    /// Looks at a batch; `found` takes the events that are over.
    pub fn scan(&mut self, batch: &BatchView<'_>, found: &mut impl FnMut(Event)) {
        let mut numbers = std::mem::take(&mut self.numbers);
        let values = match self.source {
            Source::Timecode => batch.labels.counts.as_slice(),
            Source::FrameNumber => {
                numbers.clear();
                let values = batch.numbers(Channel::Frame).unwrap_or_default();
                numbers.extend(values.iter().map(|value| {
                    if value.abs() <= LARGEST {
                        *value as i64
                    } else {
                        i64::MIN
                    }
                }));
                numbers.as_slice()
            }
        };
        if !self.all_well(batch, values) {
            for (at, &value) in values
                .iter()
                .enumerate()
                .filter(|(_, value)| counts(**value))
            {
                self.step(batch, at, value, found);
            }
        }
        if let Some(event) = &mut self.open {
            event.span.seal(batch);
        }
        self.numbers = numbers;
    }

    /// The take is over.
    pub fn end(&mut self, last: Option<&FrameMark>, found: &mut impl FnMut(Event)) {
        if let Some(mut event) = self.open.take() {
            event.span.seal_with(last);
            self.ready(event, found);
        }
        if let Some(event) = self.ready.take() {
            found(event);
        }
    }

    /// The common case: the batch goes on where the last one ended and rises by one.
    fn all_well(&mut self, batch: &BatchView<'_>, values: &[i64]) -> bool {
        let (Some(&first), Some(&last), Some((frame, count))) =
            (values.first(), values.last(), self.last)
        else {
            return values.is_empty();
        };
        let rises = values
            .iter()
            .zip(values.iter().skip(1))
            .fold(true, |ok, (a, b)| ok & (b.wrapping_sub(*a) == 1));
        let goes_on =
            counts(first) && frame.checked_add(1) == Some(batch.frame(0)) && first == count + 1;
        if rises && goes_on && self.open.is_none() {
            self.last = Some((batch.frame(values.len() - 1), last));
            return true;
        }
        false
    }

    #[inline]
    fn step(
        &mut self,
        batch: &BatchView<'_>,
        at: usize,
        value: i64,
        found: &mut impl FnMut(Event),
    ) {
        let frame = batch.frame(at);
        let Some((last_frame, last)) = self.last.replace((frame, value)) else {
            self.line = value.wrapping_sub(frame as i64);
            return;
        };
        let expected = last.wrapping_add(frame.wrapping_sub(last_frame) as i64);
        let on_line = value.wrapping_sub(frame as i64) == self.line;
        match &mut self.open {
            None if value == expected => {}
            // A count that stands still once after a gap is back on the old line by chance.
            Some(event) if on_line && !(event.change == Change::Gap && value == last) => {
                event.returned = true;
                event.span.reach(frame.saturating_sub(1));
                event.span.seal(batch);
                self.close(found);
            }
            Some(_) if value == expected => {}
            Some(event)
                if event.change == Change::Repeated
                    && value == last
                    && frame == event.span.last_frame().saturating_add(1) =>
            {
                event.span.reach(frame);
                event.missing -= 1;
            }
            _ => {
                self.close(found);
                self.line = last.wrapping_sub(last_frame as i64);
                self.open(batch, at, (last_frame, last), value, expected);
            }
        }
    }

    fn open(
        &mut self,
        batch: &BatchView<'_>,
        at: usize,
        (last_frame, last): (u64, i64),
        value: i64,
        expected: i64,
    ) {
        let change = match value.wrapping_sub(last) {
            ..0 => Change::Back,
            0 => Change::Repeated,
            _ if value < expected => Change::Repeated,
            _ => Change::Gap,
        };
        self.open = Some(Event {
            change,
            span: Span::at(batch.mark_at(at)),
            before: last,
            after: value,
            before_label: batch.mark(last_frame).and_then(|mark| mark.label),
            missing: value.wrapping_sub(expected),
            returned: false,
            times: 1,
        });
    }

    fn close(&mut self, found: &mut impl FnMut(Event)) {
        if let Some(event) = self.open.take() {
            self.ready(event, found);
        }
    }

    fn ready(&mut self, event: Event, found: &mut impl FnMut(Event)) {
        match &mut self.ready {
            Some(ready)
                if ready.change == event.change
                    && event.span.first_frame() <= ready.span.last_frame().saturating_add(NEAR) =>
            {
                ready.span.join(event.span);
                ready.missing += event.missing;
                ready.times += 1;
                ready.returned &= event.returned;
            }
            _ => {
                if let Some(ready) = self.ready.replace(event) {
                    found(ready);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::time::labels::Labels;
    use ringmark_model::{Batch, ColumnHead, ColumnKey, NumberColumn, Origin};
    use std::sync::Arc;

    type Seen = (Change, u64, u64, i64, bool, u64);

    fn events(numbers: &[f64], size: usize) -> Vec<Seen> {
        let head = Arc::new(ColumnHead {
            key: ColumnKey::Channel(Channel::Frame),
            unit: String::new(),
            reference: None,
            origin: Origin::Recorded,
            source_unit: None,
            form: None,
        });
        let mut sequence = Sequence::new(Source::FrameNumber);
        let labels = Labels::default();
        let mut seen = Vec::new();
        let mut note = |event: Event| {
            seen.push((
                event.change,
                event.span.first_frame(),
                event.span.last_frame(),
                event.missing,
                event.returned,
                event.times,
            ));
        };
        let mut previous = crate::view::Tail::default();
        for (n, values) in numbers.chunks(size).enumerate() {
            let column = NumberColumn {
                head: head.clone(),
                values: values.to_vec(),
            };
            let batch = Batch {
                first: (n * size) as u64,
                count: values.len(),
                numbers: vec![column],
                ..Batch::default()
            };
            let view = BatchView {
                batch: &batch,
                previous: &previous,
                labels: &labels,
            };
            sequence.scan(&view, &mut note);
            previous = crate::view::Tail::after(&view);
        }
        sequence.end(previous.last.as_ref(), &mut note);
        seen
    }

    fn numbers(pieces: &[std::ops::Range<i64>]) -> Vec<f64> {
        pieces.iter().cloned().flatten().map(|n| n as f64).collect()
    }

    #[test]
    fn events_do_not_depend_on_batches() {
        for (values, expected) in [
            (numbers(&[0..10, 10..50]), vec![]),
            (
                numbers(&[0..10, 12..30]),
                vec![(Change::Gap, 10, 10, 2, false, 1)],
            ),
            (
                numbers(&[0..10, 9..30]),
                vec![(Change::Repeated, 10, 10, -1, false, 1)],
            ),
            (
                numbers(&[0..10, 9..10, 11..30]),
                vec![(Change::Repeated, 10, 10, -1, true, 1)],
            ),
            (
                numbers(&[0..10, 11..50, 49..50, 51..60]),
                vec![
                    (Change::Gap, 10, 10, 1, false, 1),
                    (Change::Repeated, 49, 49, -1, true, 1),
                ],
            ),
            (
                numbers(&[100..150, 101..121, 170..180]),
                vec![(Change::Back, 50, 69, -49, true, 1)],
            ),
            (
                numbers(&[100..150, 20..60]),
                vec![(Change::Back, 50, 50, -130, false, 1)],
            ),
        ] {
            for size in [1, 2, 7, 1000] {
                assert_eq!(events(&values, size), expected, "batches of {size}");
            }
        }
    }

    #[test]
    fn frames_without_a_number_are_passed_over() {
        let mut values = numbers(&[0..5, 5..20]);
        values[5] = f64::NAN;
        values[19] = f64::NAN;
        assert_eq!(events(&values, 4), []);
    }

    #[test]
    fn near_events_are_one() {
        let on_twos: Vec<f64> = (0..30).map(|n| f64::from(n * 2)).collect();
        assert_eq!(events(&on_twos, 8), [(Change::Gap, 1, 29, 29, false, 29)]);
        let held: Vec<f64> = (0..30).map(|n| f64::from(n / 2)).collect();
        let seen = events(&held, 8);
        assert_eq!(seen.len(), 1);
        assert_eq!((seen[0].0, seen[0].5), (Change::Repeated, 15));
    }
}
