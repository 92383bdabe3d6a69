//! Findings, tables and documents as text and JSON. Nothing is printed here: every output writes into what it is given.
//!
//! | output | function |
//! |---|---|
//! | findings in full, with excerpts | [`TextReport`] |
//! | findings, one line each | [`ConciseReport`] |
//! | findings as a JSON document | [`JsonReport`] |
//! | findings as JSON lines | [`JsonlReport`] |
//! | findings as SARIF 2.1.0 | [`SarifReport`] |
//! | findings as JUnit XML | [`JunitReport`] |
//! | findings, traces and scales as one page | [`HtmlReport`], with [`Pictures`] |
//! | what a conversion could not carry | [`write_loss_text`], [`write_loss_json`] |
//! | what is in a lens | [`show_lens`], with a [`ScaleReport`] a ring |
//! | what a scale says to questions | [`show_answers`] |
//! | what is in a take | [`show_take`], from a [`TakeSummary`] |
//! | an ST map as OpenEXR | [`write_st_map`] |
//! | formats | [`write_formats`], [`write_format_channels`], [`write_formats_json`] |
//! | how a focus scale moves from take to take | [`write_drift_text`], [`write_drift_json`] |
//! | a lens on pre-marked rings | [`write_transfer_text`], [`write_transfer_json`], [`write_transfer_svg`] |
//! | marks to take next | [`write_plan_text`], [`write_plan_json`], [`write_plan_svg`] |
//! | a page that explains a check | [`write_explanation`] |
//! | a place in the source | [`excerpt`], [`location`] |
//!
//! Texts from files and plugins go through [`safe`], so that nothing in them acts on a terminal.

mod delimited;
mod document;
mod drawing;
mod drift;
mod excerpt;
mod explain;
mod formats;
mod hex;
mod html;
mod json;
mod jsonl;
mod junit;
mod later;
mod loss;
mod or_infinity;
mod paint;
mod picture;
mod plan;
mod plot;
mod report;
mod rule;
mod safe;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod samples;
mod sarif;
mod show;
mod sources;
mod st_map;
mod summary;
mod table;
mod text;
mod transfer;
mod uri;

pub use drift::{
    DriftCourse, DriftReport, DriftTake, Uncertain, write_drift_json, write_drift_text,
};
pub use excerpt::{excerpt, location};
pub use explain::write_explanation;
pub use formats::{write_format_channels, write_formats, write_formats_json};
pub use html::HtmlReport;
pub use json::JsonReport;
pub use jsonl::JsonlReport;
pub use junit::JunitReport;
pub use loss::{write_loss_json, write_loss_text};
pub use picture::{
    Axis, ChannelPicture, LensPicture, MarkPicture, Pictures, RingPicture, TakeGatherer,
    TakePicture,
};
pub use plan::{
    PlanReport, PlanWidest, PlannedMark, write_plan_json, write_plan_svg, write_plan_text,
};
pub use report::{
    Accepted, Counts, Failure, FileReport, Interrupted, Report, Status, Tally, number,
};
pub use rule::{FailsFrom, RuleText};
pub use safe::{safe, safe_lines};
pub use sarif::SarifReport;
pub use show::{
    Drive, InfinityPlace, MarkResidual, ScaleAnswer, ScalePoint, ScaleReport, ShowOptions,
    Standing, System, round_values, show_answers, show_lens, show_take, spaced,
};
pub use sources::SourceFiles;
pub use st_map::{StMapError, write_st_map};
pub use summary::{NumberSummary, TakeSummary, TextSummary};
pub use text::{ConciseReport, TextOptions, TextReport};
pub use transfer::{
    LargestError, StripError, TransferReport, TransferRing, TransferTarget, Unreached,
    write_transfer_json, write_transfer_svg, write_transfer_text,
};
