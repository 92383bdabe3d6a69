//! Time code labels at any frame rate, and the frames they count.
//!
//! Counting as in SMPTE ST 12-1, see [`ringmark_sdk::quantity::timecode`]; that knows the rates of the
//! standard. Acquisition data comes at others too (100, 120 frames a second): the same formula
//! is used there, with as many labels a second as the rate has frames, rounded.

use std::fmt::Write;

use ringmark_sdk::quantity::FrameRate;

/// How labels are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Clock {
    /// Frames a second.
    pub rate: FrameRate,
    labels: u64,
    /// Labels left out each minute that is no multiple of ten.
    dropped: u64,
}

/// Hours, minutes, seconds and frames of a label, possible or not.
pub type Parts = [u64; 4];

impl Clock {
    /// Counting at `rate`; drop-frame where that exists at the rate.
    pub fn new(rate: FrameRate, drop: bool) -> Self {
        let labels = u64::from(rate.nominal().max(1));
        let dropped = if drop && Self::may_drop(rate) {
            labels / 15
        } else {
            0
        };
        Clock {
            rate,
            labels,
            dropped,
        }
    }

    /// Whether drop-frame counting exists at `rate`: multiples of 30000/1001.
    pub fn may_drop(rate: FrameRate) -> bool {
        rate.den() == 1001 && rate.num().is_multiple_of(30_000)
    }

    /// Whether labels are left out.
    pub fn drops(self) -> bool {
        self.dropped > 0
    }

    /// Labels a second.
    pub fn labels(self) -> u64 {
        self.labels
    }

    /// Frames until labels repeat.
    pub fn day(self) -> u64 {
        self.labels * 86_400 - self.dropped * 9 * 144
    }

    /// The frame of a label, from 0 at midnight; else why there is no such label.
    pub fn frame(self, parts: Parts) -> Result<u64, String> {
        let [hours, minutes, seconds, frames] = parts;
        if hours > 23 {
            return Err("hours run from 00 to 23".to_owned());
        }
        if minutes > 59 {
            return Err("minutes run from 00 to 59".to_owned());
        }
        if seconds > 59 {
            return Err("seconds run from 00 to 59".to_owned());
        }
        if frames >= self.labels {
            let last = self.labels - 1;
            return Err(format!(
                "frames run from 00 to {last:02} at {} fps",
                self.rate
            ));
        }
        let minute = hours * 60 + minutes;
        if seconds == 0 && frames < self.dropped && !minutes.is_multiple_of(10) {
            let last = self.dropped - 1;
            return Err(format!(
                "drop-frame counting leaves out frames 00 to {last:02} there"
            ));
        }
        let labels = (minute * 60 + seconds) * self.labels + frames;
        Ok(labels - self.dropped * (minute - minute / 10))
    }

    /// Appends the label of a frame; `;` before the frames where labels are left out.
    pub fn write_label(self, frame: u64, text: &mut String) {
        let frame = frame % self.day();
        let ten_minutes = 600 * self.labels - 9 * self.dropped;
        let minute = 60 * self.labels - self.dropped;
        let (tens, rest) = (frame / ten_minutes, frame % ten_minutes);
        // The first minute of ten has all its labels, the other nine miss some each.
        let left_out = self.dropped * (9 * tens + rest.saturating_sub(self.dropped) / minute);
        let label = frame + left_out;
        let (second, frames) = (label / self.labels, label % self.labels);
        let (hours, minutes, seconds) = (second / 3600, second / 60 % 60, second % 60);
        let mark = if self.drops() { ';' } else { ':' };
        // Writing into a string cannot fail.
        let _ = write!(
            text,
            "{hours:02}:{minutes:02}:{seconds:02}{mark}{frames:02}"
        );
    }

    /// The label of a frame.
    pub fn label(self, frame: u64) -> String {
        let mut text = String::new();
        self.write_label(frame, &mut text);
        text
    }

    /// The frame whose label is written exactly so.
    pub fn frame_of(self, label: &str) -> Option<u64> {
        let frame = self.frame(parts(label)?.0).ok()?;
        (self.label(frame) == label).then_some(frame)
    }

    /// Frames from `from` to `to`, both frames of a day, by the shorter way around the clock.
    pub fn distance(self, from: u64, to: u64) -> i64 {
        let day = self.day();
        let forward = (to % day + day - from % day) % day;
        if forward > day / 2 {
            forward as i64 - day as i64
        } else {
            forward as i64
        }
    }

    /// `frame` moved by `by` frames around the clock.
    pub fn moved(self, frame: u64, by: i64) -> u64 {
        let day = self.day() as i64;
        (frame as i64 % day + by % day).rem_euclid(day) as u64
    }
}

/// Numbers of a label `hh:mm:ss`, one of `:;.,`, and two or more digits; the mark and the digits.
pub fn parts(text: &str) -> Option<(Parts, char, &str)> {
    let bytes = text.as_bytes();
    if bytes.len() < 11 || bytes[2] != b':' || bytes[5] != b':' {
        return None;
    }
    let mark = match bytes[8] {
        mark @ (b':' | b';' | b'.' | b',') => char::from(mark),
        _ => return None,
    };
    let digits = text.get(9..)?;
    let number = |text: &str| {
        let digits = text.bytes().all(|b| b.is_ascii_digit()) && text.len() <= 18;
        digits.then(|| text.parse().ok()).flatten()
    };
    let part = |from| text.get(from..from + 2).and_then(number);
    Some((
        [part(0)?, part(3)?, part(6)?, number(digits)?],
        mark,
        digits,
    ))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::quantity::{CountingMode, Timecode};

    fn rate(num: u32, den: u32) -> FrameRate {
        FrameRate::new(num, den).unwrap()
    }

    #[test]
    fn counts_as_the_quantity_crate_does_where_that_knows_the_rate() {
        for (num, den, drop) in [
            (30_000, 1001, true),
            (60_000, 1001, true),
            (30_000, 1001, false),
            (24_000, 1001, false),
            (25, 1, false),
            (60, 1, false),
        ] {
            let rate = rate(num, den);
            let clock = Clock::new(rate, drop);
            let mode = if drop {
                CountingMode::DropFrame
            } else {
                CountingMode::NonDrop
            };
            for frame in (0..clock.day()).step_by(997) {
                let label = clock.label(frame);
                let known = Timecode::from_frame(frame, rate, mode).unwrap();
                assert_eq!(label, known.to_string());
                assert_eq!(clock.frame_of(&label), Some(frame));
            }
        }
    }

    #[test]
    fn high_rates_have_frames_of_three_digits() {
        let clock = Clock::new(rate(120, 1), true);
        assert!(!clock.drops());
        assert_eq!(clock.label(119), "00:00:00:119");
        assert_eq!(clock.frame_of("00:00:00:119"), Some(119));
        assert_eq!(clock.frame_of("00:00:01:05"), Some(125));
        assert_eq!(clock.frame_of("00:00:01:005"), None);
        let slowed = Clock::new(rate(120_000, 1001), true);
        assert_eq!(slowed.label(7200), "00:01:00;08");
        assert_eq!(slowed.frame([0, 1, 0, 8]), Ok(7200));
        assert!(slowed.frame([0, 1, 0, 7]).unwrap_err().contains("00 to 07"));
    }

    #[test]
    fn around_midnight() {
        let clock = Clock::new(rate(25, 1), false);
        let day = clock.day();
        assert_eq!(clock.distance(day - 10, 5), 15);
        assert_eq!(clock.distance(5, day - 10), -15);
        assert_eq!(clock.moved(5, -15), day - 10);
        assert_eq!(clock.moved(day - 10, 15), 5);
        assert_eq!(clock.label(day), "00:00:00:00");
    }

    #[test]
    fn other_texts_are_no_labels() {
        for text in [
            "",
            "1:00:00:00",
            "01:00:00:0",
            "01-00:00:00",
            "01:00:00:0x",
            "é1:00:00:00",
        ] {
            assert_eq!(parts(text), None, "{text}");
        }
        let long = format!("01:00:00:{}", "1".repeat(40));
        assert_eq!(parts(&long), None);
        assert_eq!(parts("01:02:03.044"), Some(([1, 2, 3, 44], '.', "044")));
    }
}
