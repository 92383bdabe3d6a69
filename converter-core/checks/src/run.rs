//! Runs the checks over the pieces of a document.

use std::sync::Arc;

use ringmark_model::{Axis, Batch, Finding, Lens, Piece, Take};
use ringmark_optics::RingCurve;
use ringmark_quantity::Length;

use crate::agreement::finder::Finder;
use crate::agreement::largest_offset;
use crate::explained::without_followers;
use crate::records::{ChannelPrecision, Record, Versus};
use crate::registry::{self, Check, Watch};
use crate::report::{Found, Report, in_order};
use crate::rules::Rules;
use crate::settings::Settings;
use crate::show::TakeSummary;
use crate::time::labels::{self, LabelCounter};
use crate::view::{BatchView, FocusScale, FrameMark, LensView, Tail, TakeView};

/// All checks at work on one document, in one pass and in little memory.
pub struct Checker {
    checks: Vec<Running>,
    settings: Settings,
    calibration: Option<Lens>,
    rangefinder_offset: Option<Length>,
    lenses: Vec<Lens>,
    takes: Vec<TakeState>,
    /// The other record of the next take, and how exactly this document keeps channels.
    other: Option<(Arc<Record>, Vec<ChannelPrecision>)>,
    /// Remarks of the reader, passed through.
    remarks: Vec<Finding>,
}

struct Running {
    check: &'static Check,
    /// Whether there was something for it to look at.
    ran: bool,
    found: Found,
}

struct TakeState {
    take: Take,
    focus: Option<FocusScale>,
    finder: Option<Finder>,
    versus: Option<Versus>,
    /// One place a check; `None` where it has nothing to watch.
    watches: Vec<Option<Box<dyn Watch>>>,
    labels: LabelCounter,
    tail: Tail,
    rules: Rules,
    /// First frame with a label, the last label, and both as counts.
    first: Option<FrameMark>,
    counts: Option<(i64, i64)>,
}

impl Checker {
    /// A checker without a calibration.
    pub fn new(settings: &Settings) -> Self {
        Self::with_calibration(settings, None)
    }

    /// A checker that compares takes with the scales of `calibration`, the lens given for them.
    pub fn with_calibration(settings: &Settings, calibration: Option<Lens>) -> Self {
        Self {
            checks: registry::all()
                .map(|check| Running {
                    check,
                    ran: false,
                    found: Found::default(),
                })
                .collect(),
            settings: settings.clone(),
            calibration,
            rangefinder_offset: None,
            lenses: Vec::new(),
            takes: Vec::new(),
            other: None,
            remarks: Vec::new(),
        }
    }

    /// The same, told how far in front of the image plane the front of the rangefinder is; what a take says itself goes before.
    #[must_use]
    pub fn with_rangefinder_offset(mut self, offset: Option<Length>) -> Self {
        self.rangefinder_offset = offset;
        self
    }

    /// Takes in the next piece of the document.
    pub fn piece(&mut self, piece: &Piece) {
        match piece {
            Piece::Lens(lens) => self.lens(lens),
            Piece::Take(take) => self.take(take),
            Piece::Frames(batch) => self.frames(batch),
            Piece::Remark(finding) => self.remarks.push(finding.clone()),
            Piece::End(_) => {}
        }
    }

    /// The take whose head comes in next has another record: its frames are compared with that. `precision` says how exactly
    /// the format of this document keeps channels.
    pub fn compare_next(&mut self, other: Arc<Record>, precision: Vec<ChannelPrecision>) {
        self.other = Some((other, precision));
    }

    /// The checks that had something to look at so far.
    pub fn ran(&self) -> impl Iterator<Item = &'static str> {
        let ran = self.checks.iter().filter(|running| running.ran);
        ran.map(|running| running.check.info.id)
    }

    /// What is kept of the takes so far, to compare them with those of other documents.
    pub fn takes(&self) -> Vec<TakeSummary> {
        let summary = |state: &TakeState| {
            let Take {
                clip,
                reel,
                camera,
                frame_rate,
                ..
            } = &state.take;
            let label = |mark: Option<&FrameMark>| mark.and_then(|mark| mark.label.clone());
            TakeSummary {
                clip: clip.clone(),
                reel: reel.clone(),
                camera: camera.serial.clone().or_else(|| camera.label.clone()),
                rate: *frame_rate,
                counts: state.counts,
                labels: label(state.first.as_ref()).zip(label(state.tail.last.as_ref())),
                place: state.first.as_ref().and_then(|mark| mark.place.clone()),
            }
        };
        self.takes.iter().map(summary).collect()
    }

    /// All findings in the order of the files: by place, then by check. Those without a place come last.
    pub fn finish(mut self) -> Vec<Finding> {
        for index in 0..self.takes.len() {
            if let Some(finder) = self
                .takes
                .get_mut(index)
                .and_then(|take| take.finder.as_mut())
            {
                finder.end();
            }
            if let Some(state) = self.takes.get_mut(index)
                && let Some(versus) = &mut state.versus
            {
                versus.end(largest_offset(&state.rules));
            }
            self.visit(index, |watch, take, out| watch.end(take, out));
        }
        let mut found = in_order(
            self.checks
                .into_iter()
                .map(|running| (&running.check.info, running.found))
                .collect(),
        );
        without_followers(&mut found);
        // Stable, so the order among findings stays.
        found.splice(0..0, self.remarks);
        found.sort_by_key(|finding| {
            let place = finding
                .place
                .as_ref()
                .map(|place| (place.input, place.offset));
            (place.is_none(), place)
        });
        found
    }

    fn lens(&mut self, lens: &Lens) {
        let rules = self.settings.rules_for(Some(lens));
        let view = LensView::new(self.lenses.len(), lens, &rules, &self.settings.expected);
        for running in &mut self.checks {
            if let Some(rule) = running.check.lens
                && rules.runs(running.check.info.id)
            {
                running.ran = true;
                rule(
                    &view,
                    &mut Report {
                        info: &running.check.info,
                        found: &mut running.found,
                        rules: &rules,
                        most: self.settings.most_findings,
                    },
                );
            }
        }
        self.lenses.push(lens.clone());
    }

    fn take(&mut self, take: &Take) {
        let own = take.lens.and_then(|index| self.lenses.get(index));
        let focus = self
            .calibration
            .as_ref()
            .and_then(focus_scale)
            .or_else(|| own.and_then(focus_scale));
        let rules = self.settings.rules_for(own.or(self.calibration.as_ref()));
        let versus = self.other.take();
        let versus = versus.map(|(other, precision)| Versus::new(take, other, precision));
        let view = TakeView {
            index: self.takes.len(),
            take,
            lens: own,
            calibration: self.calibration.as_ref(),
            focus: focus.as_ref(),
            finder: None,
            versus: versus.as_ref(),
            tail: &Tail::default(),
            rules: &rules,
            expected: &self.settings.expected,
        };
        let finder = Finder::new(&view, self.rangefinder_offset);
        let watches: Vec<_> = self
            .checks
            .iter()
            .map(|running| {
                let make = running.check.take?;
                rules
                    .runs(running.check.info.id)
                    .then(|| make(&view))
                    .flatten()
            })
            .collect();
        for (running, watch) in self.checks.iter_mut().zip(&watches) {
            running.ran |= watch.is_some();
        }
        let labels = LabelCounter::new(take);
        self.takes.push(TakeState {
            take: take.clone(),
            focus,
            finder,
            versus,
            watches,
            labels,
            tail: Tail::default(),
            rules,
            first: None,
            counts: None,
        });
    }

    fn frames(&mut self, batch: &Batch) {
        let Some(state) = self.takes.get_mut(batch.take) else {
            return;
        };
        if batch.count == 0 {
            return;
        }
        let mut counter = std::mem::take(&mut state.labels);
        let previous = std::mem::take(&mut state.tail);
        let view = BatchView {
            batch,
            previous: &previous,
            labels: counter.read(batch),
        };
        if let Some(finder) = &mut state.finder {
            finder.frames(&view);
        }
        if let Some(versus) = &mut state.versus {
            versus.frames(batch);
        }
        self.visit(batch.take, |watch, take, out| {
            watch.frames(take, &view, out)
        });
        let tail = Tail::after(&view);
        let first = view.mark_at(0);
        let known = |count: &&i64| labels::counts(**count);
        let before = self.takes.get(batch.take).and_then(|state| state.counts);
        let ends = view
            .labels
            .counts
            .iter()
            .find(known)
            .zip(view.labels.counts.iter().rfind(known));
        let span = ends.map(|(from, to)| (before.map_or(*from, |(first, _)| first), *to));
        if let Some(state) = self.takes.get_mut(batch.take) {
            state.tail = tail;
            state.labels = counter;
            state.first.get_or_insert(first);
            state.counts = span.or(state.counts);
        }
    }

    fn visit(
        &mut self,
        index: usize,
        mut act: impl FnMut(&mut Box<dyn Watch>, &TakeView<'_>, &mut Report<'_>),
    ) {
        let Some(state) = self.takes.get_mut(index) else {
            return;
        };
        let view = TakeView {
            index,
            take: &state.take,
            lens: state.take.lens.and_then(|index| self.lenses.get(index)),
            calibration: self.calibration.as_ref(),
            focus: state.focus.as_ref(),
            finder: state.finder.as_ref(),
            versus: state.versus.as_ref(),
            tail: &state.tail,
            rules: &state.rules,
            expected: &self.settings.expected,
        };
        for (running, watch) in self.checks.iter_mut().zip(&mut state.watches) {
            if let Some(watch) = watch {
                let mut out = Report {
                    info: &running.check.info,
                    found: &mut running.found,
                    rules: &state.rules,
                    most: self.settings.most_findings,
                };
                act(watch, &view, &mut out);
            }
        }
    }
}

/// The focus scale of a lens, if its marks make a curve; the checks of marks say why if they do not.
pub(crate) fn focus_scale(lens: &Lens) -> Option<FocusScale> {
    let ring = lens.ring(Axis::Focus)?;
    let curve = RingCurve::new(ring).ok()?;
    Some(FocusScale {
        curve,
        reference: ring.reference,
        lens: lens.label(),
    })
}
