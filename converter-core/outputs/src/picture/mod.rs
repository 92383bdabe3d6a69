//! What pages draw of a document: plain data, gathered while the document is checked, in memory that does not grow with its
//! length. Whoever keeps results of a check can keep these too.

mod lens;
mod steps;
mod take;

use serde::{Deserialize, Serialize};

pub use lens::{LensPicture, MarkPicture, RingPicture};
pub use steps::Steps;
pub use take::{ChannelPicture, TakeGatherer, TakePicture};

use crate::show::Scale;

/// What is drawn of a document.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Pictures {
    /// Its takes, by the index of [`ringmark_model::Subject::Take`].
    pub takes: Vec<TakePicture>,
    /// Its lenses, by the index of [`ringmark_model::Subject::Lens`].
    pub lenses: Vec<LensPicture>,
}

/// How values are laid out on an axis, so that equal steps look equal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Axis {
    /// Distances by their reciprocal: near is up, infinity is 0.
    Reciprocal,
    /// By stops: the logarithm to base 2.
    Stops,
    /// Anything else.
    Plain,
}

impl From<Scale> for Axis {
    fn from(scale: Scale) -> Self {
        match scale {
            Scale::Reciprocal => Axis::Reciprocal,
            Scale::Logarithmic => Axis::Stops,
            Scale::Linear => Axis::Plain,
        }
    }
}

/// A height rounded to what a page can show, so that it takes few digits.
fn rounded(height: f64) -> f64 {
    // Read back from its text: the shortest that means the same number.
    format!("{height:.5e}").parse().unwrap_or(height)
}
