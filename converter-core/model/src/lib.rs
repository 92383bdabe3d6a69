//! The neutral lens-data model: one document holds any number of lenses and takes, in
//! canonical units, and says where each value came from.
//!
//! Distances are metres, focal lengths and sensors millimetres, entrance pupil offsets
//! millimetres from the image plane towards the object, angles degrees, ring positions 0 to
//! 1 with raw counts kept. NaN in a column is 'not recorded' and +infinity is infinity;
//! neither is ever 0.

pub mod batch;
pub mod channel;
pub mod edit;
pub mod extras;
pub mod facts;
pub mod finding;
pub mod json;
pub mod lens;
pub mod loss;
pub mod manifest;
pub mod place;
pub mod pre_marked;
pub mod provenance;
pub mod raw;
pub mod stream;
pub mod take;

pub use batch::{
    Batch, ColumnHead, ColumnKey, FramePlaces, NO_LABEL, NumberColumn, Origin, TextColumn, TextForm,
};
pub use channel::{Channel, ChannelKind};
pub use edit::{Change, Edit, EditError};
pub use extras::{Extra, ExtraValue};
pub use finding::{Finding, FoundValue, FrameRange, Repair, Severity, Subject};
pub use lens::{
    Axis, EncoderRange, Lens, LensKind, LensTable, Mark, Ring, ScaleQuantity, plain_name,
};
pub use loss::{Loss, LossItem, LossKind, LossReport};
pub use manifest::Manifest;
pub use place::Place;
pub use pre_marked::{PreMarkedRing, PrintedMark};
pub use provenance::{Changed, PluginIdentity, Provenance, Repaired};
pub use stream::Piece;
pub use take::{Camera, Take};
