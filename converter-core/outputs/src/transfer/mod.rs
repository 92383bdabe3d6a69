//! The focus scale of a lens on pre-marked rings: a table, a document by `schemas/transfer.schema.json`, a strip to print.

mod json;
mod strip;
mod text;

use ringmark_model::Ring;

pub use json::write_transfer_json;
pub use strip::{StripError, write_transfer_svg};
pub use text::write_transfer_text;

/// What to know before a motor is driven by targets.
const CAUTION: &str = "Targets follow from marks that people took: check both ends and a mark between on the lens before a motor goes there.";

/// A lens on pre-marked rings.
#[derive(Debug, Clone, PartialEq)]
pub struct TransferReport {
    /// The lens.
    pub lens: String,
    /// The file its marks are in.
    pub calibration: String,
    /// Its focus ring, for encoder range, rotation and reference.
    pub ring: Ring,
    /// What depths of field rest on, in words, or why there are none.
    pub depth: Result<String, String>,
    /// The rings, the one that fits best first.
    pub rings: Vec<TransferRing>,
}

/// A lens on one pre-marked ring.
#[derive(Debug, Clone, PartialEq)]
pub struct TransferRing {
    /// The file the ring is described in.
    pub file: String,
    /// The ring.
    pub ring: ringmark_model::PreMarkedRing,
    /// For each printed mark its target, or why there is none.
    pub targets: Vec<Result<TransferTarget, Unreached>>,
    /// Part of the marked travel of the lens that the targets use.
    pub travel_share: f64,
    /// Largest error between finite marks, in metres.
    pub largest_metres: Option<LargestError>,
    /// Largest error between marks, in full depths of field.
    pub largest_depths: Option<LargestError>,
}

/// Where the lens must stand for a printed mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TransferTarget {
    /// Ring position, 0 to 1.
    pub position: f64,
    /// Half width of its 95 % band, in travel.
    pub band: f64,
    /// Lower end of the 95 % band of the distance, in metres.
    pub low: f64,
    /// Upper end, maybe infinity.
    pub high: f64,
}

/// Why a printed mark has no target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unreached {
    /// Nearer than the scale of the lens begins.
    NearerThanScale,
    /// Farther than its farthest mark.
    BeyondMarks,
    /// Beyond an end stop.
    EndStop,
}

impl Unreached {
    /// Name in documents.
    fn name(self) -> &'static str {
        match self {
            Unreached::NearerThanScale => "nearer-than-scale",
            Unreached::BeyondMarks => "beyond-last-mark",
            Unreached::EndStop => "beyond-end-stop",
        }
    }
}

/// A largest error between marks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LargestError {
    /// Positive where the lens is focused farther away than the print reads.
    pub error: f64,
    /// What the print reads there, in metres.
    pub metres: f64,
    /// Place on the knob.
    pub position: f64,
}

impl TransferRing {
    /// Printed marks without a target.
    fn out_of_reach(&self) -> usize {
        self.targets.iter().filter(|target| target.is_err()).count()
    }
}

impl TransferReport {
    /// Degrees of ring rotation at a position.
    fn degrees(&self, position: f64) -> Option<f64> {
        Some(self.ring.rotation?.degrees() * position)
    }

    /// The encoder count nearest to a position.
    fn count(&self, position: f64) -> Option<i64> {
        let scale = self.ring.encoder?.scale()?;
        Some(scale.from_ratio(position).round() as i64)
    }

    /// Nearest and farthest mark of the lens in metres.
    fn ends(&self) -> (f64, f64) {
        let values = || self.ring.marks.iter().map(|mark| mark.value);
        (
            values().fold(f64::INFINITY, f64::min),
            values().fold(0.0, f64::max),
        )
    }
}

#[cfg(test)]
#[path = "samples.rs"]
mod samples;
