//! The values of one attribute over time, as OpenUSD resolves them.
//!
//! Samples are read where they stand, with a scan for each attribute. Between two samples a
//! float is interpolated linearly, anything else holds; before the first and behind the last
//! sample the nearest one holds; a blocked sample means no value until the next one.

use std::rc::Rc;

use ringmark_sdk::{Failure, Input, Place, failure};

use crate::lex::Lexer;
use crate::scan::Scan;
use crate::stage::{Attribute, Samples};
use crate::value::{self, Sample, Scalar, Type};

/// Samples of an attribute that are sorted in memory.
const MOST_SORTED: u64 = 500_000;

/// Bytes of text that are.
const MOST_TEXT: usize = 16 << 20;

/// Time codes that are the same: frames whose time is no whole number are computed.
pub const SAME_TIME: f64 = 1e-6;

enum Feed {
    /// In the file, in order.
    Stream(Box<Lexer>),
    /// Sorted in memory.
    Sorted(std::vec::IntoIter<Sample>),
    /// No samples, or no more.
    Constant,
}

/// The values of an attribute, asked for in the order of time.
pub struct Track {
    of: Type,
    /// Path of the attribute.
    path: String,
    feed: Feed,
    before: Option<Sample>,
    after: Option<Sample>,
    between: Option<f64>,
}

impl Track {
    /// The track of `attribute`; `chunk` bytes of samples are kept at a time.
    pub fn new(input: &Rc<dyn Input>, attribute: &Attribute, chunk: u32) -> Result<Self, Failure> {
        let mut track = Track {
            of: attribute.of,
            path: attribute.at.field.clone(),
            feed: Feed::Constant,
            before: None,
            after: None,
            between: None,
        };
        if let Some(samples) = &attribute.samples {
            let scan = Scan::new(Rc::clone(input), samples.offset, chunk);
            track.feed = Feed::Stream(Box::new(Lexer::new(scan)));
            if !samples.sorted {
                track.sort(samples)?;
            }
        } else if let Some(value) = &attribute.value {
            track.before = Some(Sample {
                key: f64::NEG_INFINITY,
                value: value.value.clone(),
                offset: value.at.offset,
            });
        }
        track.after = track.read()?;
        Ok(track)
    }

    /// Sorts the samples in memory; of those with one key the last holds.
    fn sort(&mut self, samples: &Samples) -> Result<(), Failure> {
        let (key, offset) = samples.disorder.unwrap_or((samples.first, samples.offset));
        let too_many = |path: &str| {
            failure(
                format!(
                    "the samples of {path} are out of order (first at time code {key}), and too many to be sorted"
                ),
                format!(
                    "sort them, or write at most {MOST_SORTED} samples and {} MiB of text",
                    MOST_TEXT >> 20
                ),
                Some(place(path, offset, 0)),
            )
        };
        if samples.count > MOST_SORTED {
            return Err(too_many(&self.path));
        }
        let mut all = Vec::new();
        let mut text = 0;
        while let Some(sample) = self.read()? {
            if let Scalar::Text(t) = &sample.value {
                text += t.len();
            }
            if text > MOST_TEXT {
                return Err(too_many(&self.path));
            }
            all.push(sample);
        }
        all.sort_by(|a, b| a.key.total_cmp(&b.key));
        // Backwards, since the last of equal keys is the one that stays.
        all.reverse();
        all.dedup_by(|later, first| later.key == first.key);
        all.reverse();
        self.feed = Feed::Sorted(all.into_iter());
        Ok(())
    }

    fn read(&mut self) -> Result<Option<Sample>, Failure> {
        let lexer = match &mut self.feed {
            Feed::Constant => return Ok(None),
            Feed::Sorted(samples) => return Ok(samples.next()),
            Feed::Stream(lexer) => lexer,
        };
        let sample = value::sample(lexer, self.of)?;
        if sample.is_none() {
            self.feed = Feed::Constant;
        }
        Ok(sample)
    }

    /// Goes on to `time`, which is behind all times before.
    pub fn go(&mut self, time: f64) -> Result<(), Failure> {
        self.between = None;
        while self
            .after
            .as_ref()
            .is_some_and(|s| s.key <= time + SAME_TIME)
        {
            let next = self.read()?;
            self.before = std::mem::replace(&mut self.after, next);
        }
        let (Some(before), Some(after)) = (&self.before, &self.after) else {
            return Ok(());
        };
        if !matches!(self.of, Type::Float | Type::Double) || time <= before.key + SAME_TIME {
            return Ok(());
        }
        if let (Scalar::Number(left), Scalar::Number(right)) = (&before.value, &after.value)
            && left.to_bits() != right.to_bits()
        {
            let part = (time - before.key) / (after.key - before.key);
            let value = (1.0 - part) * left + part * right;
            self.between = Some(match self.of {
                Type::Float => f64::from(value as f32),
                _ => value,
            });
        }
        Ok(())
    }

    /// The sample that holds.
    fn holds(&self) -> Option<&Sample> {
        self.before.as_ref().or(self.after.as_ref())
    }

    /// The number at this time; NaN where there is none.
    pub fn number(&self) -> f64 {
        match (self.between, self.holds().map(|s| &s.value)) {
            (Some(value), _) => value,
            (None, Some(Scalar::Number(number))) => *number,
            _ => f64::NAN,
        }
    }

    /// The text at this time.
    pub fn text(&self) -> Option<&str> {
        match self.holds().map(|s| &s.value) {
            Some(Scalar::Text(text)) => Some(text),
            _ => None,
        }
    }

    /// Whether a number stands here that is no value: `nan`.
    pub fn is_nan(&self) -> bool {
        let number = |s: &Sample| matches!(s.value, Scalar::Number(n) if n.is_nan());
        self.holds().is_some_and(number)
    }

    /// The time codes of the samples on both sides, where the value was made up between them.
    pub fn made_up(&self) -> Option<(f64, f64)> {
        self.between?;
        Some((self.before.as_ref()?.key, self.after.as_ref()?.key))
    }

    /// The time code of the next sample.
    pub fn next_key(&self) -> Option<f64> {
        self.after.as_ref().map(|s| s.key)
    }

    /// Path of the attribute.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Where the value stands.
    pub fn place(&self) -> Place {
        place(&self.path, self.offset(), 0)
    }

    /// Offset of the sample that holds.
    pub fn offset(&self) -> u64 {
        self.holds().map_or(0, |s| s.offset)
    }
}

fn place(path: &str, offset: u64, length: u64) -> Place {
    Place {
        input: 0,
        offset,
        length,
        field: path.to_owned(),
    }
}
