//! The label of a frame: its text and whether it exists.

use std::fmt;
use std::str::FromStr;

use super::TimecodeError;

/// How labels are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum CountingMode {
    /// Every label is used.
    NonDrop,
    /// Labels are left out to keep up with the clock, at 29.97 and 59.94 only. No frame is dropped.
    DropFrame,
}

/// A timecode label as it was written; [`Timecode::check`] says whether it exists at a frame rate.
///
/// Labels of one mode sort by time of day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Timecode {
    /// 0 to 23 in a label that exists.
    pub hours: u32,
    /// 0 to 59 in a label that exists.
    pub minutes: u32,
    /// 0 to 59 in a label that exists.
    pub seconds: u32,
    /// Below the labels per second in a label that exists.
    pub frames: u32,
    /// How the label was counted.
    pub mode: CountingMode,
}

impl Timecode {
    /// Reads `hh:mm:ss:ff` (non-drop), `hh:mm:ss;ff` or `hh:mm:ss.ff` (drop-frame); frames of two or three digits.
    /// Space around is ignored. Only the form is looked at: [`Timecode::check`] does the rest.
    pub fn parse(text: &str) -> Result<Self, TimecodeError> {
        read(text.as_bytes())
            .or_else(|| read(text.trim().as_bytes()))
            .ok_or_else(|| form_error(text))
    }
}

/// `hh:mm:ss`, eight bytes at once: labels are read by the million.
///
/// Taking the shape away by exclusive or leaves the digits as 0 to 9 and the colons as 0. Adding to each byte what
/// lifts the first wrong value to 128 shows in the top bits whether all are right.
#[inline]
fn clock(bytes: [u8; 8]) -> Option<(u32, u32, u32)> {
    const SHAPE: u64 = u64::from_le_bytes(*b"00:00:00");
    const LIFT: u64 = u64::from_le_bytes([118, 118, 127, 118, 118, 127, 118, 118]);
    const TOP_BITS: u64 = u64::from_le_bytes([128; 8]);
    let digits = u64::from_le_bytes(bytes) ^ SHAPE;
    if (digits.wrapping_add(LIFT) | digits) & TOP_BITS != 0 {
        return None;
    }
    let pairs = (digits * 10 + (digits >> 8)).to_le_bytes();
    Some((
        u32::from(pairs[0]),
        u32::from(pairs[3]),
        u32::from(pairs[6]),
    ))
}

#[inline]
fn read(bytes: &[u8]) -> Option<Timecode> {
    let (head, tail) = bytes.split_first_chunk::<8>()?;
    let (hours, minutes, seconds) = clock(*head)?;
    let (mark, digits) = match tail {
        [mark, digits @ ..] if matches!(digits.len(), 2 | 3) => (mark, digits),
        _ => return None,
    };
    let mode = match mark {
        b':' => CountingMode::NonDrop,
        b';' | b'.' => CountingMode::DropFrame,
        _ => return None,
    };
    let mut frames = 0;
    for digit in digits {
        let digit = digit.wrapping_sub(b'0');
        if digit > 9 {
            return None;
        }
        frames = frames * 10 + u32::from(digit);
    }
    Some(Timecode {
        hours,
        minutes,
        seconds,
        frames,
        mode,
    })
}

#[cold]
fn form_error(text: &str) -> TimecodeError {
    let kept: String = text.chars().take(40).collect();
    let right = |(index, byte): (usize, u8)| match index {
        2 | 5 => byte == b':',
        8 => matches!(byte, b':' | b';' | b'.'),
        0..=11 => byte.is_ascii_digit(),
        _ => false,
    };
    let start = kept.bytes().enumerate().take_while(|&at| right(at)).count();
    let length = kept
        .get(start..)
        .and_then(|rest| rest.chars().next())
        .map_or(0, char::len_utf8);
    TimecodeError::Form {
        text: kept,
        span: start..start + length,
    }
}

impl fmt::Display for Timecode {
    /// `hh:mm:ss:ff`, or `hh:mm:ss;ff` for drop-frame; three digits of frames only from 100 on.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mark = match self.mode {
            CountingMode::NonDrop => ':',
            CountingMode::DropFrame => ';',
        };
        let Self {
            hours,
            minutes,
            seconds,
            frames,
            ..
        } = self;
        write!(f, "{hours:02}:{minutes:02}:{seconds:02}{mark}{frames:02}")
    }
}

impl FromStr for Timecode {
    type Err = TimecodeError;

    fn from_str(text: &str) -> Result<Self, TimecodeError> {
        Self::parse(text)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn forms() {
        for (text, hours, frames, mode) in [
            ("01:02:03:04", 1, 4, CountingMode::NonDrop),
            ("01:02:03;04", 1, 4, CountingMode::DropFrame),
            ("01:02:03.04", 1, 4, CountingMode::DropFrame),
            ("23:02:03:119", 23, 119, CountingMode::NonDrop),
            ("00:02:03:007", 0, 7, CountingMode::NonDrop),
            (" 01:02:03:04\r", 1, 4, CountingMode::NonDrop),
            ("99:02:03:99", 99, 99, CountingMode::NonDrop),
        ] {
            let expected = Timecode {
                hours,
                minutes: 2,
                seconds: 3,
                frames,
                mode,
            };
            assert_eq!(Timecode::parse(text).unwrap(), expected, "{text}");
        }
    }

    /// Every byte at every place: read exactly when it has the form.
    #[test]
    fn any_single_wrong_byte_is_refused() {
        for place in 0..11 {
            for byte in 0..=127u8 {
                let mut bytes = *b"01:02:03:04";
                bytes[place] = byte;
                let right = match place {
                    2 | 5 => byte == b':',
                    8 => matches!(byte, b':' | b';' | b'.'),
                    _ => byte.is_ascii_digit(),
                };
                let text = std::str::from_utf8(&bytes).unwrap();
                assert_eq!(Timecode::parse(text).is_ok(), right, "{text:?}");
            }
        }
    }

    #[test]
    fn wrong_forms_name_the_place() {
        for (text, start) in [
            ("", 0),
            ("1:02:03:04", 1),
            ("01:02:03", 8),
            ("01:02:03:4", 10),
            ("01:02:03:", 9),
            ("01;02:03:04", 2),
            ("01:02:03,04", 8),
            ("0a:02:03:04", 1),
            ("01:02:03:0x", 10),
            ("01:02:03:04x", 11),
            ("01:02:03:0455", 12),
            ("01:02:-3:04", 6),
            ("01:02:03:04 DF", 11),
            ("0١:02:03:04", 1),
        ] {
            let Err(TimecodeError::Form { span, .. }) = Timecode::parse(text) else {
                panic!("{text} is read");
            };
            assert_eq!(span.start, start, "{text}");
        }
        assert!(
            Timecode::parse("now\u{7}")
                .unwrap_err()
                .to_string()
                .contains("hh:mm:ss:ff")
        );
    }

    proptest! {
        #[test]
        fn text_reads_back(hours in 0..100u32, minutes in 0..100u32, seconds in 0..100u32, frames in 0..1000u32, drop in any::<bool>()) {
            let mode = if drop { CountingMode::DropFrame } else { CountingMode::NonDrop };
            let label = Timecode { hours, minutes, seconds, frames, mode };
            prop_assert_eq!(Timecode::parse(&label.to_string()).unwrap(), label);
        }

        #[test]
        fn never_panics(text in "\\PC*") {
            let _ = Timecode::parse(&text).map_err(|error| error.to_string());
        }

        #[test]
        fn never_panics_on_near_labels(text in "[0-9:;.é ]{0,14}") {
            if let Ok(label) = Timecode::parse(&text) {
                prop_assert!(label.frames < 1000);
            }
        }
    }
}
