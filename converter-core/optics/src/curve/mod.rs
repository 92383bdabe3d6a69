//! Curves through the marks of a ring.

mod pchip;
mod ring;

pub use pchip::Pchip;
pub use ring::{CurveError, RingCurve, coordinate};
