//! Text as people write it, read with nom.
//!
//! Every parser takes the whole text, ignores space around it, and answers with an error that holds the text, the
//! wrong part of it, what was expected and what to do. An empty text and `NaN` are errors here: what a missing value
//! looks like is known to the caller only. Numbers are written with a decimal point; each parser has a `…_with` twin
//! for text with a decimal comma. No parser guesses a unit.

mod angle;
mod feet_inches;
mod focal_length;
mod length;
mod number;
mod position;
mod stop;

pub use angle::{angle, angle_with};
pub use focal_length::{focal_length, focal_length_with};
pub use length::{length, length_with};
pub use number::{DecimalMark, number, number_with};
pub use position::{position, position_with};
pub use stop::{StopKind, StopText, stop, stop_with};

#[cfg(test)]
#[path = "never_panics_tests.rs"]
mod never_panics;
