//! Rules that judge each frame by itself, and rules that judge the head of a take.

use crate::ranges::{Runs, Span};
use crate::registry::Watch;
use crate::report::Report;
use crate::view::{BatchView, TakeView};

/// What is measured in a frame, when it is a fault, and what is said about the frames that have it.
pub(crate) trait FrameRule: Send + 'static {
    /// What is measured.
    type Seen: Copy + Send + 'static;

    /// How to measure a frame of the batch: how bad it is, a fault above 1, and what was seen. `None` if the batch does
    /// not record what is needed.
    fn look<'a>(
        &'a self,
        take: &'a TakeView<'_>,
        batch: &'a BatchView<'_>,
    ) -> Option<impl Fn(usize) -> (f64, Self::Seen) + 'a>;

    /// Writes the finding of consecutive frames; `worst` is the worst of them.
    fn report(&self, span: Span, worst: Self::Seen, take: &TakeView<'_>, out: &mut Report<'_>);
}

/// A rule at work on a take.
pub(crate) struct ByFrame<R: FrameRule> {
    rule: R,
    runs: Runs<(f64, R::Seen)>,
}

impl<R: FrameRule> ByFrame<R> {
    /// The watch of a rule.
    pub fn watch(rule: R) -> Box<dyn Watch> {
        Box::new(Self {
            rule,
            runs: Runs::default(),
        })
    }
}

impl<R: FrameRule> Watch for ByFrame<R> {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Self { rule, runs } = self;
        let Some(look) = rule.look(take, batch) else {
            return;
        };
        runs.scan(
            batch,
            |i| look(i).0 > 1.0,
            &look,
            |worst, i| {
                let here = look(i);
                if here.0 > worst.0 {
                    *worst = here;
                }
            },
            |span, (_, worst)| rule.report(span, worst, take, out),
        );
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Self { rule, runs } = self;
        runs.end(|span, (_, worst)| rule.report(span, worst, take, out));
    }
}

/// A value of a column that may be missing or short; NaN where it is not recorded.
pub(crate) fn value(column: Option<&[f64]>, frame: usize) -> f64 {
    column
        .and_then(|values| values.get(frame))
        .copied()
        .unwrap_or(f64::NAN)
}

/// A rule that is asked once, with the first frames of a take.
pub(crate) struct AtStart {
    rule: Option<fn(&TakeView<'_>, &BatchView<'_>, &mut Report<'_>)>,
}

impl AtStart {
    /// The watch of a rule.
    pub fn watch(rule: fn(&TakeView<'_>, &BatchView<'_>, &mut Report<'_>)) -> Box<dyn Watch> {
        Box::new(Self { rule: Some(rule) })
    }
}

impl Watch for AtStart {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        if let Some(rule) = self.rule.take() {
            rule(take, batch, out);
        }
    }
}

/// Writes a finding about the head of a take: at the fact it is about, else at the first frame.
pub(crate) fn put_at(
    fact: &str,
    take: &TakeView<'_>,
    batch: &BatchView<'_>,
    finding: ringmark_model::Finding,
) -> ringmark_model::Finding {
    match take.take.place_of(fact) {
        Some(place) => finding.at(Some(place)),
        None => Span::at(batch.mark_at(0)).put(finding),
    }
}
