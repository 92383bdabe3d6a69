//! Takes whose timecode starts again at zero.

use ringmark_model::{Channel, Severity};

use crate::info::{CheckInfo, Family};
use crate::ranges::Span;
use crate::registry::{Check, Watch};
use crate::report::Report;
use crate::time::labels::counts;
use crate::view::{BatchView, TakeView};
use crate::words::Fill;

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "timecode-passes-midnight",
        title: "Timecode starts again at zero inside the take",
        severity: Severity::Note,
        family: Family::Time,
        since: "0.1.0",
        explanation: include_str!("timecode_passes_midnight.md"),
        thresholds: &[],
    },
    lens: None,
    take: Some(|take| take.take.frame_rate.map(|_| Box::<Midnight>::default() as Box<dyn Watch>)),
};

#[derive(Default)]
struct Midnight {
    days: i64,
}

impl Watch for Midnight {
    fn frames(&mut self, take: &TakeView<'_>, batch: &BatchView<'_>, out: &mut Report<'_>) {
        let (Some(rate), Some(mode), Some(texts)) = (take.take.frame_rate, batch.labels.mode, batch.batch.texts(Channel::Timecode)) else { return };
        let Ok(day) = ringmark_quantity::timecode::frames_per_day(rate, mode) else { return };
        let day = day as i64;
        for (at, &count) in batch.labels.counts.iter().enumerate() {
            if !counts(count) || count.div_euclid(day) <= self.days {
                continue;
            }
            self.days = count.div_euclid(day);
            out.add(Severity::Note, take.subject(), |finding| {
                let label = texts.get(at).unwrap_or_default();
                let finding = finding
                    .says(format!("the clock passes midnight: the next label is {label}, counted on from the day before"))
                    .help("sorted by timecode, this take falls apart: tools that take the smallest label for the start need the date as well");
                Span::at(batch.mark_at(at)).put(finding)
            });
        }
    }
}
