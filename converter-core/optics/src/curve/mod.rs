//! Curves through the marks of a ring.

mod band;
mod cam;
mod coordinate;
mod error;
mod fit;
mod floor;
mod law;
mod pchip;
mod ring;
mod scale;
mod solve;
mod student;

pub use band::{Reading, Region};
pub use coordinate::coordinate;
pub use error::CurveError;
pub use law::FocusLaw;
pub use pchip::Pchip;
pub use ring::{Infinity, RingCurve, Shape};
