//! A focus ring against a rangefinder: two records of the distance to one subject.
//!
//! The ring gives a distance through the marks of its lens, the rangefinder one of its own, some frames late and from its own
//! front. [`LagSearch`] finds the frames, [`Reconciler`] puts the two side by side, frame by frame and in bounded memory, and
//! says which frames are out of focus and what constant offset would explain it; [`drift`] says how a scale moves from take
//! to take.
//!
//! Misfocus is judged in full depths of field ([`depths_between`]): near limit to far limit is one.

pub mod drift;
mod lag;
mod misfocus;
mod offsets;
mod reconciler;
mod robust;
mod sample;

pub use lag::{Lag, LagSearch, LagUnknown, MOST_LAG};
pub use misfocus::{depths_between, full_depth};
pub use offsets::{DistanceOffset, RingOffset};
pub use reconciler::{Agreement, FinderFrame, OutOfFocus, Reconciler};
