//! Frame numbers jump ahead.

use ringmark_model::Severity;

use super::sequence::{Change, Source};
use super::watch::SequenceWatch;
use crate::info::{CheckInfo, Family};
use crate::registry::Check;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "frame-number-gap",
        title: "Frame numbers jump ahead",
        severity: Severity::Error,
        family: Family::Time,
        since: "0.1.0",
        explanation: include_str!("frame_number_gap.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|_| Some(Box::new(SequenceWatch::new(Source::FrameNumber, Change::Gap)))),
};
