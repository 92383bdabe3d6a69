//! Optics of lens data: pure functions on slices, no input or output.
//!
//! - [`RingCurve`]: ring position to engraved value and back, through the marks of a ring.
//! - [`Pchip`]: the monotone cubic it rests on.

pub mod curve;

pub use curve::{CurveError, Pchip, RingCurve, coordinate};
