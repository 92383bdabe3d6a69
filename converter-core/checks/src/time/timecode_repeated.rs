//! Timecode stands still.

use ringmark_model::Severity;

use super::sequence::{Change, Source};
use super::watch::SequenceWatch;
use crate::info::{CheckInfo, Family};
use crate::registry::Check;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "timecode-repeated",
        title: "Timecode stands still",
        severity: Severity::Error,
        family: Family::Time,
        since: "0.1.0",
        explanation: include_str!("timecode_repeated.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(Box::new(SequenceWatch::new(Source::Timecode, Change::Repeated)))),
};
