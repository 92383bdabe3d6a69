//! Writing the neutral forms.

mod document;
mod error;
mod frames;
mod lines;
mod objects;
mod pre_marked;
mod printer;

pub use document::{DocumentKind, DocumentWriter};
pub use error::WriteError;
pub use frames::{Layout, encode_batch};
pub use lines::{JsonLinesWriter, LineEncoder};
pub use pre_marked::write_pre_marked;
pub(in crate::json) use printer::key_text;
