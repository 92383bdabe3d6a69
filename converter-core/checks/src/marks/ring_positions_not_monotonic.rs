//! The positions of a ring's marks are out of order.

use ringmark_model::Severity;

use super::order::{Blame, report};
use crate::info::{CheckInfo, Family};
use crate::registry::Check;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "ring-positions-not-monotonic",
        title: "The positions of a ring's marks are out of order",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("ring_positions_not_monotonic.md"),
        thresholds: &[],
    },
    lens: Some(|view, out| report(view, Blame::Positions, out)),
    take: None,
};
