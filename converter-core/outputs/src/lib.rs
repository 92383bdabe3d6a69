//! Findings, tables and documents as text and JSON. Nothing is printed here: every output writes into what it is given.
//!
//! | output | function |
//! |---|---|
//! | findings in full, with excerpts | [`write_text`] |
//! | findings, one line each | [`write_concise`] |
//! | findings as a JSON document | [`write_json`] |
//! | findings as JSON lines | [`write_jsonl`] |
//! | what a conversion could not carry | [`write_loss_text`], [`write_loss_json`] |
//! | what is in a lens | [`show_lens`] |
//! | what is in a take | [`show_take`], from a [`TakeSummary`] |
//! | formats | [`write_formats`], [`write_format_channels`], [`write_formats_json`] |
//! | a page that explains a check | [`write_explanation`] |
//! | a place in the source | [`excerpt`], [`location`] |
//!
//! Texts from files and plugins go through [`safe`], so that nothing in them acts on a terminal.

mod delimited;
mod document;
mod excerpt;
mod explain;
mod formats;
mod hex;
mod json;
mod jsonl;
mod loss;
mod paint;
mod plot;
mod report;
mod safe;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod samples;
mod show;
mod sources;
mod summary;
mod table;
mod text;

pub use excerpt::{excerpt, location};
pub use explain::write_explanation;
pub use formats::{write_format_channels, write_formats, write_formats_json};
pub use json::write_json;
pub use jsonl::{write_jsonl, write_jsonl_end, write_jsonl_file, write_jsonl_head};
pub use loss::{write_loss_json, write_loss_text};
pub use report::{Counts, Failure, FileReport, Status};
pub use safe::{safe, safe_lines};
pub use show::{ShowOptions, show_lens, show_take};
pub use sources::SourceFiles;
pub use summary::{NumberSummary, TakeSummary, TextSummary};
pub use text::{TextOptions, summary, write_concise, write_text};
