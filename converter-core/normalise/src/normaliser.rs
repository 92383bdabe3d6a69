//! Items of one reading, in order, to pieces of a document.

use ringmark_model::raw::{RawItem, RawRemark};
use ringmark_model::{Finding, Piece, Place, Severity, Subject};

use crate::error::NormaliseError;
use crate::frames::TakeColumns;
use crate::from_facts::Remarks;
use crate::lens;
use crate::take;

/// Turns the items of one reading into pieces of a document in canonical units.
#[derive(Default)]
pub struct Normaliser {
    lenses: usize,
    takes: Vec<TakeColumns>,
}

impl Normaliser {
    /// A normaliser at the start of a document.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds to `pieces` what `item` becomes: usually one piece, preceded by remarks about
    /// values that cannot be. An error means that the plugin broke its word; nothing after
    /// it can be trusted.
    pub fn item(&mut self, item: RawItem, pieces: &mut Vec<Piece>) -> Result<(), NormaliseError> {
        let mut remarks = Remarks::default();
        let piece = match item {
            RawItem::Lens(raw) => {
                let lens = lens::lens(raw, self.lenses, &mut remarks)?;
                self.lenses += 1;
                Piece::Lens(lens)
            }
            RawItem::Take(raw) => {
                let (take, ranges) = take::take(raw, self.takes.len(), self.lenses, &mut remarks)?;
                self.takes.push(TakeColumns::new(&ranges));
                Piece::Take(take)
            }
            RawItem::Frames(raw) => {
                let Some(columns) = self.takes.get_mut(raw.take as usize) else {
                    return Err(NormaliseError::new(
                        format!(
                            "the plugin delivered frames of take {} before its head",
                            raw.take
                        ),
                        "report this to the author of the plugin",
                    ));
                };
                Piece::Frames(columns.batch(raw)?)
            }
            RawItem::Remark(raw) => Piece::Remark(remark(raw)),
        };
        pieces.extend(remarks.0.into_iter().map(Piece::Remark));
        pieces.push(piece);
        Ok(())
    }
}

fn remark(raw: RawRemark) -> Finding {
    let severity = Severity::from_name(&raw.severity).unwrap_or(Severity::Warning);
    let mut finding =
        Finding::new(raw.check, severity, Subject::File, raw.message).at(raw.at.map(Place::from));
    if !raw.help.is_empty() {
        finding.help = Some(raw.help);
    }
    finding
}
