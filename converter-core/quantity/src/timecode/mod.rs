//! Timecode: exact frame rates, labels, and label to frame number and back.
//!
//! Counting as in SMPTE ST 12-1 (rules from memory and from the open libraries named in the tests, which cite the 2014
//! edition). With `n` labels a second and `d` dropped labels a minute (2 at 29.97, 4 at 59.94 drop-frame, else 0):
//! `frame = ((60 h + m) 60 + s) n + f - d (M - floor(M / 10))` where `M = 60 h + m`.

mod count;
mod error;
mod label;
mod rate;

pub use count::frames_per_day;
pub use error::TimecodeError;
pub use label::{CountingMode, Timecode};
pub use rate::FrameRate;
