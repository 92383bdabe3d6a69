//! Single steps of a value that stand out from its motion just before and after.
//!
//! Rings and the people and motors that turn them have inertia: speed builds up over frames. A step many times larger
//! than those before it, after which the value goes on as before or steps back, is no motion.

use crate::ranges::Span;
use crate::view::{BatchView, FrameMark, Tail};

/// Steps before a jump that say how fast the value was moving.
const HISTORY: usize = 4;
/// A jump is this many times larger than the typical step before it.
const STANDS_OUT: f64 = 8.0;

/// A step larger than the floor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Jump {
    /// The frame after the step.
    pub frame: u64,
    pub before: f64,
    pub after: f64,
    /// Step of the companion at the same frame, and its typical step before; NaN if not known.
    pub other_step: f64,
    pub other_typical: f64,
    /// Whether it stands out from the motion around it.
    pub stands_out: bool,
}

impl Jump {
    pub fn step(&self) -> f64 {
        self.after - self.before
    }
}

/// Frames between a jump and the jump back.
#[derive(Debug, Clone)]
pub(crate) struct Excursion {
    pub jump: Jump,
    pub span: Span,
    /// Whether the value jumped back; if not, the span is the first frame.
    pub returned: bool,
    /// Whether it stays so to the end of the take.
    pub to_the_end: bool,
}

/// Looks for jumps of `x`, with a companion `y`, and pairs them.
#[derive(Debug, Default)]
pub(crate) struct Excursions {
    x: Vec<f64>,
    y: Vec<f64>,
    /// Index in the take of the first value held.
    first: u64,
    /// The next frame to judge.
    next: u64,
    open: Option<(Jump, Span)>,
}

/// What to look for.
pub(crate) struct Rule<A, R> {
    /// Smaller steps are never looked at.
    pub floor: f64,
    /// Whether a step is a jump.
    pub accept: A,
    /// Whether the second jump undoes the first.
    pub returns: R,
}

impl Excursions {
    /// Looks at a batch. `y` may be empty. The last frame is judged with the next batch.
    pub fn scan<A: Fn(&Jump) -> bool, R: Fn(&Jump, &Jump) -> bool>(
        &mut self,
        batch: &BatchView<'_>,
        x: impl Iterator<Item = f64>,
        y: impl Iterator<Item = f64>,
        rule: &Rule<A, R>,
        done: &mut impl FnMut(Excursion),
    ) {
        if self.first.saturating_add(self.x.len() as u64) != batch.frame(0) {
            self.x.clear();
            self.y.clear();
            (self.first, self.next) = (batch.frame(0), batch.frame(0));
        }
        self.x.extend(x);
        self.y.extend(y);
        self.y.resize(self.x.len(), f64::NAN);
        let end = self
            .first
            .saturating_add((self.x.len() as u64).saturating_sub(1));
        let jumps = self.judge(end, rule);
        for jump in jumps {
            if let Some(mark) = batch.mark(jump.frame) {
                self.pair(jump, mark, |frame| batch.mark(frame), rule, done);
            }
        }
        let keep = self.x.len().min(HISTORY + 2);
        let gone = self.x.len() - keep;
        self.x.drain(..gone);
        self.y.drain(..gone);
        self.first = self.first.saturating_add(gone as u64);
    }

    /// The take is over.
    pub fn end<A: Fn(&Jump) -> bool, R: Fn(&Jump, &Jump) -> bool>(
        &mut self,
        tail: &Tail,
        rule: &Rule<A, R>,
        done: &mut impl FnMut(Excursion),
    ) {
        let jumps = self.judge(self.first.saturating_add(self.x.len() as u64), rule);
        for jump in jumps {
            if let Some(mark) = tail.mark(jump.frame) {
                self.pair(
                    jump,
                    mark.clone(),
                    |frame| tail.mark(frame).cloned(),
                    rule,
                    done,
                );
            }
        }
        if let Some((jump, span)) = self.open.take() {
            done(Excursion {
                jump,
                span,
                returned: false,
                to_the_end: true,
            });
        }
    }

    fn judge<A: Fn(&Jump) -> bool, R>(&mut self, end: u64, rule: &Rule<A, R>) -> Vec<Jump> {
        let from = self.next.saturating_sub(self.first) as usize;
        let to = end.saturating_sub(self.first) as usize;
        self.next = end.max(self.next);
        let Some(steps) = self.x.get(from.saturating_sub(1)..to) else {
            return Vec::new();
        };
        let pairs = steps.iter().zip(steps.iter().skip(1));
        if !pairs
            .clone()
            .fold(false, |any, (a, b)| any | ((b - a).abs() > rule.floor))
        {
            return Vec::new();
        }
        pairs
            .enumerate()
            .filter(|(_, (a, b))| (*b - *a).abs() > rule.floor)
            .filter_map(|(n, _)| self.jump_at(from.max(1) + n))
            .filter(|jump| (rule.accept)(jump))
            .collect()
    }

    fn jump_at(&self, at: usize) -> Option<Jump> {
        let (before, after) = (*self.x.get(at.checked_sub(1)?)?, *self.x.get(at)?);
        let step = after - before;
        let next = self.x.get(at + 1).map_or(0.0, |next| next - after);
        let goes_on = next.is_nan()
            || next.abs() < step.abs() / 4.0
            || (next + step).abs() < 0.3 * step.abs();
        let typical = typical_step(&self.x, at);
        Some(Jump {
            frame: self.first.saturating_add(at as u64),
            before,
            after,
            other_step: (self.y.get(at)? - self.y.get(at - 1)?).abs(),
            other_typical: typical_step(&self.y, at),
            // False where nothing is known of the motion before.
            stands_out: goes_on && step.abs() > STANDS_OUT * typical,
        })
    }

    fn pair<A, R: Fn(&Jump, &Jump) -> bool>(
        &mut self,
        jump: Jump,
        mark: FrameMark,
        name: impl Fn(u64) -> Option<FrameMark>,
        rule: &Rule<A, R>,
        done: &mut impl FnMut(Excursion),
    ) {
        match self.open.take() {
            Some((open, mut span)) if (rule.returns)(&open, &jump) => {
                span.reach(jump.frame.saturating_sub(1));
                span.seal_with(name(jump.frame.saturating_sub(1)).as_ref());
                done(Excursion {
                    jump: open,
                    span,
                    returned: true,
                    to_the_end: false,
                });
            }
            open => {
                if let Some((open, span)) = open {
                    done(Excursion {
                        jump: open,
                        span,
                        returned: false,
                        to_the_end: false,
                    });
                }
                self.open = Some((jump, Span::at(mark)));
            }
        }
    }
}

/// Median size of the steps just before the one to `at`; NaN if there is none.
fn typical_step(values: &[f64], at: usize) -> f64 {
    let window = values
        .get(at.saturating_sub(HISTORY + 1)..at)
        .unwrap_or_default();
    let mut steps: Vec<f64> = window
        .iter()
        .zip(window.iter().skip(1))
        .map(|(a, b)| (b - a).abs())
        .filter(|step| step.is_finite())
        .collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use crate::time::labels::Labels;
    use ringmark_model::Batch;

    fn found(values: &[f64], size: usize) -> Vec<(u64, u64, bool)> {
        let rule = Rule {
            floor: 0.03,
            accept: |jump: &Jump| jump.stands_out,
            returns: |a: &Jump, b: &Jump| (a.step() + b.step()).abs() < 0.03,
        };
        let mut excursions = Excursions::default();
        let mut seen = Vec::new();
        let mut note =
            |e: Excursion| seen.push((e.span.first_frame(), e.span.last_frame(), e.returned));
        let labels = Labels::default();
        let mut previous = Tail::default();
        for (n, chunk) in values.chunks(size).enumerate() {
            let batch = Batch {
                first: (n * size) as u64,
                count: chunk.len(),
                ..Batch::default()
            };
            let view = BatchView {
                batch: &batch,
                previous: &previous,
                labels: &labels,
            };
            excursions.scan(
                &view,
                chunk.iter().copied(),
                std::iter::empty(),
                &rule,
                &mut note,
            );
            previous = Tail::after(&view);
        }
        excursions.end(&previous, &rule, &mut note);
        seen
    }

    fn still_with(change: impl Fn(&mut Vec<f64>)) -> Vec<f64> {
        let mut values: Vec<f64> = (0..40).map(|n| 0.3 + 0.001 * f64::from(n)).collect();
        change(&mut values);
        values
    }

    #[test]
    fn jumps_do_not_depend_on_batches() {
        for (values, expected) in [
            (still_with(|_| {}), vec![]),
            (
                still_with(|v| v[10..13].iter_mut().for_each(|x| *x += 0.1)),
                vec![(10, 12, true)],
            ),
            (still_with(|v| v[10] += 0.1), vec![(10, 10, true)]),
            (
                still_with(|v| v[20..].iter_mut().for_each(|x| *x -= 0.1)),
                vec![(20, 20, false)],
            ),
            (still_with(|v| v[39] -= 0.1), vec![(39, 39, false)]),
        ] {
            for size in [1, 3, 8, 100] {
                assert_eq!(found(&values, size), expected, "batches of {size}");
            }
        }
    }

    #[test]
    fn a_fast_pull_is_motion() {
        // From rest to 0.13 of travel a frame within four frames, and back to rest.
        let speeds = [
            0.0, 0.001, 0.0, 0.001, 0.02, 0.06, 0.1, 0.13, 0.13, 0.1, 0.06, 0.02, 0.001, 0.0,
        ];
        let mut at = 0.1;
        let values: Vec<f64> = speeds
            .iter()
            .map(|v| {
                at += v;
                at
            })
            .collect();
        assert_eq!(found(&values, 100), []);
    }

    #[test]
    fn gaps_in_the_record_are_no_jumps() {
        assert_eq!(found(&still_with(|v| v[10..13].fill(f64::NAN)), 7), []);
    }
}
