//! Checks of lens data: what is impossible, inconsistent or probably wrong, with its place and the likely repair.
//!
//! A check is one file in the folder of its family, with its explanation page beside it: what it looks for, why, its
//! thresholds with their reasons, the rule. [`registry`] lists them all; [`Checker`] runs them over the pieces of a
//! document, in one pass, and hands back the findings in the order of the file.

mod by_frame;
mod comparison;
mod explained;
pub mod info;
mod ranges;
pub(crate) mod records;
pub mod registry;
mod report;
mod rules;
mod run;
mod settings;
mod show;
mod view;
mod words;

mod agreement;
mod completeness;
mod identity;
mod marks;
mod motion;
mod optics;
mod time;
mod units;

pub use comparison::RangefinderComparison;
pub use info::{CheckInfo, Family, ThresholdInfo};
pub use records::{ChannelPrecision, Record, RecordBuilder};
pub use registry::Check;
pub use rules::{Level, RuleError, Rules};
pub use run::Checker;
pub use settings::{CameraPattern, Expected, LensPattern, Settings};
pub use show::{Show, TakeSummary};
