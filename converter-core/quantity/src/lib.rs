//! Quantities of lens data: numbers that carry their unit, and the text people write them in.
//!
//! | quantity | type | formula or rule |
//! |---|---|---|
//! | length | [`Length`] | 1 in = 25.4 mm exactly, 1 ft = 12 in |
//! | focus distance | [`FocusDistance`] | a length above zero or infinity, and what it is measured from; dioptres = 1 / metres |
//! | T-stop, f-number | [`TStop`], [`FNumber`] | whole stops are `2^(k/2)`; stops between a and b = `2 log2(b/a)` |
//! | focal length | [`NominalFocalLength`], [`PinholeFocalLength`], [`EffectiveFocalLength`] | millimetres; three facts that are never mixed |
//! | angle | [`Angle`] | 1 degree = 60 minutes of arc = pi/180 radian |
//! | ring position | [`RingScale`] | `(raw - low) / (high - low)`; low may be above high |
//! | frame rate | [`FrameRate`] | an exact rational; 23.976 means 24000/1001 |
//! | timecode | [`Timecode`] | label to frame number and back, drop-frame included |
//!
//! Numbers stay 64-bit floats everywhere. `NaN` means *not recorded* and passes through every conversion unchanged;
//! infinity is a focus distance (or a closed iris) and never a missing value.
//!
//! [`parse`] reads the text, [`mod@print`] shows a quantity to a person; both are the only place of their kind.
//! ```
//! use ringmark_quantity::{Conversion, DistanceReference, FocusDistance, Unit, parse, print};
//!
//! let (inches, unit) = parse::length("5'6 1/2\"", Unit::Foot)?;
//! assert_eq!((inches, unit), (66.5, Unit::FeetInches));
//! let metres = Conversion::between(unit, Unit::Metre)?.apply(inches);
//! let distance = FocusDistance::new(metres, DistanceReference::ImagePlane)?;
//! assert_eq!(print::focus_distance(distance), "1.69 m (5'6 1/2\") from the image plane");
//! # Ok::<(), ringmark_quantity::QuantityError>(())
//! ```
//!
//! The crate does no input or output and builds for `wasm32-unknown-unknown`.

mod angle;
mod convert;
mod encoder;
mod error;
mod focal_length;
mod focus_distance;
mod length;
pub mod parse;
pub mod print;
mod stop;
pub mod timecode;
mod unit;

pub use angle::Angle;
pub use convert::Conversion;
pub use encoder::RingScale;
pub use error::QuantityError;
pub use focal_length::{EffectiveFocalLength, NominalFocalLength, PinholeFocalLength};
pub use focus_distance::{DistanceReference, FocusDistance};
pub use length::Length;
pub use parse::{DecimalMark, StopKind, StopText};
pub use stop::{FNumber, TStop, plus_stops, stops_between};
pub use timecode::{CountingMode, FrameRate, Timecode, TimecodeError, frames_per_day};
pub use unit::{Dimension, Unit};
