//! The focus scale of a lens on a pre-marked ring.
//!
//! A pre-marked ring has distances printed at fixed places of a focus unit's knob. The unit is told, for each printed
//! mark, the ring position of the lens that makes it true, its target, and goes in straight lines between targets while
//! the knob goes from mark to mark. Marks are then exact as far as the scale is; between them the lens is not where the
//! print reads. The print between marks is read as the smooth scale through them: the monotone cubic
//! ([`Pchip`](crate::Pchip), Fritsch and Carlson) of reciprocal distance over the place on the knob. This is a
//! convention of this program, as no print says what it means between its marks.
//!
//! [`Transfer`] has targets and the largest error, [`ranked`] puts several rings in order, [`round_series`] makes the
//! distances of a new ring.

mod between;
mod fit;
mod rank;
mod series;

pub use between::Largest;
pub use fit::{OutOfReach, Printed, Target, Transfer};
pub use rank::ranked;
pub use series::{SeriesError, round_series};
