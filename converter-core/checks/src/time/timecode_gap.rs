//! Timecode jumps ahead.

use ringmark_model::Severity;

use super::sequence::{Change, Source};
use super::watch::SequenceWatch;
use crate::info::{CheckInfo, Family};
use crate::registry::Check;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "timecode-gap",
        title: "Timecode jumps ahead",
        severity: Severity::Error,
        family: Family::Time,
        since: "0.1.0",
        explanation: include_str!("timecode_gap.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(Box::new(SequenceWatch::new(Source::Timecode, Change::Gap)))),
};
