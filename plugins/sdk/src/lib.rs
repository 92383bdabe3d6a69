//! Everything an author of a format plugin needs, and nothing else.
//!
//! A plugin is an ordinary library crate that implements [`Format`], [`Reader`] and [`Writer`]
//! ([`shell::ReadOnly`] where there is nothing to write), ties them together with
//! [`shell::Plugin`], and exports that in one line. A whole one, for a log with a frame number
//! and a distance in feet on each line:
//!
//! ```
//! use ringmark_sdk::batch::NumberColumn;
//! use ringmark_sdk::shell::{Plugin, ReadOnly};
//! use ringmark_sdk::{Failure, Format, Frames, Input, Item, Place, Reader, Take, fact, failure};
//!
//! pub struct PullLog;
//!
//! impl Format for PullLog {
//!     const MANIFEST: &'static str = r#"{
//!         "name": "pull-log", "version": "1.0.0", "contract": "1.0",
//!         "title": "focus pull log", "about": "A frame number and a distance in feet a line.",
//!         "reads": true, "writes": false,
//!         "files": {"extensions": ["pull"]},
//!         "carries": {"channels": [{"name": "frame"}, {"name": "focus-distance", "unit": "ft"}]}
//!     }"#;
//!     fn recognise(name: &str, _head: &[u8]) -> u32 {
//!         if name.ends_with(".pull") { 90 } else { 0 }
//!     }
//! }
//!
//! pub struct PullReader {
//!     items: std::vec::IntoIter<Item>,
//! }
//!
//! impl Reader for PullReader {
//!     fn open(inputs: Vec<Box<dyn Input>>, _options: &str) -> Result<Self, Failure> {
//!         let bytes = inputs[0].read(0, 1 << 20); // a real reader goes on in chunks, see bytes::Window
//!         let mut frame = NumberColumn::new("frame", "", "");
//!         let mut distance = NumberColumn::new("focus-distance", "ft", "image-plane");
//!         let mut offsets = Vec::new();
//!         let mut offset = 0;
//!         for line in String::from_utf8_lossy(&bytes).split_inclusive('\n') {
//!             let place = Place { input: 0, offset, length: line.trim_end().len() as u64, field: String::new() };
//!             let wrong = || failure("not a frame and a distance", "write `1001 5.5`", Some(place.clone()));
//!             let (number, feet) = line.trim().split_once(' ').ok_or_else(wrong)?;
//!             frame.values.push(number.parse().map_err(|_| wrong())?);
//!             distance.values.push(feet.parse().map_err(|_| wrong())?);
//!             offsets.push(offset);
//!             offset += line.len() as u64;
//!         }
//!         let frames = Frames {
//!             take: 0,
//!             first: 0,
//!             count: offsets.len() as u32,
//!             columns: vec![frame.take(), distance.take()],
//!             labels: Vec::new(),
//!             inputs: Vec::new(),
//!             offsets,
//!         };
//!         let take = Take { lens: None, facts: vec![fact("clip", inputs[0].name(), None)] };
//!         Ok(PullReader { items: vec![Item::Take(take), Item::Frames(frames)].into_iter() })
//!     }
//!     fn next(&mut self) -> Result<Option<Item>, Failure> {
//!         Ok(self.items.next())
//!     }
//! }
//!
//! impl Plugin for PullLog {
//!     type Read = PullReader;
//!     type Write = ReadOnly;
//! }
//!
//! ringmark_sdk::export_plugin!(crate::PullLog);
//!
//! # fn main() {
//! let items = ringmark_sdk::native::read_all::<PullReader>("a.pull", b"1001 5.5\n1002 5.6\n", "{}").unwrap();
//! let Item::Frames(frames) = &items[1] else { panic!() };
//! assert_eq!(frames.columns[1].values, [5.5, 5.6]); // feet: the program converts, the plugin never does
//! let wrong = ringmark_sdk::native::read_all::<PullReader>("a.pull", b"1001 5.5\nx\n", "{}").unwrap_err();
//! assert_eq!(wrong.at.unwrap().offset, 9);
//! # }
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
pub mod pairing;
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
