//! Channels and facts of the model that the standard has no attribute for, or not for all their values.

use ringmark_sdk::quantity::Unit;
use ringmark_sdk::{Datum, Fact};

/// A channel of numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OtherNumber {
    /// Its name.
    pub channel: &'static str,
    /// Unit that is meant where none is said.
    pub unit: Unit,
    /// Whether values are distances with a reference.
    pub distance: bool,
}

const fn number(channel: &'static str, unit: Unit) -> OtherNumber {
    OtherNumber {
        channel,
        unit,
        distance: false,
    }
}

const fn distance(channel: &'static str) -> OtherNumber {
    OtherNumber {
        channel,
        unit: Unit::Metre,
        distance: true,
    }
}

/// Channels of numbers without an attribute of the standard.
pub const OTHER_NUMBERS: &[OtherNumber] = &[
    number("focus-ring", Unit::Ratio),
    number("iris-ring", Unit::Ratio),
    number("zoom-ring", Unit::Ratio),
    number("focus-ring-raw", Unit::Count),
    number("iris-ring-raw", Unit::Count),
    number("zoom-ring-raw", Unit::Count),
    distance("rangefinder-distance"),
    number("equivalent-focal-length", Unit::Millimetre),
    number("distortion-k1", Unit::One),
    number("distortion-k2", Unit::One),
    number("distortion-k3", Unit::One),
    number("distortion-p1", Unit::One),
    number("distortion-p2", Unit::One),
    number("capture-rate", Unit::Hertz),
    distance("near-limit"),
    distance("far-limit"),
    distance("hyperfocal"),
    number("field-of-view", Unit::Degree),
];

/// Channels of texts that a private attribute can hold: without an attribute of the standard, or
/// with one that does not take every text.
pub const OTHER_TEXTS: &[&str] = &[
    "lens",
    "timecode",
    "lens-maker",
    "lens-model",
    "lens-serial",
];

/// The row of a channel of numbers.
pub fn other_number(channel: &str) -> Option<&'static OtherNumber> {
    OTHER_NUMBERS.iter().find(|row| row.channel == channel)
}

/// What a fact belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// The take.
    Take,
    /// Its lens.
    Lens,
}

const TAKE_TEXTS: &[&str] = &[
    "clip",
    "reel",
    "camera-maker",
    "camera-model",
    "camera-serial",
    "camera-firmware",
    "camera-label",
    "frame-rate",
    "capture-rate",
    "counting",
    "start-timecode",
    "distortion-model",
];

const TAKE_NUMBERS: &[&str] = &[
    "sensor-width",
    "sensor-height",
    "resolution-width",
    "resolution-height",
    "focus-encoder-low",
    "focus-encoder-high",
    "iris-encoder-low",
    "iris-encoder-high",
    "zoom-encoder-low",
    "zoom-encoder-high",
];

const LENS_TEXTS: &[&str] = &[
    "lens-maker",
    "lens-model",
    "lens-serial",
    "lens-firmware",
    "lens-kind",
    "close-focus-reference",
];

const LENS_NUMBERS: &[&str] = &[
    "focal-length-min",
    "focal-length-max",
    "close-focus",
    "widest-t-stop",
    "smallest-t-stop",
    "widest-f-number",
    "smallest-f-number",
    "squeeze",
    "image-circle",
];

/// A fact from a private attribute as one that `owner` can have: a name that the model does not
/// know becomes an extra.
pub fn known(owner: Owner, mut fact: Fact) -> Fact {
    let (texts, numbers) = match owner {
        Owner::Take => (TAKE_TEXTS, TAKE_NUMBERS),
        Owner::Lens => (LENS_TEXTS, LENS_NUMBERS),
    };
    let names = match fact.value {
        Datum::Text(_) => texts,
        Datum::Number(_) => numbers,
    };
    if !names.contains(&fact.name.as_str()) && !fact.name.starts_with(crate::private::EXTRA) {
        fact.name.insert_str(0, crate::private::EXTRA);
    }
    fact
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn facts_that_the_model_does_not_know_become_extras() {
        let fact = |name: &str, value| {
            let fact = Fact {
                name: name.to_owned(),
                value,
                unit: String::new(),
                at: None,
            };
            known(Owner::Take, fact).name
        };
        assert_eq!(fact("clip", Datum::Text("a".into())), "clip");
        assert_eq!(fact("clip", Datum::Number(1.0)), "extra/clip");
        assert_eq!(fact("squeeze", Datum::Number(2.0)), "extra/squeeze");
        assert_eq!(fact("extra/x", Datum::Number(2.0)), "extra/x");
    }
}
