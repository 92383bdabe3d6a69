//! Timecode labels as frame counts, worked out once a batch for all checks.

use ringmark_model::{Batch, Channel, NO_LABEL, Take};
use ringmark_quantity::{
    CountingMode, FrameRate, Timecode, TimecodeError, timecode::frames_per_day,
};

/// A label that is not recorded.
pub(crate) const NOT_RECORDED: i64 = i64::MIN;
/// A text that is no label, or a label that does not exist.
pub(crate) const IMPOSSIBLE: i64 = i64::MIN + 1;
/// A label that cannot be at the take's frame rate.
pub(crate) const OTHER_RATE: i64 = i64::MIN + 2;

/// Whether a count stands for a label that exists.
#[inline]
pub(crate) fn counts(count: i64) -> bool {
    count > OTHER_RATE
}

/// What the labels of a batch say.
#[derive(Debug, Clone, Default)]
pub(crate) struct Labels {
    /// Frame counts, going on over midnight; empty if the take has no timecode or its rate is not known.
    pub counts: Vec<i64>,
    /// Frames whose label is counted in another mode than the take: first, last and how many.
    pub other_mode: Option<(usize, usize, u64)>,
    /// The mode of the take: as declared, else of its first label.
    pub mode: Option<CountingMode>,
    /// Whether any text of the batch could not be read as a label, where the rate is not known.
    pub unreadable: bool,
}

/// Counts labels along a take.
#[derive(Debug, Clone, Default)]
pub(crate) struct LabelCounter {
    rate: Option<FrameRate>,
    mode: Option<CountingMode>,
    /// Frames added for the midnights passed.
    days: i64,
    last: Option<i64>,
    labels: Labels,
}

/// Why a label has no count.
pub(crate) fn fault(text: &str, rate: FrameRate) -> Option<TimecodeError> {
    Timecode::parse(text)
        .and_then(|label| label.check(rate))
        .err()
}

/// Whether the fault lies between label and rate, and not in the label alone.
pub(crate) fn is_rate_fault(error: &TimecodeError) -> bool {
    matches!(
        error,
        TimecodeError::Frames { .. }
            | TimecodeError::NoDropFrame { .. }
            | TimecodeError::NoDropFrameRate { .. }
            | TimecodeError::Rate { .. }
    )
}

impl LabelCounter {
    pub fn new(take: &Take) -> Self {
        Self {
            rate: take.frame_rate,
            mode: take.counting,
            ..Self::default()
        }
    }

    /// Reads the labels of the next batch.
    pub fn read(&mut self, batch: &Batch) -> &Labels {
        self.labels.counts.clear();
        self.labels.other_mode = None;
        self.labels.unreadable = false;
        if let Some(column) = batch.texts(Channel::Timecode) {
            let mut last = (NO_LABEL, NOT_RECORDED);
            for (at, &index) in column.index.iter().enumerate() {
                if index != last.0 || index == NO_LABEL {
                    last = (
                        index,
                        column
                            .entry(index)
                            .map_or(NOT_RECORDED, |text| self.count(text, at)),
                    );
                } else if let Some((_, end, frames)) = &mut self.labels.other_mode
                    && *end + 1 == at
                {
                    *end = at;
                    *frames += 1;
                }
                if self.rate.is_some() {
                    self.labels.counts.push(last.1);
                }
            }
        }
        self.labels.mode = self.mode;
        &self.labels
    }

    fn count(&mut self, text: &str, at: usize) -> i64 {
        let label = match Timecode::parse(text) {
            Ok(label) => label,
            Err(_) => {
                self.labels.unreadable = true;
                return IMPOSSIBLE;
            }
        };
        if *self.mode.get_or_insert(label.mode) != label.mode {
            let (first, _, frames) = self.labels.other_mode.unwrap_or((at, at, 0));
            self.labels.other_mode = Some((first, at, frames + 1));
        }
        let Some(rate) = self.rate else {
            return NOT_RECORDED;
        };
        match label.to_frame(rate) {
            Ok(frame) => self.go_on(frame as i64, rate, label.mode),
            Err(error) if is_rate_fault(&error) => OTHER_RATE,
            Err(_) => IMPOSSIBLE,
        }
    }

    /// Counts start again at midnight: a fall by more than half a day is a new day.
    fn go_on(&mut self, frame: i64, rate: FrameRate, mode: CountingMode) -> i64 {
        if let Some(last) = self.last
            && frame + self.days < last
            && let Ok(day) = frames_per_day(rate, mode)
            && last - (frame + self.days) > day as i64 / 2
        {
            self.days += day as i64;
        }
        let count = frame + self.days;
        self.last = Some(count);
        count
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use ringmark_model::{ColumnHead, ColumnKey, Origin, TextColumn};
    use std::sync::Arc;

    fn batch(texts: &[Option<&str>]) -> Batch {
        let head = ColumnHead {
            key: ColumnKey::Channel(Channel::Timecode),
            unit: String::new(),
            reference: None,
            origin: Origin::Recorded,
            source_unit: None,
            form: None,
        };
        Batch {
            count: texts.len(),
            texts: vec![TextColumn::from_texts(
                Arc::new(head),
                texts.iter().copied(),
            )],
            ..Batch::default()
        }
    }

    fn counter(rate: (u32, u32)) -> LabelCounter {
        let rate = FrameRate::new(rate.0, rate.1).ok();
        LabelCounter::new(&Take {
            frame_rate: rate,
            ..Take::default()
        })
    }

    #[test]
    fn midnight_goes_on() {
        let mut counter = counter((24, 1));
        let before = counter.read(&batch(&[Some("23:59:59:23")])).counts.clone();
        let after = counter
            .read(&batch(&[Some("00:00:00:00"), Some("00:00:00:01")]))
            .counts
            .clone();
        assert_eq!((after[0] - before[0], after[1] - before[0]), (1, 2));
    }

    #[test]
    fn faults_and_gaps_have_no_count() {
        let mut counter = counter((30000, 1001));
        let texts = [
            Some("01:00:59;29"),
            Some("01:01:00;00"),
            None,
            Some("nonsense"),
            Some("01:01:00;31"),
            Some("01:01:00:02"),
        ];
        let labels = counter.read(&batch(&texts));
        assert_eq!(
            &labels.counts[1..5],
            [IMPOSSIBLE, NOT_RECORDED, IMPOSSIBLE, OTHER_RATE]
        );
        assert!(counts(labels.counts[0]));
        assert_eq!(labels.other_mode, Some((5, 5, 1)));
        assert_eq!(labels.mode, Some(CountingMode::DropFrame));
    }

    #[test]
    fn without_a_rate_only_the_form_is_read() {
        let mut counter = LabelCounter::default();
        let labels = counter.read(&batch(&[Some("01:00:00:00"), Some("soon")]));
        assert!(labels.counts.is_empty() && labels.unreadable);
    }
}
