//! Ring and rangefinder of a take side by side, once for all checks of them.

use std::collections::VecDeque;

use ringmark_model::{Batch, Channel, ExtraValue, Take};
use ringmark_optics::reconcile::{Agreement, FinderFrame, OutOfFocus, Reconciler};
use ringmark_quantity::{DistanceReference, Length, Unit, parse};

use super::lens_columns::{LensColumns, LensFacts};
use super::rangefinder_disagrees;
use crate::ranges::Span;
use crate::time::labels::Labels;
use crate::view::{BatchView, FrameMark, Tail, TakeView};

/// Frames in focus between two that are not, and that still belong to one stretch.
const GRACE: u64 = 8;

/// Under this name a take says how far in front of the image plane its rangefinder is.
const FACT: &str = "rangefinder offset";

/// Consecutive frames out of focus.
#[derive(Debug, Clone)]
pub(crate) struct Stretch {
    pub span: Span,
    pub worst: OutOfFocus,
    /// The reading jumped where it begins.
    pub strayed: bool,
}

/// How far in front of the image plane the readings begin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Offset {
    pub metres: f64,
    /// Whether anybody said so.
    pub known: bool,
}

/// Compares ring and rangefinder; batches come in order, `end` once.
#[derive(Debug)]
pub(crate) struct Finder {
    facts: LensFacts,
    declared: Option<Length>,
    curve: ringmark_optics::RingCurve,
    /// Depths of field beyond which frames are out of focus.
    limit: f64,
    work: Option<Work>,
    fresh: Vec<Stretch>,
}

/// What there is once the first readings came.
#[derive(Debug)]
struct Work {
    offset: Offset,
    reconciler: Reconciler,
    /// Index in the take of the first frame that was handed over.
    base: u64,
    /// Names of frames that were not judged yet.
    names: VecDeque<Batch>,
    open: Option<Stretch>,
    first: FrameMark,
    last: FrameMark,
}

impl Finder {
    /// For a take whose focus scale counts from the image plane, or does not say.
    pub fn new(take: &TakeView<'_>, declared: Option<Length>) -> Option<Self> {
        let focus = take.focus?;
        let plain = [
            None,
            Some(DistanceReference::ImagePlane),
            Some(DistanceReference::Unstated),
        ];
        plain.contains(&focus.reference).then(|| Self {
            facts: LensFacts::of(take),
            declared: stated(take.take).or(declared),
            curve: focus.curve.clone(),
            limit: rangefinder_disagrees::limit(take),
            work: None,
            fresh: Vec::new(),
        })
    }

    /// Looks at consecutive frames.
    pub fn frames(&mut self, batch: &BatchView<'_>) {
        self.fresh.clear();
        let ring = batch.numbers(Channel::FocusRing);
        let readings = batch.batch.number_column(Channel::RangefinderDistance);
        if self.work.is_none() {
            let (Some(_), Some(readings)) = (ring, readings) else {
                return;
            };
            self.begin(readings.head.reference, batch);
        }
        let Some(work) = &mut self.work else { return };
        let columns = LensColumns::of(&self.facts, batch.batch);
        let at = |column: Option<&[f64]>, frame: usize| {
            column
                .and_then(|values| values.get(frame))
                .copied()
                .unwrap_or(f64::NAN)
        };
        let readings = readings.map(|column| column.values.as_slice());
        for frame in 0..batch.count() {
            let (focal_length_mm, f_number) = columns.at(frame);
            let reading = at(readings, frame);
            work.reconciler.push(FinderFrame {
                ring: at(ring, frame),
                // 0 is 'nothing came back', not a subject at the lens.
                reading_m: if reading > 0.0 {
                    reading + work.offset.metres
                } else {
                    f64::NAN
                },
                focal_length_mm,
                f_number,
            });
        }
        work.names.push_back(named(batch.batch));
        work.last = batch.mark_at(batch.count() - 1);
        if work.reconciler.is_due() {
            work.settle(false, &mut self.fresh);
        }
    }

    /// The take is over.
    pub fn end(&mut self) {
        self.fresh.clear();
        if let Some(work) = &mut self.work {
            work.settle(true, &mut self.fresh);
            self.fresh.extend(work.open.take());
        }
    }

    fn begin(&mut self, reference: Option<DistanceReference>, batch: &BatchView<'_>) {
        let from_plane = reference == Some(DistanceReference::ImagePlane);
        let offset = match self.declared {
            // Whoever states an offset means the rangefinder; the reference of a document is that of its focus distances.
            Some(offset) => Offset {
                metres: offset.metres(),
                known: true,
            },
            None if from_plane => Offset {
                metres: 0.0,
                known: true,
            },
            None => Offset {
                metres: 0.0,
                known: false,
            },
        };
        let reconciler = Reconciler::new(
            self.curve.clone(),
            self.facts.circle,
            offset.known,
            self.limit,
        );
        self.work = Some(Work {
            offset,
            reconciler,
            base: batch.frame(0),
            names: VecDeque::new(),
            open: None,
            first: batch.mark_at(0),
            last: batch.mark_at(0),
        });
    }

    /// Stretches out of focus that ended since the last batch.
    pub fn fresh(&self) -> &[Stretch] {
        &self.fresh
    }

    /// The offset that readings are judged with.
    pub fn offset(&self) -> Option<Offset> {
        self.work.as_ref().map(|work| work.offset)
    }

    /// What the take says as a whole, and all of its frames.
    pub fn whole(&self) -> Option<(Agreement, Span)> {
        let work = self.work.as_ref()?;
        let mut span = Span::at(work.first.clone());
        span.reach(work.last.index);
        span.seal_with(Some(&work.last));
        Some((work.reconciler.agreement(), span))
    }
}

impl Work {
    fn settle(&mut self, over: bool, done: &mut Vec<Stretch>) {
        for found in self.reconciler.settle(over) {
            let frame = self.base.saturating_add(found.frame);
            let Some(mark) = mark(&self.names, frame) else {
                continue;
            };
            let close =
                |open: &&mut Stretch| frame <= open.span.last_frame().saturating_add(GRACE + 1);
            match self.open.as_mut().filter(close) {
                Some(open) => {
                    open.span.extend(frame);
                    open.span.seal_with(Some(&mark));
                    if found.depths.abs() > open.worst.depths.abs() {
                        open.worst = found;
                    }
                }
                None => {
                    let next = Stretch {
                        span: Span::at(mark),
                        worst: found,
                        strayed: found.strayed,
                    };
                    done.extend(self.open.replace(next));
                }
            }
        }
        let judged = self.base.saturating_add(self.reconciler.judged());
        let behind = |batch: &Batch| batch.first.saturating_add(batch.count as u64) <= judged;
        while self.names.front().is_some_and(behind) {
            self.names.pop_front();
        }
    }
}

/// What frames of a batch are called, without the rest of it.
fn named(batch: &Batch) -> Batch {
    Batch {
        take: batch.take,
        first: batch.first,
        count: batch.count,
        numbers: batch
            .number_column(Channel::Frame)
            .cloned()
            .into_iter()
            .collect(),
        texts: batch
            .texts(Channel::Timecode)
            .cloned()
            .into_iter()
            .collect(),
        places: batch.places.clone(),
    }
}

fn mark(names: &VecDeque<Batch>, frame: u64) -> Option<FrameMark> {
    let (labels, previous) = (Labels::default(), Tail::default());
    names.iter().find_map(|batch| {
        BatchView {
            batch,
            previous: &previous,
            labels: &labels,
        }
        .mark(frame)
    })
}

/// What the take says itself: a number with its unit, or a text such as `120 mm`.
fn stated(take: &Take) -> Option<Length> {
    let extra = take
        .extras
        .iter()
        .find(|extra| extra.name.eq_ignore_ascii_case(FACT))?;
    match &extra.value {
        ExtraValue::Number(number, unit) => length(*number, Unit::from_symbol(unit)?),
        ExtraValue::Text(_, text) => {
            // Without a unit it says nothing: `Unit::One` is no length.
            let (number, unit) = parse::length(text, Unit::One).ok()?;
            length(number, unit)
        }
    }
}

/// Dioptres would pass for a distance, and are none that anybody measures to the front of an instrument.
fn length(number: f64, unit: Unit) -> Option<Length> {
    let length = Length::of(number, unit).ok()?;
    (unit != Unit::Dioptre && length.metres().is_finite()).then_some(length)
}
