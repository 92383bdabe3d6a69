//! What the columns of a take hold, gathered batch by batch in memory that does not grow with the take.

use std::sync::Arc;

use ringmark_model::{Batch, Channel, ColumnHead};

/// Buckets of a trace unless others are asked for. Twice what the widest plot shows in columns of dots at least.
const BUCKETS: usize = 512;

/// Summary of one take.
#[derive(Debug, Clone)]
pub struct TakeSummary {
    /// Frames so far.
    pub frames: u64,
    /// The columns of numbers, in the order in which they were first met.
    pub numbers: Vec<NumberSummary>,
    /// The columns of texts, in the order in which they were first met.
    pub texts: Vec<TextSummary>,
    buckets: usize,
    /// The only columns that are summarised; all, if `None`.
    only: Option<&'static [Channel]>,
}

/// Summary of a column of numbers, in the unit of its head.
#[derive(Debug, Clone)]
pub struct NumberSummary {
    /// What the column is.
    pub head: Arc<ColumnHead>,
    /// Frames with a value, infinity included.
    pub recorded: u64,
    /// Frames at infinity.
    pub infinite: u64,
    /// Smallest and largest value, infinity included; `None` if none is recorded.
    pub range: Option<(f64, f64)>,
    /// First recorded value.
    pub first: Option<f64>,
    /// Last recorded value.
    pub last: Option<f64>,
    trace: Trace,
}

/// Summary of a column of texts.
#[derive(Debug, Clone)]
pub struct TextSummary {
    /// What the column is.
    pub head: Arc<ColumnHead>,
    /// Frames with a text.
    pub recorded: u64,
    /// How often a recorded text differs from the one recorded before.
    pub changes: u64,
    /// First text.
    pub first: Option<String>,
    /// Last text.
    pub last: Option<String>,
}

/// Smallest and largest value of equal stretches of frames. When the buckets are full, neighbours are joined and the
/// stretches are twice as long from then on.
#[derive(Debug, Clone, PartialEq)]
struct Trace {
    buckets: Vec<Option<(f64, f64)>>,
    most: usize,
    frames_each: u64,
}

impl Default for TakeSummary {
    fn default() -> Self {
        Self::new()
    }
}

impl TakeSummary {
    /// Of no frames yet.
    pub fn new() -> Self {
        TakeSummary {
            frames: 0,
            numbers: Vec::new(),
            texts: Vec::new(),
            buckets: BUCKETS,
            only: None,
        }
    }

    /// Of no frames yet: only numbers of some channels, with `buckets` stretches (2 or more) at most.
    pub(crate) fn of_channels(channels: &'static [Channel], buckets: usize) -> Self {
        TakeSummary {
            buckets,
            only: Some(channels),
            ..Self::new()
        }
    }

    fn is_wanted(&self, head: &ColumnHead) -> bool {
        self.only
            .is_none_or(|only| head.key.channel().is_some_and(|c| only.contains(&c)))
    }

    /// Adds the next frames of the take.
    pub fn add(&mut self, batch: &Batch) {
        for column in &batch.numbers {
            if !self.is_wanted(&column.head) {
                continue;
            }
            let at = self
                .numbers
                .iter()
                .position(|s| s.head.key == column.head.key)
                .unwrap_or_else(|| {
                    self.numbers
                        .push(NumberSummary::new(Arc::clone(&column.head), self.buckets));
                    self.numbers.len() - 1
                });
            if let Some(summary) = self.numbers.get_mut(at) {
                summary.add(batch.first, &column.values);
            }
        }
        for column in &batch.texts {
            if !self.is_wanted(&column.head) {
                continue;
            }
            let at = self
                .texts
                .iter()
                .position(|s| s.head.key == column.head.key)
                .unwrap_or_else(|| {
                    self.texts.push(TextSummary::new(Arc::clone(&column.head)));
                    self.texts.len() - 1
                });
            if let Some(summary) = self.texts.get_mut(at) {
                summary.add(&column.index, |index| column.entry(index));
            }
        }
        self.frames = self.frames.max(batch.first + batch.count as u64);
    }
}

impl NumberSummary {
    fn new(head: Arc<ColumnHead>, most: usize) -> Self {
        NumberSummary {
            head,
            recorded: 0,
            infinite: 0,
            range: None,
            first: None,
            last: None,
            trace: Trace {
                buckets: Vec::new(),
                most,
                frames_each: 1,
            },
        }
    }

    fn add(&mut self, first: u64, values: &[f64]) {
        for (frame, &value) in (first..).zip(values) {
            if value.is_nan() {
                continue;
            }
            self.recorded += 1;
            self.infinite += u64::from(value.is_infinite());
            self.range = joined(self.range, Some((value, value)));
            self.first.get_or_insert(value);
            self.last = Some(value);
            self.trace.add(frame, value);
        }
    }

    /// Smallest and largest value of `count` equal stretches of a take of `frames` frames; `None` where nothing is
    /// recorded. Fewer stretches than asked for if there are fewer frames.
    pub fn trace(&self, frames: u64, count: usize) -> Vec<Option<(f64, f64)>> {
        let buckets = frames
            .div_ceil(self.trace.frames_each)
            .min(self.trace.most as u64) as usize;
        let count = count.min(buckets);
        (0..count)
            .map(|stretch| {
                let (from, to) = (stretch * buckets / count, (stretch + 1) * buckets / count);
                let range = self.trace.buckets.iter().take(to).skip(from);
                range.fold(None, |all, &bucket| joined(all, bucket))
            })
            .collect()
    }
}

impl NumberSummary {
    /// Smallest and largest value of stretches of `each` frames, a power of two that is no less than the stretches gathered.
    pub(crate) fn stretches(&self, frames: u64, each: u64) -> Vec<Option<(f64, f64)>> {
        let joined_each = (each / self.trace.frames_each).max(1) as usize;
        let count = frames.div_ceil(each.max(1)) as usize;
        let mut ranges: Vec<_> = (self.trace.buckets.chunks(joined_each))
            .map(|chunk| chunk.iter().fold(None, |all, &b| joined(all, b)))
            .collect();
        ranges.resize(count, None);
        ranges
    }

    /// Frames in each of the stretches that were gathered.
    pub(crate) fn frames_each(&self) -> u64 {
        self.trace.frames_each
    }
}

impl TextSummary {
    fn new(head: Arc<ColumnHead>) -> Self {
        TextSummary {
            head,
            recorded: 0,
            changes: 0,
            first: None,
            last: None,
        }
    }

    fn add<'a>(&mut self, index: &[u32], entry: impl Fn(u32) -> Option<&'a str>) {
        // Most frames have the text of the one before, and then nothing needs comparing.
        let mut before = None;
        for &index in index {
            let Some(text) = entry(index) else {
                continue;
            };
            self.recorded += 1;
            if before == Some(index) {
                continue;
            }
            before = Some(index);
            if self.first.is_none() {
                self.first = Some(text.to_owned());
            } else if self.last.as_deref() != Some(text) {
                self.changes += 1;
            }
            if self.last.as_deref() != Some(text) {
                self.last = Some(text.to_owned());
            }
        }
    }
}

impl Trace {
    fn add(&mut self, frame: u64, value: f64) {
        while frame / self.frames_each >= self.most as u64 {
            let pairs = self.buckets.chunks(2);
            self.buckets = pairs
                .map(|pair| pair.iter().fold(None, |all, &b| joined(all, b)))
                .collect();
            self.frames_each *= 2;
        }
        let at = (frame / self.frames_each) as usize;
        if self.buckets.len() <= at {
            self.buckets.resize(at + 1, None);
        }
        if let Some(bucket) = self.buckets.get_mut(at) {
            *bucket = joined(*bucket, Some((value, value)));
        }
    }
}

/// The range that holds both.
fn joined(a: Option<(f64, f64)>, b: Option<(f64, f64)>) -> Option<(f64, f64)> {
    match (a, b) {
        (Some(a), Some(b)) => Some((a.0.min(b.0), a.1.max(b.1))),
        (one, other) => one.or(other),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;
    use ringmark_model::{Channel, ColumnKey, NumberColumn, Origin, TextColumn, TextForm};

    fn head(channel: Channel) -> Arc<ColumnHead> {
        Arc::new(ColumnHead {
            key: ColumnKey::Channel(channel),
            unit: channel.unit().map_or("", |u| u.symbol()).to_owned(),
            reference: None,
            origin: Origin::Recorded,
            source_unit: None,
            form: channel.is_text().then_some(TextForm::Text),
        })
    }

    fn summarise(values: &[f64], batch_size: usize) -> TakeSummary {
        let mut summary = TakeSummary::new();
        let head = head(Channel::FocusDistance);
        for (index, values) in values.chunks(batch_size).enumerate() {
            let column = NumberColumn {
                head: Arc::clone(&head),
                values: values.to_vec(),
            };
            summary.add(&Batch {
                first: (index * batch_size) as u64,
                count: values.len(),
                numbers: vec![column],
                ..Batch::default()
            });
        }
        summary
    }

    #[test]
    fn infinity_and_gaps_are_counted_apart() {
        let summary = summarise(&[f64::NAN, 2.0, f64::INFINITY, 0.0, f64::NAN], 2);
        let column = &summary.numbers[0];
        assert_eq!(
            (summary.frames, column.recorded, column.infinite),
            (5, 3, 1)
        );
        assert_eq!(column.range, Some((0.0, f64::INFINITY)));
        assert_eq!((column.first, column.last), (Some(2.0), Some(0.0)));
        assert_eq!(column.trace(5, 5)[0], None);
        assert_eq!(
            column.trace(5, 2),
            [Some((2.0, 2.0)), Some((0.0, f64::INFINITY))]
        );
    }

    #[test]
    fn nothing_recorded() {
        let summary = summarise(&[f64::NAN; 3], 2);
        assert_eq!(summary.numbers[0].range, None);
        assert_eq!(summary.numbers[0].trace(3, 8), [None, None, None]);
        assert_eq!(TakeSummary::new().frames, 0);
    }

    #[test]
    fn texts_count_changes_across_batches() {
        let mut summary = TakeSummary::new();
        for (first, texts) in [(0, ["a", "a", "b"]), (3, ["b", "a", "a"])] {
            let texts = TextColumn::from_texts(head(Channel::Lens), texts.map(Some));
            summary.add(&Batch {
                first,
                count: 3,
                texts: vec![texts],
                ..Batch::default()
            });
        }
        let column = &summary.texts[0];
        assert_eq!((column.recorded, column.changes), (6, 2));
        assert_eq!(
            (column.first.as_deref(), column.last.as_deref()),
            (Some("a"), Some("a"))
        );
    }

    proptest! {
        #[test]
        fn memory_is_flat_and_no_peak_is_missed(count in 1usize..5000, peak in any::<prop::sample::Index>(), size in 1usize..700) {
            let mut values = vec![1.0; count];
            values[peak.index(count)] = 9.0;
            let summary = summarise(&values, size);
            let column = &summary.numbers[0];
            prop_assert!(column.trace.buckets.len() <= BUCKETS);
            let trace = column.trace(summary.frames, 80);
            prop_assert!(trace.len() <= 80 && trace.iter().all(Option::is_some));
            prop_assert_eq!(trace.iter().flatten().filter(|b| b.1 == 9.0).count(), 1);
        }
    }
}
