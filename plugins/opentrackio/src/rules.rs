//! What OpenTrackIO 1.0 allows at each place of a sample, so that nothing else is written there.

mod standard;

pub use standard::SAMPLE;

/// What a value may be.
#[derive(Debug, PartialEq)]
pub enum Rule {
    /// Members by name. If some are required the object is one compound value: it is written
    /// whole or not at all.
    Object {
        /// All members that are allowed.
        keys: &'static [(&'static str, Rule)],
        /// Those that may not miss.
        required: &'static [&'static str],
    },
    /// An array, written whole or not at all. The first element may have a rule of its own.
    List {
        /// Rule of the first element.
        first: &'static Rule,
        /// Rule of the others.
        rest: &'static Rule,
    },
    /// A number in a range.
    Number {
        /// Least value.
        low: f64,
        /// Greatest value.
        high: f64,
        /// Whether the least value itself is forbidden.
        above: bool,
    },
    /// A whole number in a range.
    Whole {
        /// Least value.
        low: f64,
        /// Greatest value.
        high: f64,
    },
    /// A text of 1 to 1023 characters.
    Text,
    /// One of these texts.
    Choice(&'static [&'static str]),
    /// `urn:uuid:` and lower-case hexadecimal digits.
    Uuid,
    /// Six pairs of lower-case hexadecimal digits with `:` or `-` between.
    ClockIdentity,
    /// `true` or `false`.
    Bool,
    /// Anything.
    Free,
}

use Rule::{Bool, Choice, ClockIdentity, Free, List, Number, Object, Text, Uuid, Whole};

impl Rule {
    /// Rule of a member; `None` if it is not allowed.
    pub fn member(&self, key: &str) -> Option<&Rule> {
        match self {
            Object { keys, .. } => keys.iter().find(|(k, _)| *k == key).map(|(_, rule)| rule),
            Free => Some(self),
            _ => None,
        }
    }

    /// Rule of an array element; `None` if no array is allowed.
    pub fn element(&self, index: usize) -> Option<&Rule> {
        match self {
            List { first, .. } if index == 0 => Some(first),
            List { rest, .. } => Some(rest),
            Free => Some(self),
            _ => None,
        }
    }

    /// Position of a member in the order in which it is written.
    pub fn order(&self, key: &str) -> usize {
        match self {
            Object { keys, .. } => keys
                .iter()
                .position(|(k, _)| *k == key)
                .unwrap_or(keys.len()),
            _ => 0,
        }
    }

    /// Whether a single value may stand here.
    pub fn is_leaf(&self) -> bool {
        !matches!(self, Object { .. } | List { .. })
    }

    /// Whether this finite or infinite number may stand here.
    pub fn allows_number(&self, value: f64) -> bool {
        match *self {
            Number { low, high, above } => {
                value.is_finite() && value <= high && if above { value > low } else { value >= low }
            }
            Whole { low, high } => {
                // -0 would come back as 0.
                value >= low
                    && value <= high
                    && value.fract() == 0.0
                    && !(value == 0.0 && value.is_sign_negative())
            }
            Free => value.is_finite(),
            _ => false,
        }
    }

    /// Whether this text may stand here, as a JSON string.
    pub fn allows_text(&self, text: &str) -> bool {
        match self {
            Text => !text.is_empty() && (text.len() <= 1023 || text.chars().count() <= 1023),
            Choice(allowed) => allowed.contains(&text),
            Uuid => is_uuid(text),
            ClockIdentity => is_clock_identity(text),
            Free => true,
            _ => false,
        }
    }

    /// Whether this JSON text may stand here as it is.
    pub fn allows_json(&self, json: &str) -> bool {
        match self {
            Bool => matches!(json, "true" | "false"),
            Free => {
                matches!(json, "true" | "false" | "null" | "{}" | "[]") || is_long_integer(json)
            }
            _ => false,
        }
    }
}

/// Integers in the one spelling in which reading gives them, beyond what a double counts exactly.
fn is_long_integer(json: &str) -> bool {
    let long = match json.strip_prefix('-') {
        Some(_) => json.parse::<i64>().ok().map(i64::unsigned_abs),
        None => json.parse::<u64>().ok(),
    };
    long.is_some_and(|n| n > EXACT_INTEGERS)
        && !json.starts_with("-0")
        && !json.starts_with(['0', '+'])
}

/// Up to here every integer is a double.
pub const EXACT_INTEGERS: u64 = 1 << 53;

fn is_lower_hex(byte: u8) -> bool {
    matches!(byte, b'0'..=b'9' | b'a'..=b'f')
}

fn is_uuid(text: &str) -> bool {
    let Some(digits) = text.strip_prefix("urn:uuid:") else {
        return false;
    };
    digits.len() == 36
        && digits.bytes().enumerate().all(|(at, byte)| match at {
            8 | 13 | 18 | 23 => byte == b'-',
            _ => is_lower_hex(byte),
        })
}

fn is_clock_identity(text: &str) -> bool {
    let separator = text.as_bytes().get(2).copied();
    text.len() == 17
        && matches!(separator, Some(b':' | b'-'))
        && text.bytes().enumerate().all(|(at, byte)| match at % 3 {
            2 => Some(byte) == separator,
            _ => is_lower_hex(byte),
        })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn at(path: &str) -> &'static Rule {
        let mut rule = &SAMPLE;
        for step in crate::path::parse(path).unwrap() {
            rule = match step {
                crate::path::Step::Key(key) => rule.member(&key).unwrap(),
                crate::path::Step::Index(index) => rule.element(index).unwrap(),
            };
        }
        rule
    }

    #[test]
    fn every_field_has_a_rule() {
        for field in crate::fields::CHANNELS {
            assert!(at(field.path).allows_number(1.0), "{}", field.path);
        }
        for field in crate::fields::FACTS {
            at(field.path);
        }
    }

    #[test]
    fn values_the_standard_forbids() {
        for (path, bad, good) in [
            ("lens.focusDistance", 0.0, 0.3),
            ("lens.encoders.focus", 1.5, 1.0),
            ("lens.rawEncoders.iris", 0.5, 65535.0),
            ("lens.fStop", f64::INFINITY, 2.8),
            ("static.camera.shutterAngle", 0.0, 360.0),
            ("static.camera.isoSpeed", 0.0, 800.0),
            ("timing.sampleRate.denom", 0.0, 1001.0),
            ("timing.timecode.frames", 120.0, 119.0),
            ("lens.distortion.1.overscan", 0.9, 1.0),
        ] {
            assert!(!at(path).allows_number(bad), "{path} {bad}");
            assert!(at(path).allows_number(good), "{path} {good}");
        }
        let id = "urn:uuid:1d0d3694-65b1-597c-8acc-c80535f0d0a2";
        assert!(at("sampleId").allows_text(id));
        assert!(!at("sampleId").allows_text(&id.to_uppercase()));
        assert!(at("timing.synchronization.ptp.leaderIdentity").allows_text("00:11:22:aa:bb:cc"));
        assert!(!at("timing.synchronization.ptp.leaderIdentity").allows_text("00:11-22:aa:bb:cc"));
        assert!(!at("tracker.slate").allows_text(""));
        assert!(!at("tracker.slate").allows_text(&"ä".repeat(1024)));
        assert!(at("tracker.slate").allows_text(&"ä".repeat(1023)));
    }

    #[test]
    fn only_integers_a_double_cannot_count_stay_text() {
        let free = at("custom.n");
        for json in [
            "9007199254740993",
            "-9007199254740993",
            "18446744073709551615",
            "null",
            "{}",
        ] {
            assert!(free.allows_json(json), "{json}");
        }
        for json in [
            "9007199254740992",
            "1",
            "09007199254740993",
            "1.5",
            " null",
            "+9007199254740993",
            "[1]",
        ] {
            assert!(!free.allows_json(json), "{json}");
        }
    }
}
