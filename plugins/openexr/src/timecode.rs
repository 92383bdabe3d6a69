//! The `timecode` attribute: BCD digits and flags of a time code word, and user bits.
//!
//! In files the word is always in the 60-field packing, whatever the frame rate (the reference
//! library packs and unpacks with that one): from bit 0, frames, drop-frame (6), colour frame
//! (7), seconds, field/phase (15), minutes, bgf0 (23), hours, bgf1 (30), bgf2 (31).

use ringmark_sdk::quantity::{CountingMode, FrameRate, Timecode};

use crate::attribute::word;

const DROP_FRAME: u32 = 1 << 6;
/// Colour frame, field/phase and the three binary group flags.
const OTHER_FLAGS: u32 = 1 << 7 | 1 << 15 | 1 << 23 | 1 << 30 | 1 << 31;

/// A decoded attribute.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    /// The label; `None` if a digit is not decimal.
    pub label: Option<Timecode>,
    /// Whether labels are counted drop-frame.
    pub mode: CountingMode,
    /// The word as stored.
    pub word: u32,
    /// The flags that are not in the label, in their places in the word.
    pub flags: u32,
    /// Eight user groups of four bits, group 1 lowest.
    pub user: u32,
}

impl Stamp {
    /// Decodes the eight bytes of a value.
    pub fn decode(value: &[u8]) -> Stamp {
        let time = word(value, 0);
        let mode = match time & DROP_FRAME {
            0 => CountingMode::NonDrop,
            _ => CountingMode::DropFrame,
        };
        let label = || {
            Some(Timecode {
                hours: decimal(time >> 24, 3)?,
                minutes: decimal(time >> 16, 7)?,
                seconds: decimal(time >> 8, 7)?,
                frames: decimal(time, 3)?,
                mode,
            })
        };
        Stamp {
            label: label(),
            mode,
            word: time,
            flags: time & OTHER_FLAGS,
            user: word(value, 4),
        }
    }

    /// The label as text: `01:00:59;00`, with `;` for drop-frame.
    pub fn write(&self, text: &mut String) {
        let Some(label) = self.label else {
            return;
        };
        let mark = match self.mode {
            CountingMode::NonDrop => ':',
            CountingMode::DropFrame => ';',
        };
        for (number, end) in [
            (label.hours, Some(':')),
            (label.minutes, Some(':')),
            (label.seconds, Some(mark)),
            (label.frames, None),
        ] {
            for digit in [number / 10, number % 10] {
                text.extend(char::from_digit(digit, 10));
            }
            text.extend(end);
        }
    }

    /// Why the label exists at no rate that the attribute can carry. Whether it exists at the
    /// rate of the take is for the checks.
    pub fn impossible(&self) -> Option<String> {
        let label = self.label?;
        // Seconds 01 to 59 miss no label: this spares the closer look for nearly all of them.
        if label.hours < 24
            && label.minutes < 60
            && (1..60).contains(&label.seconds)
            && label.frames < 30
        {
            return None;
        }
        let rate = match self.mode {
            // Rates above 30 share a label between two frames.
            CountingMode::DropFrame => FrameRate::new(30_000, 1001),
            CountingMode::NonDrop => FrameRate::new(48, 1),
        };
        let error = label.check(rate.ok()?).err()?;
        Some(error.to_string())
    }
}

/// A two-digit BCD number whose tens have the bits of `tens_mask`.
fn decimal(byte: u32, tens_mask: u32) -> Option<u32> {
    let (tens, units) = (byte >> 4 & tens_mask, byte & 15);
    (units < 10).then_some(10 * tens + units)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn stamp(time: u32, user: u32) -> Stamp {
        Stamp::decode(&[time.to_le_bytes(), user.to_le_bytes()].concat())
    }

    /// The three words were written by PyPI OpenEXR 3.5.3 for these labels.
    #[test]
    fn words_of_the_reference_library() {
        for (word, label) in [
            (0x0100_5940, "01:00:59;00"),
            (0x1000_0123, "10:00:01:23"),
            (0x0059_5923, "00:59:59:23"),
        ] {
            let stamp = stamp(word, 0);
            let mut text = String::new();
            stamp.write(&mut text);
            assert_eq!(text, label);
            assert_eq!(stamp.label.unwrap().to_string(), label);
            assert_eq!((stamp.flags, stamp.impossible()), (0, None));
        }
    }

    #[test]
    fn flags_do_not_reach_the_digits() {
        let stamp = stamp(0x1000_0123 | OTHER_FLAGS, 0x8765_4321);
        assert_eq!(stamp.label.unwrap().to_string(), "10:00:01:23");
        assert_eq!((stamp.flags, stamp.user), (OTHER_FLAGS, 0x8765_4321));
    }

    #[test]
    fn digits_that_are_not_decimal_give_no_label() {
        assert_eq!(stamp(0x0100_593f, 0).label, None);
        assert_eq!(stamp(0x0a00_5900, 0).label, None);
    }

    #[test]
    fn labels_that_exist_at_no_rate() {
        let reason = |word| stamp(word, 0).impossible().unwrap_or_default();
        assert!(reason(0x2500_5900).contains("hours"));
        assert!(reason(0x0101_0040).contains("drop-frame"));
        assert!(reason(0x0100_7500).contains("seconds"));
        assert_eq!(reason(0x0110_0040), "");
        assert_eq!(reason(0x0100_0039), "");
    }
}
