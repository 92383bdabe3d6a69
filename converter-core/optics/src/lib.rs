//! Optics of lens data: pure functions on slices, no input or output.
//!
//! - [`RingCurve`]: ring position to value and back, with a 95 % band, from the marks of a ring.
//! - [`FocusLaw`]: the law of focusing that it rests on.
//! - [`Pchip`]: the monotone cubic that carries it.
//! - [`depth_of_field`]: near and far limit and hyperfocal distance, with the [`circle_of_confusion`] they rest on.
//! - [`field_of_view`], [`magnification`], [`stops`]: what follows from focal length, sensor, distance and stop.
//! - [`distortion`]: radial and tangential distortion both ways, and ST maps.

pub mod circle_of_confusion;
pub mod curve;
pub mod depth_of_field;
pub mod distortion;
mod error;
pub mod field_of_view;
pub mod magnification;
pub mod stops;

pub use circle_of_confusion::{CircleOfConfusion, ImageFormat};
pub use curve::{
    CurveError, FocusLaw, Infinity, Pchip, Reading, Region, RingCurve, Shape, coordinate,
};
pub use depth_of_field::{DepthColumns, DepthOfField, FocusedLens, hyperfocal};
pub use distortion::{
    Canvas, Coefficients, Direction, Distortion, ImageGeometry, Normalisation, StMap, StMapKind,
};
pub use error::OpticsError;
pub use field_of_view::FieldOfView;
pub use stops::Transmittance;
