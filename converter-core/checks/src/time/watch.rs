//! The watch that the checks of counts share: one count, one kind of change.

use ringmark_model::{Finding, Severity};

use super::seconds::EarlySeconds;
use super::sequence::{Change, Event, Sequence, Source};
use crate::ranges::Span;
use crate::registry::Watch;
use crate::report::Report;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

const FRAME_NUMBER: &str = "frame number";
const TIMECODE: &str = "timecode";

/// A change to look for, and what to say about it.
pub(crate) struct SequenceWatch {
    change: Change,
    sequence: Sequence,
    names: Names,
    early: EarlySeconds,
}

/// Words of one count.
#[derive(Clone, Copy)]
struct Names {
    count: &'static str,
    help: &'static str,
}

impl SequenceWatch {
    pub fn new(source: Source, change: Change) -> Self {
        let names = match (source, change) {
            (Source::FrameNumber, Change::Gap) => Names {
                count: FRAME_NUMBER,
                help: "look for lost frames; re-export the record, or split the take where it was cut",
            },
            (Source::FrameNumber, Change::Repeated) => Names {
                count: FRAME_NUMBER,
                help: "one row of each pair belongs to another frame or to none: renumber or remove it",
            },
            (Source::FrameNumber, Change::Back) => Names {
                count: FRAME_NUMBER,
                help: "look for two takes in one record, or for rows out of order",
            },
            (Source::Timecode, Change::Gap) => Names {
                count: TIMECODE,
                help: "look for lost frames, or for timecode that was jammed anew during the take",
            },
            (Source::Timecode, Change::Repeated) => Names {
                count: TIMECODE,
                help: "the record did not follow the clock here: take the label from the frames around",
            },
            (Source::Timecode, Change::Back) => Names {
                count: TIMECODE,
                help: "look for two takes in one record, or for timecode that was jammed anew",
            },
        };
        Self {
            change,
            sequence: Sequence::new(source),
            names,
            early: EarlySeconds::default(),
        }
    }
}

impl Watch for SequenceWatch {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let Self {
            change,
            sequence,
            names,
            early,
        } = self;
        sequence.scan(batch, &mut |event| {
            sift(event, *change, *names, early, take, out)
        });
    }

    fn end(&mut self, take: &TakeView<'_>, out: &mut Report<'_>) {
        let Self {
            change,
            sequence,
            names,
            early,
        } = self;
        sequence.end(take.tail.last.as_ref(), &mut |event| {
            sift(event, *change, *names, early, take, out)
        });
        if let Some(event) = early.rest() {
            report(event, *names, take, out);
        }
    }
}

/// Gaps at the end of every second are left to the check of rates.
fn sift(
    event: Event,
    wanted: Change,
    names: Names,
    early: &mut EarlySeconds,
    take: &TakeView<'_>,
    out: &mut Report<'_>,
) {
    if event.change != wanted {
        return;
    }
    let labels = take
        .take
        .frame_rate
        .filter(|_| names.count == TIMECODE)
        .map(|rate| rate.nominal());
    if let Some(event) = early.sift(event, labels) {
        report(event, names, take, out);
    }
}

fn report(event: Event, names: Names, take: &TakeView<'_>, out: &mut Report<'_>) {
    out.add(Severity::Error, take.subject(), |finding| {
        write(event, names, finding)
    });
}

fn write(event: Event, names: Names, finding: Finding) -> Finding {
    let message = message(&event, names.count);
    let finding = finding.says(message).help(names.help);
    // Labels are in the message; what they count to says nothing to anybody.
    let finding = match names.count {
        TIMECODE => finding,
        _ => {
            finding
                .value("before", event.before as f64, "")
                .value("found", event.after as f64, "")
        }
    };
    event.span.put(finding)
}

fn message(event: &Event, count: &str) -> String {
    let (before, after) = match (&event.before_label, event.span.first_label()) {
        (Some(before), Some(after)) if count == TIMECODE => (before.clone(), after.to_owned()),
        _ => (event.before.to_string(), event.after.to_string()),
    };
    let times = times(event);
    match event.change {
        Change::Gap => {
            let missing = event.missing.unsigned_abs();
            let missing = if missing == 1 {
                "1 is".to_owned()
            } else {
                format!("{missing} are")
            };
            format!("{count} jumps from {before} to {after}: {missing} missing{times}")
        }
        Change::Repeated => format!("{count} {after} is repeated{times}"),
        Change::Back => {
            let until = if event.returned {
                returned(&event.span)
            } else {
                String::new()
            };
            format!(
                "{count} goes back from {before} to {after}, {} below what was expected{until}{times}",
                event.missing.unsigned_abs()
            )
        }
    }
}

fn times(event: &Event) -> String {
    if event.times == 1 {
        String::new()
    } else {
        format!(", and so on: {} places close together", event.times)
    }
}

fn returned(span: &Span) -> String {
    format!(
        ", and is back on its count after {}",
        crate::words::frames(span.count())
    )
}
