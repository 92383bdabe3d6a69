//! Ring against rangefinder for whoever wants the figures and not the findings.

use ringmark_model::{Batch, Lens, Take};
use ringmark_optics::reconcile::Agreement;
use ringmark_quantity::Length;

use crate::agreement::finder::Finder;
use crate::rules::Rules;
use crate::run::focus_scale;
use crate::settings::Expected;
use crate::time::labels::Labels;
use crate::view::{BatchView, Tail, TakeView};

/// A take compared with the focus scale of a lens, by the rules of the checks. Batches come in order.
pub struct RangefinderComparison(Finder);

impl RangefinderComparison {
    /// `own` is the lens the take names in its document. `None` where the marks of `calibration` give no scale from the image
    /// plane.
    pub fn new(
        take: &Take,
        own: Option<&Lens>,
        calibration: &Lens,
        offset: Option<Length>,
    ) -> Option<Self> {
        let focus = focus_scale(calibration)?;
        let view = TakeView {
            index: 0,
            take,
            lens: own,
            calibration: Some(calibration),
            focus: Some(&focus),
            finder: None,
            versus: None,
            tail: &Tail::default(),
            rules: &Rules::default(),
            expected: &Expected::default(),
        };
        Finder::new(&view, offset).map(Self)
    }

    /// Takes in consecutive frames.
    pub fn frames(&mut self, batch: &Batch) {
        if batch.count > 0 {
            let (previous, labels) = (Tail::default(), Labels::default());
            self.0.frames(&BatchView {
                batch,
                previous: &previous,
                labels: &labels,
            });
        }
    }

    /// The take is over: what it says, and whether an offset of the rangefinder was stated. `None` where nothing was recorded
    /// by both.
    pub fn finish(mut self) -> Option<(Agreement, bool)> {
        self.0.end();
        let stated = self.0.offset()?.known;
        self.0.whole().map(|(agreement, _)| (agreement, stated))
    }
}
