//! Which `# key: value` lines mean which fact.

use crate::fields::fold;

/// What a fact belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// The lens.
    Lens,
    /// The take.
    Take,
}

/// How a value is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// As it stands.
    Text,
    /// `prime` or `zoom`.
    Kind,
    /// `drop-frame` or `non-drop`.
    Counting,
    /// `24000/1001` or `23.976`.
    Rate,
    /// A length with its unit.
    Length,
    /// `T2.8` or `2.8`.
    TStop,
    /// `f/2.8` or `2.8`.
    FNumber,
    /// A number without a unit.
    Pure,
    /// `image plane`, `entrance pupil`, `front vertex`.
    Reference,
}

/// One known key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Key {
    /// Name of the fact.
    pub fact: &'static str,
    /// The key that is written.
    pub title: &'static str,
    /// Further keys that are read, folded.
    aliases: &'static [&'static str],
    /// Who has it.
    pub owner: Owner,
    /// How its value is written.
    pub shape: Shape,
}

const fn lens(
    fact: &'static str,
    title: &'static str,
    shape: Shape,
    aliases: &'static [&'static str],
) -> Key {
    Key {
        fact,
        title,
        aliases,
        owner: Owner::Lens,
        shape,
    }
}

const fn take(
    fact: &'static str,
    title: &'static str,
    shape: Shape,
    aliases: &'static [&'static str],
) -> Key {
    Key {
        fact,
        title,
        aliases,
        owner: Owner::Take,
        shape,
    }
}

/// All known keys that are one fact each. A fact's own name is read as well.
#[rustfmt::skip]
pub const KEYS: &[Key] = &[
    lens("lens-maker", "lens maker", Shape::Text, &[]),
    lens("lens-model", "lens model", Shape::Text, &[]),
    lens("lens-serial", "lens serial", Shape::Text, &["lens-serial-number"]),
    lens("lens-firmware", "lens firmware", Shape::Text, &[]),
    lens("lens-kind", "lens kind", Shape::Kind, &[]),
    lens("focal-length-min", "shortest focal length", Shape::Length, &[]),
    lens("focal-length-max", "longest focal length", Shape::Length, &[]),
    lens("close-focus", "close focus", Shape::Length, &["minimum-object-distance"]),
    lens("close-focus-reference", "close focus measured from", Shape::Reference, &[]),
    lens("widest-t-stop", "widest T-stop", Shape::TStop, &[]),
    lens("smallest-t-stop", "smallest T-stop", Shape::TStop, &[]),
    lens("widest-f-number", "widest f-number", Shape::FNumber, &[]),
    lens("smallest-f-number", "smallest f-number", Shape::FNumber, &[]),
    lens("squeeze", "squeeze", Shape::Pure, &["anamorphic-squeeze"]),
    lens("image-circle", "image circle", Shape::Length, &[]),
    take("clip", "clip", Shape::Text, &["clip-name"]),
    take("reel", "reel", Shape::Text, &["reel-name"]),
    take("frame-rate", "frame rate", Shape::Rate, &["fps"]),
    take("capture-rate", "capture rate", Shape::Rate, &[]),
    take("counting", "timecode", Shape::Counting, &["timecode-counting"]),
    take("start-timecode", "start timecode", Shape::Text, &[]),
    take("camera-maker", "camera maker", Shape::Text, &[]),
    take("camera-model", "camera model", Shape::Text, &[]),
    take("camera-serial", "camera serial", Shape::Text, &["camera-serial-number"]),
    take("camera-firmware", "camera firmware", Shape::Text, &[]),
    take("camera-label", "camera label", Shape::Text, &[]),
    take("sensor-width", "sensor width", Shape::Length, &[]),
    take("sensor-height", "sensor height", Shape::Length, &[]),
    take("resolution-width", "resolution width", Shape::Pure, &[]),
    take("resolution-height", "resolution height", Shape::Pure, &[]),
    take("distortion-model", "distortion model", Shape::Text, &[]),
];

/// Keys of calibrations, whose subject is the lens anyway, with the fact they mean.
const SHORT: &[(&str, &str)] = &[
    ("maker", "lens-maker"),
    ("model", "lens-model"),
    ("serial", "lens-serial"),
    ("serial-number", "lens-serial"),
    ("firmware", "lens-firmware"),
    ("kind", "lens-kind"),
];

/// Keys that are no single fact, folded: how the file is to be read, and pairs of facts.
const SPECIAL: &[&str] = &[
    "document",
    "decimal",
    "blank-lines",
    "measured-from",
    "reference",
    "focal-length",
];

/// Such keys of takes only.
const SPECIAL_OF_TAKES: &[&str] = &["resolution"];

/// The rings, in the order of the axes.
pub const AXES: [&str; 3] = ["focus", "iris", "zoom"];

/// The known key that `key` means in a file of that kind.
pub fn known(key: &str, calibration: bool) -> Option<&'static Key> {
    let folded = fold(key);
    let fact = match SHORT.iter().find(|(short, _)| *short == folded) {
        Some((_, fact)) if calibration => fact,
        _ => folded.as_str(),
    };
    KEYS.iter()
        .filter(|key| !calibration || key.owner == Owner::Lens)
        .find(|key| key.fact == fact || fold(key.title) == fact || key.aliases.contains(&fact))
}

/// The ring and what is said of it, if `key` is about a ring's encoder: `focus encoder`,
/// `focus rotation`, `focus encoder low`, `focus encoder high`.
pub fn ring_key(key: &str) -> Option<(usize, RingKey)> {
    let folded = fold(key);
    let (axis, rest) = folded.split_once('-')?;
    let axis = AXES.iter().position(|name| *name == axis)?;
    let what = match rest {
        "encoder" | "encoder-range" => RingKey::Encoder,
        "encoder-low" => RingKey::Low,
        "encoder-high" => RingKey::High,
        "rotation" | "ring-rotation" => RingKey::Rotation,
        _ => return None,
    };
    Some((axis, what))
}

/// What a line says about a ring.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RingKey {
    /// Positions at both ends.
    Encoder,
    /// Position at the low end.
    Low,
    /// Position at the high end.
    High,
    /// Rotation from end to end.
    Rotation,
}

/// Whether `key` means anything to the reader, so that an extra of that name needs its prefix.
pub fn is_taken(key: &str, calibration: bool) -> bool {
    let folded = fold(key);
    folded.is_empty()
        || key.starts_with(EXTRA)
        || key.starts_with(LENS_EXTRA)
        || SPECIAL.contains(&folded.as_str())
        || (!calibration && SPECIAL_OF_TAKES.contains(&folded.as_str()))
        || ring_key(key).is_some()
        || known(key, calibration).is_some()
}

/// Prefix of names outside the registries.
pub const EXTRA: &str = "extra/";

/// Prefix of the keys of a lens's extras in a take.
pub const LENS_EXTRA: &str = "lens extra/";

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn titles_lead_to_their_fact_and_no_key_to_two() {
        for (index, key) in KEYS.iter().enumerate() {
            assert_eq!(known(key.title, false), Some(key));
            assert_eq!(known(key.fact, false), Some(key));
            for other in &KEYS[index + 1..] {
                for alias in other.aliases {
                    assert_ne!(known(alias, false), Some(key), "{alias}");
                }
            }
        }
    }

    #[test]
    fn calibrations_have_short_keys() {
        assert_eq!(known("maker", true).unwrap().fact, "lens-maker");
        assert_eq!(known("maker", false), None);
        assert_eq!(known("clip", true), None);
        assert_eq!(known("clip", false).unwrap().fact, "clip");
    }

    #[test]
    fn keys_of_rings() {
        assert_eq!(ring_key("Focus encoder"), Some((0, RingKey::Encoder)));
        assert_eq!(ring_key("zoom-encoder-high"), Some((2, RingKey::High)));
        assert_eq!(ring_key("iris rotation"), Some((1, RingKey::Rotation)));
        assert_eq!(ring_key("focus puller"), None);
    }
}
