//! The same take recorded twice: by a recorder and in the headers of its pictures, for example.
//!
//! [`Record`] holds one of the two, [`Alignment`] says which frames belong together and by how many frames one is late, and
//! [`differences`] where the values of both cannot be the same number written twice.

mod align;
mod differences;
mod record;
mod versus;

pub(crate) use differences::{Constant, Difference};
pub use record::{ChannelPrecision, Record, RecordBuilder};
pub(crate) use versus::{Outcome, Versus};
