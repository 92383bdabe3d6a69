//! The `timecode` attribute: BCD digits and flags of a time code word, and user bits.
//!
//! In files the word is always in the 60-field packing, whatever the frame rate (the reference
//! library packs and unpacks with that one): from bit 0, frames, drop-frame (6), colour frame
//! (7), seconds, field/phase (15), minutes, bgf0 (23), hours, bgf1 (30), bgf2 (31).

use ringmark_sdk::quantity::{CountingMode, FrameRate, Timecode};

use crate::attribute::word;

const DROP_FRAME: u32 = 1 << 6;
/// Tells the two frames apart that share a label at rates above 30 frames a second.
const FIELD: u32 = 1 << 15;
/// Colour frame, field/phase and the three binary group flags.
const OTHER_FLAGS: u32 = 1 << 7 | 1 << 15 | 1 << 23 | 1 << 30 | 1 << 31;

/// A decoded attribute.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    /// The label as the digits have it; `None` if one is not decimal.
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
    /// All bits zero.
    pub const NONE: Stamp = Stamp {
        label: Some(Timecode {
            hours: 0,
            minutes: 0,
            seconds: 0,
            frames: 0,
            mode: CountingMode::NonDrop,
        }),
        mode: CountingMode::NonDrop,
        word: 0,
        flags: 0,
        user: 0,
    };

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

    /// The label of the frame at `rate`, and the flags that are not part of it. Above 30 frames a
    /// second two frames share the digits, and the field flag tells which of them it is (SMPTE ST 12-1, from
    /// memory). Above 60 it cannot tell, and the digits are taken as they are.
    pub fn at(&self, rate: Option<FrameRate>) -> (Option<Timecode>, u32) {
        match (self.label, rate) {
            (Some(label), Some(rate)) if in_pairs(rate) && 2 * label.frames < rate.nominal() => {
                let second = u32::from(self.word & FIELD != 0);
                let frames = 2 * label.frames + second;
                (Some(Timecode { frames, ..label }), self.flags & !FIELD)
            }
            (label, _) => (label, self.flags),
        }
    }

    /// The value that says `label` at `rate` and keeps flags and user bits of `self`; `None` if
    /// the attribute cannot say it.
    pub fn with_label(self, label: Timecode, rate: Option<FrameRate>) -> Option<Stamp> {
        let mut digits = label;
        let mut flags = self.flags;
        if let Some(rate) = rate
            && rate.nominal() > 30
        {
            if !in_pairs(rate) || label.frames >= rate.nominal() {
                return None;
            }
            digits.frames = label.frames / 2;
            flags = (flags & !FIELD) | (FIELD * (label.frames & 1));
        }
        let Timecode {
            hours,
            minutes,
            seconds,
            frames,
            mode,
        } = digits;
        if hours > 39 || minutes > 79 || seconds > 79 || frames > 39 {
            return None;
        }
        let bcd = |number: u32| ((number / 10) << 4) | (number % 10);
        let drop = match mode {
            CountingMode::NonDrop => 0,
            CountingMode::DropFrame => DROP_FRAME,
        };
        Some(Stamp {
            label: Some(digits),
            mode,
            word: (bcd(hours) << 24)
                | (bcd(minutes) << 16)
                | (bcd(seconds) << 8)
                | bcd(frames)
                | drop
                | flags,
            flags,
            user: self.user,
        })
    }

    /// The same with these flags and user bits. `None` if a bit is no flag.
    pub fn with_bits(
        self,
        flags: Option<u32>,
        user: Option<u32>,
        rate: Option<FrameRate>,
    ) -> Option<Stamp> {
        let kept = if rate.is_some_and(in_pairs) { FIELD } else { 0 };
        let flags = flags.map_or(self.flags, |flags| (flags & !kept) | (self.flags & kept));
        if flags & !OTHER_FLAGS != 0 {
            return None;
        }
        Some(Stamp {
            word: (self.word & !OTHER_FLAGS) | flags,
            flags,
            user: user.unwrap_or(self.user),
            ..self
        })
    }

    /// The eight bytes of a value.
    pub fn encode(&self) -> [u8; 8] {
        let word = u64::from(self.word) | (u64::from(self.user) << 32);
        word.to_le_bytes()
    }

    /// A label as text: `01:00:59;00`, with `;` for drop-frame.
    pub fn write(label: Timecode, text: &mut String) {
        let mark = match label.mode {
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

/// The name of a counting mode among facts.
pub fn mode_name(mode: CountingMode) -> &'static str {
    match mode {
        CountingMode::DropFrame => "drop-frame",
        CountingMode::NonDrop => "non-drop",
    }
}

/// Whether two frames share a label.
fn in_pairs(rate: FrameRate) -> bool {
    (31..=60).contains(&rate.nominal())
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
            Stamp::write(stamp.label.unwrap(), &mut text);
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

    fn rate(num: u32, den: u32) -> Option<FrameRate> {
        Some(FrameRate::new(num, den).unwrap())
    }

    /// From memory of SMPTE ST 12-1: two frames a label, the field flag tells them apart.
    #[test]
    fn above_30_frames_share_a_label() {
        let label = |stamp: Stamp, rate| stamp.at(rate).0.unwrap().to_string();
        let first = stamp(0x0100_0029 | 1 << 6, 0);
        let second = stamp(0x0100_0029 | 1 << 6 | FIELD, 0);
        let fast = rate(60_000, 1001);
        assert_eq!(label(first, fast), "01:00:00;58");
        assert_eq!(label(second, fast), "01:00:00;59");
        assert_eq!(second.at(fast).1, 0);
        assert_eq!(label(second, rate(30_000, 1001)), "01:00:00;29");
        assert_eq!(second.at(rate(30_000, 1001)).1, FIELD);
        assert_eq!(label(second, rate(120, 1)), "01:00:00;29");
        // Digits beyond half the rate are no pair.
        assert_eq!(label(second, rate(48, 1)), "01:00:00;29");
    }

    #[test]
    fn labels_lead_to_words_and_back() {
        let none = stamp(0, 0x8765_4321);
        for (text, rate, word) in [
            ("01:00:59;00", None, Some(0x0100_5940)),
            ("10:00:01:23", rate(24, 1), Some(0x1000_0123)),
            ("01:00:00;59", rate(60_000, 1001), Some(0x0100_8069)),
            ("01:00:00:01", rate(50, 1), Some(0x0100_8000)),
            ("01:00:00:39", None, Some(0x0100_0039)),
            ("01:00:00:40", None, None),
            ("01:00:00:60", rate(60, 1), None),
            ("01:00:00:00", rate(120, 1), None),
            ("40:00:00:00", None, None),
            ("25:71:72:30", None, Some(0x2571_7230)),
        ] {
            let label = Timecode::parse(text).unwrap();
            let written = none.with_label(label, rate);
            assert_eq!(written.map(|stamp| stamp.word), word, "{text}");
            if let Some(written) = written {
                let back = Stamp::decode(&written.encode());
                assert_eq!(back, written);
                assert_eq!((back.at(rate).0, back.user), (Some(label), 0x8765_4321));
            }
        }
    }

    #[test]
    fn bits_beside_the_label_are_kept_or_set() {
        let old = stamp(0x0100_0000 | 1 << 7, 5);
        let label = Timecode::parse("02:00:00:01").unwrap();
        let new = old.with_label(label, None).unwrap();
        assert_eq!((new.flags, new.user), (1 << 7, 5));
        let set = new.with_bits(Some(1 << 31), Some(9), None).unwrap();
        assert_eq!((set.word, set.user), (0x8200_0001, 9));
        assert_eq!(set.label, new.label);
        assert_eq!(new.with_bits(Some(1), None, None), None);
        // The field flag belongs to the label where frames come in pairs.
        let pair = old.with_label(label, rate(50, 1)).unwrap();
        let set = pair.with_bits(Some(1 << 7), None, rate(50, 1)).unwrap();
        assert_eq!(set.word, pair.word);
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
