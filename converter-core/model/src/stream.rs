//! What flows from readers to checks and writers, in order.

use crate::batch::Batch;
use crate::finding::Finding;
use crate::lens::Lens;
use crate::provenance::Provenance;
use crate::take::Take;

/// One piece of a document. Lenses come before the takes that use them, a take before its
/// batches; indices count from 0 in the order of appearance.
#[derive(Debug, Clone, PartialEq)]
pub enum Piece {
    /// The next lens.
    Lens(Lens),
    /// The next take's head.
    Take(Take),
    /// Frames of a take, in the canonical units.
    Frames(Batch),
    /// Something the reader noticed.
    Remark(Finding),
    /// Where the inputs came from; last.
    End(Vec<Provenance>),
}
