//! Consecutive frames with one fault are one finding.

use ringmark_model::{Finding, FrameRange};

use crate::view::{BatchView, FrameMark};

/// Frames from one to another.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Span {
    first: FrameMark,
    last: u64,
    count: u64,
    /// The last frame by name, once it is known.
    end: Option<FrameMark>,
}

impl Span {
    /// One frame.
    pub fn at(first: FrameMark) -> Self {
        Self {
            last: first.index,
            count: 1,
            end: None,
            first,
        }
    }

    /// One more frame with the fault.
    pub fn extend(&mut self, frame: u64) {
        self.last = frame.max(self.last);
        self.count = self.count.saturating_add(1);
    }

    /// More frames with the fault, the last of them `frame`.
    pub fn extend_by(&mut self, frames: u64, frame: u64) {
        self.last = frame.max(self.last);
        self.count = self.count.saturating_add(frames);
    }

    /// All frames up to `frame` have the fault.
    pub fn reach(&mut self, frame: u64) {
        self.last = frame.max(self.first.index);
        // A file may claim a frame at the very end of the numbers.
        self.count = (self.last - self.first.index).saturating_add(1);
    }

    /// Another span behind this one, joined to it.
    pub fn join(&mut self, other: Span) {
        self.last = other.last.max(self.last);
        self.count = self.count.saturating_add(other.count);
        self.end = Some(other.end.unwrap_or(other.first));
    }

    pub fn first_frame(&self) -> u64 {
        self.first.index
    }

    pub fn last_frame(&self) -> u64 {
        self.last
    }

    pub fn count(&self) -> u64 {
        self.count
    }

    pub fn first_label(&self) -> Option<&str> {
        self.first.label.as_deref()
    }

    /// Takes the last frame's name from the batch, if it is in it. To be called before the batch is left.
    pub fn seal(&mut self, batch: &BatchView<'_>) {
        if let Some(mark) = batch.mark(self.last) {
            self.end = Some(mark);
        }
    }

    /// Takes the last frame's name from `mark`, if it is that frame.
    pub fn seal_with(&mut self, mark: Option<&FrameMark>) {
        if let Some(mark) = mark.filter(|mark| mark.index == self.last) {
            self.end = Some(mark.clone());
        }
    }

    /// Writes frames and place into a finding.
    pub fn put(self, mut finding: Finding) -> Finding {
        let end = match self.end {
            Some(end) if end.index == self.last => Some(end),
            _ => (self.last == self.first.index).then(|| self.first.clone()),
        };
        finding.place = self.first.place;
        finding.frames = Some(FrameRange {
            first: self.first.index,
            last: self.last,
            count: self.count,
            first_number: self.first.number,
            last_number: end.as_ref().and_then(|mark| mark.number),
            first_label: self.first.label,
            last_label: end.and_then(|mark| mark.label),
        });
        finding
    }
}

/// Joins the frames that fail a rule into spans, across batches. `T` is what is remembered of a span, as its worst value.
#[derive(Debug)]
pub(crate) struct Runs<T> {
    open: Option<(Span, T)>,
}

impl<T> Default for Runs<T> {
    fn default() -> Self {
        Self { open: None }
    }
}

/// Frames looked at together before any is looked at alone.
const BLOCK: usize = 64;
/// Good frames between two bad ones that still belong to one span: values flicker about a threshold.
const GRACE: u64 = 8;

impl<T> Runs<T> {
    /// Looks at all frames of a batch; spans a few frames apart are one. `bad` says which fail; `begin` makes what is remembered from the first frame of a
    /// span, `more` adds a frame, `done` takes a span that is over.
    pub fn scan(
        &mut self,
        batch: &BatchView<'_>,
        bad: impl Fn(usize) -> bool,
        begin: impl Fn(usize) -> T,
        more: impl Fn(&mut T, usize),
        mut done: impl FnMut(Span, T),
    ) {
        let count = batch.count();
        let mut at = 0;
        while at < count {
            match &mut self.open {
                None => {
                    let Some(next) = first_bad(at, count, &bad) else {
                        return;
                    };
                    at = next;
                    self.open = Some((Span::at(batch.mark_at(at)), begin(at)));
                }
                Some((span, memory)) if bad(at) => {
                    span.extend(batch.frame(at));
                    more(memory, at);
                }
                Some((span, _)) if batch.frame(at) <= span.last_frame().saturating_add(GRACE) => {
                    span.seal(batch)
                }
                Some(_) => self.end(&mut done),
            }
            at += 1;
        }
        if let Some((span, _)) = &mut self.open {
            span.seal(batch);
        }
    }

    /// The take, or the column, is over.
    pub fn end(&mut self, mut done: impl FnMut(Span, T)) {
        if let Some((span, memory)) = self.open.take() {
            done(span, memory);
        }
    }
}

/// Good frames, the common case, are passed over a block at a time without a branch each.
#[inline]
fn first_bad(from: usize, count: usize, bad: &impl Fn(usize) -> bool) -> Option<usize> {
    let mut start = from;
    while start < count {
        let end = (start + BLOCK).min(count);
        if (start..end).fold(false, |any, at| any | bad(at)) {
            return (start..end).find(|at| bad(*at));
        }
        start = end;
    }
    None
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::time::labels::Labels;
    use crate::view::Tail;
    use ringmark_model::{Batch, Severity, Subject};

    #[test]
    fn a_span_over_all_frame_numbers_there_are_is_counted_without_overflow() {
        let mark = FrameMark {
            index: 0,
            number: None,
            label: None,
            place: None,
        };
        let mut span = Span::at(mark);
        span.reach(u64::MAX);
        assert_eq!((span.last_frame(), span.count()), (u64::MAX, u64::MAX));
        span.extend_by(2, u64::MAX);
        span.extend(u64::MAX);
        assert_eq!(span.count(), u64::MAX);
    }

    fn spans(flags: &[bool], sizes: &[usize]) -> Vec<(u64, u64, u64)> {
        let mut runs = Runs::<usize>::default();
        let mut found = Vec::new();
        let (labels, previous) = (Labels::default(), Tail::default());
        let mut first = 0;
        for &size in sizes {
            let batch = Batch {
                first: first as u64,
                count: size,
                ..Batch::default()
            };
            let view = BatchView {
                batch: &batch,
                previous: &previous,
                labels: &labels,
            };
            let here = &flags[first..first + size];
            let mut done = |span: Span, seen: usize| {
                assert_eq!(span.count(), seen as u64);
                found.push((span.first_frame(), span.last_frame(), span.count()));
            };
            runs.scan(&view, |at| here[at], |_| 1, |seen, _| *seen += 1, &mut done);
            first += size;
        }
        runs.end(|span, _| found.push((span.first_frame(), span.last_frame(), span.count())));
        found
    }

    #[test]
    fn runs_do_not_depend_on_batches() {
        let mut flags = vec![false; 300];
        for range in [0..3, 63..66, 100..101, 190..260, 299..300] {
            flags[range].fill(true);
        }
        let whole = spans(&flags, &[300]);
        assert_eq!(
            whole,
            [
                (0, 2, 3),
                (63, 65, 3),
                (100, 100, 1),
                (190, 259, 70),
                (299, 299, 1)
            ]
        );
        assert_eq!(spans(&flags, &[1, 63, 1, 35, 100, 50, 50]), whole);
        assert_eq!(spans(&flags, &[1; 300]), whole);
        assert_eq!(spans(&flags, &[7; 42][..]).len(), 4);
    }

    #[test]
    fn flicker_is_one_span() {
        let mut flags = vec![false; 60];
        [5, 6, 9, 17, 40]
            .into_iter()
            .for_each(|at| flags[at] = true);
        for sizes in [vec![60], vec![8, 2, 50], vec![1; 60]] {
            assert_eq!(spans(&flags, &sizes), [(5, 17, 4), (40, 40, 1)]);
        }
    }

    #[test]
    fn a_span_names_both_ends() {
        let mark = |index: u64| FrameMark {
            index,
            number: Some(1001 + index as i64),
            label: Some(format!("label {index}")),
            place: None,
        };
        let mut span = Span::at(mark(4));
        span.extend(5);
        span.seal_with(Some(&mark(5)));
        let frames = span
            .put(Finding::new("x", Severity::Note, Subject::File, ""))
            .frames
            .unwrap();
        assert_eq!((frames.first, frames.last, frames.count), (4, 5, 2));
        assert_eq!(
            (frames.first_number, frames.last_number),
            (Some(1005), Some(1006))
        );
        assert_eq!(frames.last_label.as_deref(), Some("label 5"));
    }
}
