//! Everything an author of a format plugin needs, and nothing else.
//!
//! A plugin is an ordinary library crate that implements [`Format`], [`Reader`]
//! and [`Writer`], ties them together with [`shell::Plugin`], and exports that in one line:
//!
//! ```ignore
//! ringmark_sdk::export_plugin!(crate::MyFormat);
//! ```
//!
//! The library is tested, fuzzed and measured natively with the inputs and outputs of
//! [`native`]; built for `wasm32-unknown-unknown` and encoded as a component it runs in
//! the program's sandbox. There it sees the bytes of the files it was given and nothing
//! else: no clock, no random numbers, no network, no files.
//!
//! A plugin states the unit of what it read and never converts: the program does that.

extern crate self as ringmark_sdk;

pub mod batch;
#[allow(missing_docs, unsafe_code, clippy::all, clippy::unwrap_used)]
pub mod bindings;
pub mod bytes;
mod format;
#[cfg(not(target_arch = "wasm32"))]
pub mod native;
pub mod shell;

pub use bindings::ringmark::format::types::{
    Column, Datum, Fact, Failure, Frames, Item, Labels, Lens, Mark, Place, Remark, Ring, Table,
    Take,
};
pub use format::{Format, Input, Output, Reader, Writer, fact, failure};
pub use ringmark_quantity as quantity;
#[doc(hidden)]
pub use wit_bindgen::rt as wit_bindgen_rt;

/// Index of a label that is not recorded.
pub const NO_LABEL: u32 = u32::MAX;
