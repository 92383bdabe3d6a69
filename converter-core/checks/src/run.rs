//! Runs the checks over the pieces of a document.

use ringmark_model::{Axis, Batch, Finding, Lens, Piece, Take};
use ringmark_optics::RingCurve;

use crate::registry::{self, Check, Watch};
use crate::report::{Found, Report, in_order};
use crate::settings::Settings;
use crate::time::labels::LabelCounter;
use crate::view::{BatchView, FocusScale, LensView, Tail, TakeView};

/// All checks at work on one document, in one pass and in little memory.
pub struct Checker {
    checks: Vec<Running>,
    most: usize,
    calibration: Option<Lens>,
    lenses: Vec<Lens>,
    takes: Vec<TakeState>,
    /// Remarks of the reader, passed through.
    remarks: Vec<Finding>,
}

struct Running {
    check: &'static Check,
    found: Found,
}

struct TakeState {
    take: Take,
    focus: Option<FocusScale>,
    /// One place a check; `None` where it has nothing to watch.
    watches: Vec<Option<Box<dyn Watch>>>,
    labels: LabelCounter,
    tail: Tail,
}

impl Checker {
    /// A checker without a calibration.
    pub fn new(settings: &Settings) -> Self {
        Self::with_calibration(settings, None)
    }

    /// A checker that compares takes with the scales of `calibration`, the lens given for them.
    pub fn with_calibration(settings: &Settings, calibration: Option<Lens>) -> Self {
        let wanted = registry::all().filter(|check| !settings.accepts(check.info.id));
        Self {
            checks: wanted
                .map(|check| Running {
                    check,
                    found: Found::default(),
                })
                .collect(),
            most: settings.most_findings,
            calibration,
            lenses: Vec::new(),
            takes: Vec::new(),
            remarks: Vec::new(),
        }
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

    /// All findings in the order of the files: by place, then by check. Those without a place come last.
    pub fn finish(mut self) -> Vec<Finding> {
        for index in 0..self.takes.len() {
            self.visit(index, |watch, take, out| watch.end(take, out));
        }
        let mut found = in_order(
            self.checks
                .into_iter()
                .map(|running| (&running.check.info, running.found))
                .collect(),
        );
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
        let view = LensView {
            index: self.lenses.len(),
            lens,
        };
        for running in &mut self.checks {
            if let Some(rule) = running.check.lens {
                rule(
                    &view,
                    &mut Report {
                        info: &running.check.info,
                        found: &mut running.found,
                        most: self.most,
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
        let view = TakeView {
            index: self.takes.len(),
            take,
            lens: own,
            calibration: self.calibration.as_ref(),
            focus: focus.as_ref(),
            tail: &Tail::default(),
        };
        let watches = self
            .checks
            .iter()
            .map(|running| running.check.take.and_then(|make| make(&view)))
            .collect();
        let labels = LabelCounter::new(take);
        self.takes.push(TakeState {
            take: take.clone(),
            focus,
            watches,
            labels,
            tail: Tail::default(),
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
        self.visit(batch.take, |watch, take, out| {
            watch.frames(take, &view, out)
        });
        let tail = Tail::after(&view);
        if let Some(state) = self.takes.get_mut(batch.take) {
            state.tail = tail;
            state.labels = counter;
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
            tail: &state.tail,
        };
        for (running, watch) in self.checks.iter_mut().zip(&mut state.watches) {
            if let Some(watch) = watch {
                let mut out = Report {
                    info: &running.check.info,
                    found: &mut running.found,
                    most: self.most,
                };
                act(watch, &view, &mut out);
            }
        }
    }
}

/// The focus scale of a lens, if its marks make a curve; the checks of marks say why if they do not.
fn focus_scale(lens: &Lens) -> Option<FocusScale> {
    let ring = lens.ring(Axis::Focus)?;
    let curve = RingCurve::new(ring).ok()?;
    Some(FocusScale {
        curve,
        reference: ring.reference,
        lens: lens.label(),
    })
}
