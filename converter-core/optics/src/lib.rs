//! Optics of lens data: pure functions on slices, no input or output.
//!
//! - [`RingCurve`]: ring position to value and back, with a 95 % band, from the marks of a ring.
//! - [`FocusLaw`]: the law of focusing that it rests on.
//! - [`Pchip`]: the monotone cubic that carries it.
//! - [`depth_of_field`]: near and far limit and hyperfocal distance, with the [`circle_of_confusion`] they rest on.
//! - [`field_of_view`], [`magnification`], [`stops`]: what follows from focal length, sensor, distance and stop.
//! - [`Surface`]: a quantity over focus distance and focal length, from a table of the lens.
//! - [`ZoomScale`]: the focus scale of a zoom that does not hold focus.
//! - [`ReferencePoints`]: a focus distance from image plane, entrance pupil or front vertex.
//! - [`reconcile`]: a focus ring against a rangefinder: lag, offset, misfocus, drift of a scale from take to take.
//! - [`plan`](mod@plan): where the next marks of a focus scale pay most.
//! - [`transfer`]: the focus scale of a lens on a pre-marked ring.
//! - [`distortion`]: radial and tangential distortion both ways, and ST maps.

pub mod circle_of_confusion;
pub mod curve;
pub mod depth_of_field;
pub mod distortion;
mod error;
pub mod field_of_view;
pub mod magnification;
pub mod plan;
pub mod reconcile;
mod reference;
pub mod stops;
mod surface;
pub mod transfer;
mod zoom_scale;

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
pub use reference::ReferencePoints;
pub use stops::Transmittance;
pub use surface::{Surface, SurfaceError};
pub use zoom_scale::{ZoomScale, ZoomScaleError};
