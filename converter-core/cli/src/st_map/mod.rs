//! What an ST map rests on: coefficients with their direction and normalisation, and the picture they belong to.

mod drawn;
mod recorded;
mod statement;

pub use drawn::Drawn;
pub use recorded::{Recorded, RecordedFrame};
pub use statement::{Statement, stated};
