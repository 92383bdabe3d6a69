//! What checks see: a lens, a take, a batch of its frames, each with what was worked out once for all of them.

use std::cell::OnceCell;

use ringmark_model::{Batch, Channel, Lens, Place, Subject, Take};
use ringmark_optics::RingCurve;

use crate::agreement::finder::Finder;
use crate::info::ThresholdInfo;
use crate::marks::Judged;
use crate::records::{Outcome, Versus};
use crate::rules::Rules;
use crate::settings::Expected;
use crate::time::labels::Labels;

/// A lens of the document.
pub(crate) struct LensView<'a> {
    pub index: usize,
    pub lens: &'a Lens,
    pub rules: &'a Rules,
    /// What was prepared for the show.
    pub expected: &'a Expected,
    /// What is wrong with its scales; worked out on first use.
    pub judged: OnceCell<Judged>,
}

impl<'a> LensView<'a> {
    pub fn new(index: usize, lens: &'a Lens, rules: &'a Rules, expected: &'a Expected) -> Self {
        Self {
            index,
            lens,
            rules,
            expected,
            judged: OnceCell::new(),
        }
    }

    /// The value of a threshold for this lens.
    pub fn value(&self, of: ThresholdInfo) -> f64 {
        self.rules.threshold(&of)
    }

    /// What is wrong with the scales of the lens.
    pub fn judged(&self) -> &Judged {
        self.judged.get_or_init(|| crate::marks::judge(self))
    }

    pub fn subject(&self) -> Subject {
        Subject::Lens(self.index)
    }
}

/// A take with what is known of its lens.
pub(crate) struct TakeView<'a> {
    pub index: usize,
    pub take: &'a Take,
    /// The lens the take names in its document.
    pub lens: Option<&'a Lens>,
    /// The calibration given from outside.
    pub calibration: Option<&'a Lens>,
    /// The focus scale: of the calibration, else of the take's own lens.
    pub focus: Option<&'a FocusScale>,
    /// Ring and rangefinder side by side, where both can be compared.
    pub finder: Option<&'a Finder>,
    /// The take and another record of it, where one was given.
    pub versus: Option<&'a Versus>,
    /// The last frames seen.
    pub tail: &'a Tail,
    pub rules: &'a Rules,
    /// What was prepared for the show.
    pub expected: &'a Expected,
}

/// A focus scale as a curve.
#[derive(Debug, Clone)]
pub(crate) struct FocusScale {
    pub curve: RingCurve,
    pub reference: Option<ringmark_quantity::DistanceReference>,
    /// Name of the lens.
    pub lens: String,
}

impl<'a> TakeView<'a> {
    /// The value of a threshold for this take.
    pub fn value(&self, of: ThresholdInfo) -> f64 {
        self.rules.threshold(&of)
    }

    pub fn subject(&self) -> Subject {
        Subject::Take(self.index)
    }

    /// What the comparison with the other record gave, once the take is over.
    pub fn compared(&self) -> Option<(&'a Versus, &'a Outcome)> {
        let versus = self.versus?;
        Some((versus, versus.outcome()?))
    }

    /// A fact of the take's own lens, else of the calibration.
    pub fn fact<T>(&self, get: impl Fn(&'a Lens) -> Option<T>) -> Option<T> {
        self.lens
            .and_then(&get)
            .or_else(|| self.calibration.and_then(&get))
    }

    /// Whether the lens is known to be a prime.
    pub fn is_prime(&self) -> bool {
        use ringmark_model::LensKind;
        match self.fact(|lens| lens.kind) {
            Some(kind) => kind == LensKind::Prime,
            None => self
                .fact(|lens| lens.focal_length)
                .is_some_and(|(min, max)| min == max),
        }
    }
}

/// A frame, named.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FrameMark {
    pub index: u64,
    pub number: Option<i64>,
    pub label: Option<String>,
    pub place: Option<Place>,
}

/// The last two frames of what was seen so far: what is judged with its successor is named a batch later.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Tail {
    pub last: Option<FrameMark>,
    before: Option<FrameMark>,
}

impl Tail {
    /// The tail after a batch.
    pub fn after(batch: &BatchView<'_>) -> Self {
        let before = match batch.count() {
            0 => return batch.previous.clone(),
            1 => batch.previous.last.clone(),
            count => Some(batch.mark_at(count - 2)),
        };
        Self {
            last: Some(batch.mark_at(batch.count() - 1)),
            before,
        }
    }

    /// The frame with this index in the take, if it is one of the two.
    pub fn mark(&self, frame: u64) -> Option<&FrameMark> {
        [&self.last, &self.before]
            .into_iter()
            .flatten()
            .find(|mark| mark.index == frame)
    }
}

/// Consecutive frames.
pub(crate) struct BatchView<'a> {
    pub batch: &'a Batch,
    /// The frames before the first one.
    pub previous: &'a Tail,
    /// Timecode as frame counts.
    pub labels: &'a Labels,
}

impl<'a> BatchView<'a> {
    pub fn count(&self) -> usize {
        self.batch.count
    }

    /// Index in the take of a frame of the batch.
    pub fn frame(&self, offset: usize) -> u64 {
        self.batch.first.saturating_add(offset as u64)
    }

    pub fn numbers(&self, channel: Channel) -> Option<&'a [f64]> {
        self.batch.numbers(channel)
    }

    /// Whether a frame comes one frame number after the frame before it, or nothing says otherwise.
    pub fn follows(&self, frame: u64) -> bool {
        let number = |frame: u64| match frame.checked_sub(self.batch.first) {
            Some(offset) => self
                .numbers(Channel::Frame)
                .and_then(|values| values.get(offset as usize))
                .copied(),
            None => self
                .previous
                .mark(frame)
                .and_then(|mark| mark.number)
                .map(|number| number as f64),
        };
        let before = frame.checked_sub(1).and_then(number);
        before
            .zip(number(frame))
            .is_none_or(|(a, b)| b - a == 1.0 || a.is_nan() || b.is_nan())
    }

    /// The frame with this index in the take, if it is in the batch or one of the two before it.
    pub fn mark(&self, frame: u64) -> Option<FrameMark> {
        match frame.checked_sub(self.batch.first) {
            Some(offset) if offset < self.batch.count as u64 => Some(self.mark_at(offset as usize)),
            _ => self.previous.mark(frame).cloned(),
        }
    }

    /// A frame of the batch.
    pub fn mark_at(&self, offset: usize) -> FrameMark {
        let number = self
            .numbers(Channel::Frame)
            .and_then(|values| values.get(offset))
            .copied();
        let texts = self.batch.texts(Channel::Timecode);
        FrameMark {
            index: self.frame(offset),
            number: number
                .filter(|number| number.is_finite())
                .map(|number| number as i64),
            label: texts.and_then(|texts| texts.get(offset)).map(str::to_owned),
            place: self
                .batch
                .place(offset)
                .map(|(input, offset)| Place::record(input, offset)),
        }
    }
}
