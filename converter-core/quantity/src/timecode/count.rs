//! Label to frame number and back.

use super::{CountingMode, FrameRate, Timecode, TimecodeError};

/// How one rate and mode count.
#[derive(Debug, Clone, Copy)]
struct Counting {
    /// Labels per second.
    labels: u32,
    /// Labels left out at the start of each minute that is no multiple of ten.
    dropped: u32,
}

impl Counting {
    /// Rates as listed in the open library opentimelineio 0.18.1 (PyPI), which cites ST 12-1:2014.
    fn of(rate: FrameRate, mode: CountingMode) -> Result<Self, TimecodeError> {
        let (labels, dropped) = match (rate.num(), rate.den()) {
            (30_000, 1001) => (30, 2),
            (60_000, 1001) => (60, 4),
            (24_000, 1001) => (24, 0),
            (48_000, 1001) => (48, 0),
            (labels @ (24 | 25 | 30 | 48 | 50 | 60), 1) => (labels, 0),
            _ => return Err(TimecodeError::Rate { rate }),
        };
        match mode {
            CountingMode::NonDrop => Ok(Self { labels, dropped: 0 }),
            CountingMode::DropFrame if dropped > 0 => Ok(Self { labels, dropped }),
            CountingMode::DropFrame => Err(TimecodeError::NoDropFrameRate { rate }),
        }
    }

    fn frames_per_day(self) -> u64 {
        u64::from(self.labels) * 86_400 - u64::from(self.dropped) * 9 * 144
    }
}

/// Frames that 24 hours of labels count.
pub fn frames_per_day(rate: FrameRate, mode: CountingMode) -> Result<u64, TimecodeError> {
    Counting::of(rate, mode).map(Counting::frames_per_day)
}

impl Timecode {
    /// Whether the label exists at `rate`; the error says why not and which label comes next.
    pub fn check(&self, rate: FrameRate) -> Result<(), TimecodeError> {
        self.counting(rate).map(|_| ())
    }

    /// The frame number, counted from 0 at 00:00:00:00.
    pub fn to_frame(&self, rate: FrameRate) -> Result<u64, TimecodeError> {
        let counting = self.counting(rate)?;
        let minutes = self.hours * 60 + self.minutes;
        let labels = (minutes * 60 + self.seconds) * counting.labels + self.frames;
        Ok(u64::from(
            labels - counting.dropped * (minutes - minutes / 10),
        ))
    }

    /// The label of a frame number. Labels repeat every 24 hours: the frame number is taken modulo
    /// [`frames_per_day`].
    pub fn from_frame(
        frame: u64,
        rate: FrameRate,
        mode: CountingMode,
    ) -> Result<Self, TimecodeError> {
        let counting = Counting::of(rate, mode)?;
        let (labels, dropped) = (u64::from(counting.labels), u64::from(counting.dropped));
        let frame = frame % counting.frames_per_day();
        let ten_minutes = 600 * labels - 9 * dropped;
        let minute = 60 * labels - dropped;
        let (tens, rest) = (frame / ten_minutes, frame % ten_minutes);
        // The first minute of ten has all its labels, the other nine miss `dropped` each.
        let left_out = 9 * dropped * tens + dropped * (rest.saturating_sub(dropped) / minute);
        let label = frame + left_out;
        let seconds = label / labels;
        Ok(Self {
            hours: (seconds / 3600) as u32,
            minutes: (seconds / 60 % 60) as u32,
            seconds: (seconds % 60) as u32,
            frames: (label % labels) as u32,
            mode,
        })
    }

    /// How the label counts, once it is known to exist.
    #[inline]
    fn counting(&self, rate: FrameRate) -> Result<Counting, TimecodeError> {
        let counting = Counting::of(rate, self.mode).map_err(|error| match error {
            TimecodeError::NoDropFrameRate { rate } => TimecodeError::NoDropFrame {
                label: *self,
                rate,
                non_drop: Self {
                    mode: CountingMode::NonDrop,
                    ..*self
                },
            },
            other => other,
        })?;
        if self.hours > 23
            || self.minutes > 59
            || self.seconds > 59
            || self.frames >= counting.labels
            || self.is_dropped(counting)
        {
            return Err(self.reason(rate, counting));
        }
        Ok(counting)
    }

    fn is_dropped(&self, counting: Counting) -> bool {
        self.frames < counting.dropped && self.seconds == 0 && !self.minutes.is_multiple_of(10)
    }

    /// Why the label does not exist, the largest field first.
    #[cold]
    fn reason(&self, rate: FrameRate, counting: Counting) -> TimecodeError {
        let label = *self;
        if self.hours > 23 {
            let next = self.at(0, 0, 0, counting);
            TimecodeError::Hours { label, next }
        } else if self.minutes > 59 {
            let next = self.at(self.hours + 1, 0, 0, counting);
            TimecodeError::Minutes { label, next }
        } else if self.seconds > 59 {
            let next = self.at(self.hours, self.minutes + 1, 0, counting);
            TimecodeError::Seconds { label, next }
        } else if self.frames >= counting.labels {
            TimecodeError::Frames {
                label,
                rate,
                last: counting.labels - 1,
                next: self.at(self.hours, self.minutes, self.seconds + 1, counting),
            }
        } else {
            TimecodeError::Dropped {
                label,
                last: counting.dropped.saturating_sub(1),
                next: self.at(self.hours, self.minutes, self.seconds, counting),
            }
        }
    }

    /// The first label that exists from the start of a second on; full seconds, minutes and hours carry.
    fn at(&self, hours: u32, minutes: u32, seconds: u32, counting: Counting) -> Self {
        let second = (hours * 60 + minutes) * 60 + seconds;
        let mut first = Self {
            hours: second / 3600 % 24,
            minutes: second / 60 % 60,
            seconds: second % 60,
            frames: 0,
            mode: self.mode,
        };
        if first.is_dropped(counting) {
            first.frames = counting.dropped;
        }
        first
    }
}

#[cfg(test)]
#[path = "count_tests.rs"]
mod tests;
