//! Delimited text: ring calibrations and per-frame records.
//!
//! The conventions are in this crate's README; a mapping file says what a header does not.

mod calibration_columns;
mod calibration_encoders;
mod cells;
mod columns;
mod facts;
mod fields;
mod form;
mod header;
mod keys;
mod mapping;
mod number;
mod preamble;
mod print;
mod read;
mod read_calibration;
mod read_take;
mod recognise;
mod records;
mod rows;
mod say;
mod statics;
mod texts;
mod words;
mod write;
mod write_calibration;
mod write_statics;
mod write_take;

use ringmark_sdk::Format;
use ringmark_sdk::shell::Plugin;

pub use read::TableReader;
pub use write::TableWriter;

/// The `table` format.
pub struct Table;

impl Format for Table {
    const MANIFEST: &'static str = include_str!("../manifest.json");

    fn recognise(name: &str, head: &[u8]) -> u32 {
        recognise::recognise(name, head)
    }
}

impl Plugin for Table {
    type Read = TableReader;
    type Write = TableWriter;
}

ringmark_sdk::export_plugin!(crate::Table);
