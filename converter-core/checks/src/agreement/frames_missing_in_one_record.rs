//! Frames that one of two records of a take lacks.

use ringmark_model::Severity;

use crate::info::{CheckInfo, Family};
use crate::records::{Outcome, Record};
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::{self, Fill};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "frames-missing-in-one-record",
        title: "One of two records of a take lacks frames of the other",
        severity: Severity::Warning,
        family: Family::Agreement,
        since: "0.1.0",
        explanation: include_str!("frames_missing_in_one_record.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| take.versus.map(|_| Box::new(Missing) as Box<dyn Watch>)),
};

struct Missing;

impl Watch for Missing {
    fn frames(&mut self, _: &TakeView<'_>, _: &BatchView<'_>, _: &mut Report<'_>) {}

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Some((versus, Outcome { own, alignment, .. })) = take.compared() else {
            return;
        };
        // Nothing in common is another check's fault.
        if alignment.pairs().next().is_none() {
            return;
        }
        let other = &versus.other;
        let place = own.mark(0).place;
        if let Some(&first) = alignment.missing.first() {
            out.add(Severity::Warning, take.subject(), |finding| {
                let message = format!(
                    "{} of {} are missing here, the first {}",
                    words::frames(alignment.missing.len() as u64),
                    other.name,
                    name(other, first)
                );
                finding.says(message).help(HELP).at(place.clone())
            });
        }
        if let Some(&first) = alignment.alone.first() {
            out.add(Severity::Warning, take.subject(), |finding| {
                let message = format!(
                    "{} missing in {}, the first {}",
                    words::frames(alignment.alone.len() as u64),
                    other.name,
                    name(own, first)
                );
                finding.says(message).help(HELP).at(own.mark(first).place)
            });
        }
    }
}

const HELP: &str = "look for frames that were dropped when one of them was recorded or copied";

/// A frame by its label, else by its number.
fn name(record: &Record, frame: usize) -> String {
    let mark = record.mark(frame);
    match (mark.label, mark.number) {
        (Some(label), _) => label,
        (None, Some(number)) => format!("frame {number}"),
        (None, None) => format!("frame {} of the take", frame + 1),
    }
}
