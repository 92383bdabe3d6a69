//! Curves through the marks of a ring.

mod band;
mod cam;
mod choose;
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
mod warp;

pub use band::{Reading, Region};
pub use coordinate::coordinate;
pub use error::CurveError;
pub use law::FocusLaw;
pub use pchip::Pchip;
pub(crate) use pchip::through as pchip_through;
pub use ring::{Infinity, RingCurve, Shape};
pub(crate) use student::half_width_95;
