//! What pages draw of a document, gathered while it is checked.

use anyhow::Result;
use ringmark_model::Piece;
use ringmark_outputs::{LensPicture, Pictures, TakeGatherer};

use crate::calibrate::{Calibration, Calibrator};
use crate::derive::{Derivation, Deriver};
use crate::rings::Told;
use crate::scale::{self, Sharpness};

/// Gathers what is drawn. Distances that ring positions give, and depths of field that follow from what is recorded, are drawn
/// too: checks never see them.
pub struct Gathering {
    calibrator: Calibrator,
    deriver: Deriver,
    lenses: Vec<LensPicture>,
    takes: Vec<TakeGatherer>,
}

impl Gathering {
    /// Of nothing yet; with the calibration that the takes are compared with.
    pub fn new(calibration: Option<&Calibration>) -> Self {
        Gathering {
            calibrator: Calibrator::new(calibration.cloned(), Told::Nothing),
            deriver: Deriver::new(Some(Derivation::of_depth())),
            lenses: Vec::new(),
            takes: Vec::new(),
        }
    }

    /// Takes in the next piece of the document.
    pub fn piece(&mut self, piece: Piece) -> Result<()> {
        // Only lenses of the document have a page: the calibration has one where it is an input itself.
        match &piece {
            Piece::Lens(lens) => {
                let scales = scale::reports(lens, Sharpness::default());
                self.lenses.push(LensPicture::of(lens, &scales));
            }
            Piece::Take(take) => self.takes.push(TakeGatherer::new(take)),
            Piece::Frames(_) | Piece::Remark(_) | Piece::End(_) => {}
        }
        let Gathering {
            calibrator,
            deriver,
            takes,
            ..
        } = self;
        calibrator.piece(piece, |piece| {
            deriver.piece(piece, |piece| {
                if let Piece::Frames(batch) = piece
                    && let Some(take) = takes.get_mut(batch.take)
                {
                    take.add(&batch);
                }
                Ok(())
            })
        })
    }

    /// What was gathered.
    pub fn finish(self) -> Pictures {
        Pictures {
            takes: self.takes.into_iter().map(TakeGatherer::finish).collect(),
            lenses: self.lenses,
        }
    }
}
