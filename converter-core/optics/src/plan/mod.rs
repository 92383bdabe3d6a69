//! Where the next marks of a focus scale pay most.
//!
//! The scale is as good as the widest place of its 95 % band, counted in full depths of field at full aperture: there an
//! error is seen first. [`plan()`] adds, one after another, the mark that brings this figure down most: each distance that is
//! offered is tried as if it had been read where the scale expects it, the curve is fitted anew, and the widest place is
//! looked for again. Choosing each measurement by the largest variance that is left is the sequential design of
//! experiments (V. Fedorov, *Theory of Optimal Experiments*, 1972, from memory).
//!
//! Readings that are only expected fit perfectly and would make the scale seem better than it is. So the band is held as
//! wide as the reading error of the marks that were taken makes it; a lens without a scale is planned with
//! [`READING_ERROR`]. `examples/plan.rs` measures on traced lenses what planned marks are worth.

mod assumed;
mod greedy;
mod widest;

pub use greedy::{Goal, Plan, Planned, plan};
pub use widest::{Bench, Widest};

/// Reading error of a mark, one standard deviation in ring travel, where no marks tell it: 0.1 %, common practice, no
/// source.
pub const READING_ERROR: f64 = 1e-3;
