//! The neutral document as JSON, in three forms that share their objects.
//!
//! | form | ends in | holds | written by |
//! |---|---|---|---|
//! | lens document | `.lens.json` | lenses | [`DocumentWriter`] |
//! | take document | `.take.json` | lenses and takes, columns inline, for short takes | [`DocumentWriter`] |
//! | take lines | `.take.jsonl` | lenses and takes, one line a frame, any length | [`JsonLinesWriter`] |
//!
//! [`NeutralReader`] reads all three and tells them apart by what is in them. The schemas are
//! `schemas/lens.schema.json`, `take.schema.json` and `take-line.schema.json`.
//!
//! Pre-marked focus rings have a document of their own, [`read_pre_marked`] and [`write_pre_marked`], by
//! `schemas/pre-marked-ring.schema.json`.
//!
//! # Values
//!
//! Numbers are 64-bit floats and read back bit for bit, except that -0 is written as 0. Whole
//! numbers are written without a point (`50`). Infinity is `"inf"` (`"-inf"`). What is not
//! recorded is `null` in arrays, and a missing key everywhere else.
//!
//! Texts are always JSON strings. A column says in `form` whether they hold JSON or hexadecimal;
//! an extra of a lens or take says so as `{"json": "[1, 2]"}` or `{"hex": "00ff"}`.
//!
//! # Lines
//!
//! ```text
//! {"lens_data":"1.0","form":"lines","lenses":[…],"takes":[{"clip":…,"channels":{"frame":{"origin":"recorded"},…}}]}
//! {"frame":1001,"timecode":"01:00:00:00","focus-distance":1.2}
//! {"frame":1002,"timecode":"01:00:00:01","focus-distance":"inf"}
//! {"end":{"lines":3,"frames":[2],"provenance":[…]}}
//! ```
//!
//! Line 1 is the header, with the channels of the take that comes first. Each further line is one of:
//!
//! - a frame, by far most of them: keys are the channels recorded in it, after `"take":N` if N is not 0. A frame
//!   in which nothing was recorded is `{}`;
//! - `{"take":N,"channels":{…}}`: channels that come to take N from here on, or change their unit or origin;
//! - `{"lenses":[…]}` or `{"takes":[…]}`: lenses or takes that come after those of the header;
//! - `{"end":{…}}`, the last one: lines before it, frames of each take, and where the inputs came from. A file without
//!   it was cut off; blank lines are not counted.
//!
//! Where things stood in the source is not written; the reader gives the places in the
//! document it reads. Remarks are not written either: they belong to reports.

mod keys;
mod number;
mod read;
mod rules;
mod write;

pub use read::{NeutralReader, ReadError, open, read_pre_marked};
pub use write::{
    DocumentKind, DocumentWriter, JsonLinesWriter, Layout, LineEncoder, WriteError, encode_batch,
    write_pre_marked,
};

/// Version of the document that is written and read.
pub const VERSION: &str = "1.0";

/// Longest line of a `.take.jsonl` in bytes.
pub const MAX_LINE: usize = 16 << 20;

/// Largest `.lens.json` or `.take.json` in bytes.
pub const MAX_DOCUMENT: usize = 256 << 20;

/// Most columns of a take or table.
pub const MAX_COLUMNS: usize = 4096;

/// Most frames of all takes of a `.take.json`.
pub const MAX_INLINE_FRAMES: u64 = 200_000;

/// Most values of all columns of a `.take.json`.
pub const MAX_INLINE_VALUES: u64 = 16_000_000;

#[cfg(test)]
mod schema_tests;
