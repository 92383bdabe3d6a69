//! What becomes of a plugin's items on the way into the model, and of the model on the way
//! to a writer: one named test for each trap of units and definitions.
#![allow(missing_docs, clippy::unwrap_used)]

mod facts;
mod frames;
mod losses;
mod lossy;
mod make;
mod rings;
mod round_trip;
mod units;
