//! Optics of lens data: pure functions on slices, no input or output.
//!
//! - [`RingCurve`]: ring position to value and back, with a 95 % band, from the marks of a ring.
//! - [`FocusLaw`]: the law of focusing that it rests on.
//! - [`Pchip`]: the monotone cubic that carries it.

pub mod curve;

pub use curve::{
    CurveError, FocusLaw, Infinity, Pchip, Reading, Region, RingCurve, Shape, coordinate,
};
