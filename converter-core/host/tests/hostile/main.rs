//! Plugins that mean ill, or are broken: each is ended in its limits with an error that names it
//! and says who is to blame, and the next file is still read.

#![allow(clippy::unwrap_used, missing_docs)]

mod cached;
mod cost;
mod guest;
mod lies;
mod misuse;
mod run;
mod sound;
mod strangers;
mod walls;
