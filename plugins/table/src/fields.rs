//! Which header names mean which channel, and the units that each may have.

use ringmark_sdk::quantity::{Dimension, Unit};

/// What the numbers of a column are, which decides the units and spellings they may have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Numbers without a unit.
    Pure,
    /// Ring positions between 0 and 1, or in per cent.
    Position,
    /// Ring positions as the encoder gives them.
    RawPosition,
    /// Distances, which have a reference.
    Distance,
    /// Lengths that are no distance to the object.
    Length,
    /// T-stops.
    TStop,
    /// f-numbers.
    FNumber,
    /// Angles.
    Angle,
    /// Durations.
    Time,
    /// Frames a second.
    Rate,
    /// Exposure index.
    Iso,
}

impl Quantity {
    /// Whether the quantity can be stated in `unit`.
    pub fn takes(self, unit: Unit) -> bool {
        match self {
            Quantity::Pure => unit == Unit::One,
            Quantity::Position => matches!(unit, Unit::Ratio | Unit::Percent),
            Quantity::RawPosition => matches!(unit, Unit::Count | Unit::Degree),
            Quantity::Distance => unit.dimension() == Dimension::Length,
            Quantity::Length => unit.dimension() == Dimension::Length && unit != Unit::Dioptre,
            Quantity::TStop => unit == Unit::TStop,
            Quantity::FNumber => unit == Unit::FNumber,
            Quantity::Angle => unit.dimension() == Dimension::Angle,
            Quantity::Time => unit == Unit::Second,
            Quantity::Rate => unit == Unit::Hertz,
            Quantity::Iso => unit == Unit::Iso,
        }
    }

    /// The unit that goes without saying; `None` where the header has to say it.
    pub fn unsaid(self) -> Option<Unit> {
        match self {
            Quantity::Pure => Some(Unit::One),
            Quantity::TStop => Some(Unit::TStop),
            Quantity::FNumber => Some(Unit::FNumber),
            Quantity::Iso => Some(Unit::Iso),
            _ => None,
        }
    }

    /// The units for messages.
    pub fn units(self) -> &'static str {
        match self {
            Quantity::Pure => "none",
            Quantity::Position => "[0..1], [%], [count] or [deg]",
            Quantity::RawPosition => "[count] or [deg]",
            Quantity::Distance => "[m], [cm], [mm], [ft], [ft-in], [in] or [D]",
            Quantity::Length => "[mm], [cm], [m], [in] or [ft]",
            Quantity::TStop => "[T] or none",
            Quantity::FNumber => "[f] or none",
            Quantity::Angle => "[deg], [arcmin] or [rad]",
            Quantity::Time => "[s]",
            Quantity::Rate => "[fps]",
            Quantity::Iso => "[ISO] or none",
        }
    }

    /// A unit to show as an example.
    pub fn example(self) -> &'static str {
        match self {
            Quantity::Pure => "",
            Quantity::Position => "0..1",
            Quantity::RawPosition => "count",
            Quantity::Distance => "m",
            Quantity::Length => "mm",
            Quantity::TStop => "T",
            Quantity::FNumber => "f",
            Quantity::Angle => "deg",
            Quantity::Time => "s",
            Quantity::Rate => "fps",
            Quantity::Iso => "ISO",
        }
    }
}

/// What a known column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    /// Texts.
    Text,
    /// Numbers.
    Number(Quantity),
}

/// A known column of a take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    /// Name of the channel.
    pub channel: &'static str,
    /// The header that is written.
    pub title: &'static str,
    /// Further headers that are read, folded.
    aliases: &'static [&'static str],
    /// What it holds.
    pub holds: Holds,
}

const fn number(
    channel: &'static str,
    title: &'static str,
    quantity: Quantity,
    aliases: &'static [&'static str],
) -> Field {
    Field {
        channel,
        title,
        aliases,
        holds: Holds::Number(quantity),
    }
}

const fn text(
    channel: &'static str,
    title: &'static str,
    aliases: &'static [&'static str],
) -> Field {
    Field {
        channel,
        title,
        aliases,
        holds: Holds::Text,
    }
}

/// All known columns. A channel's own name is read as well.
#[rustfmt::skip]
pub const FIELDS: &[Field] = &[
    number("frame", "frame", Quantity::Pure, &["frame-number"]),
    text("timecode", "timecode", &["time-code", "tc"]),
    number("focus-ring", "focus ring", Quantity::Position, &["focus-ring-position"]),
    number("iris-ring", "iris ring", Quantity::Position, &["iris-ring-position"]),
    number("zoom-ring", "zoom ring", Quantity::Position, &["zoom-ring-position"]),
    number("focus-ring-raw", "focus ring raw", Quantity::RawPosition, &[]),
    number("iris-ring-raw", "iris ring raw", Quantity::RawPosition, &[]),
    number("zoom-ring-raw", "zoom ring raw", Quantity::RawPosition, &[]),
    number("focus-distance", "focus distance", Quantity::Distance, &[]),
    number("rangefinder-distance", "rangefinder distance", Quantity::Distance, &["rangefinder"]),
    number("t-stop", "T-stop", Quantity::TStop, &["t-number", "tstop"]),
    number("f-number", "f-number", Quantity::FNumber, &["f-stop", "fnumber"]),
    number("nominal-focal-length", "focal length", Quantity::Length, &[]),
    number("pinhole-focal-length", "pinhole focal length", Quantity::Length, &[]),
    number("effective-focal-length", "effective focal length", Quantity::Length, &[]),
    number("equivalent-focal-length", "equivalent focal length", Quantity::Length, &[]),
    number("entrance-pupil-offset", "entrance pupil offset", Quantity::Length, &[]),
    number("distortion-k1", "distortion k1", Quantity::Pure, &["k1"]),
    number("distortion-k2", "distortion k2", Quantity::Pure, &["k2"]),
    number("distortion-k3", "distortion k3", Quantity::Pure, &["k3"]),
    number("distortion-p1", "distortion p1", Quantity::Pure, &["p1"]),
    number("distortion-p2", "distortion p2", Quantity::Pure, &["p2"]),
    number("shutter-angle", "shutter angle", Quantity::Angle, &[]),
    number("exposure-time", "exposure time", Quantity::Time, &[]),
    number("sensitivity", "sensitivity", Quantity::Iso, &["iso", "exposure-index"]),
    number("capture-rate", "capture rate", Quantity::Rate, &[]),
    number("near-limit", "near limit", Quantity::Distance, &[]),
    number("far-limit", "far limit", Quantity::Distance, &[]),
    number("hyperfocal", "hyperfocal", Quantity::Distance, &["hyperfocal-distance"]),
    number("field-of-view", "field of view", Quantity::Angle, &["horizontal-field-of-view"]),
    text("lens", "lens", &[]),
    text("lens-maker", "lens maker", &[]),
    text("lens-model", "lens model", &[]),
    text("lens-serial", "lens serial", &["lens-serial-number"]),
    text("source-file", "source file", &[]),
];

/// `name` in lower case with single hyphens for spaces, underscores and hyphens.
pub fn fold(name: &str) -> String {
    let mut folded = String::with_capacity(name.len());
    for character in name.trim().chars() {
        if matches!(character, ' ' | '_' | '-' | '\t') {
            if !folded.ends_with('-') {
                folded.push('-');
            }
        } else {
            folded.extend(character.to_lowercase());
        }
    }
    folded
}

/// The known column that `name` means.
pub fn by_header(name: &str) -> Option<&'static Field> {
    let folded = fold(name);
    FIELDS.iter().find(|field| {
        field.channel == folded
            || fold(field.title) == folded
            || field.aliases.contains(&folded.as_str())
    })
}

/// The known column of a channel.
pub fn by_channel(channel: &str) -> Option<&'static Field> {
    FIELDS.iter().find(|field| field.channel == channel)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn no_header_means_two_channels() {
        let mut seen = Vec::new();
        for field in FIELDS {
            let mut names = vec![field.channel.to_owned(), fold(field.title)];
            names.extend(field.aliases.iter().map(|alias| fold(alias)));
            names.sort();
            names.dedup();
            for name in names {
                assert_eq!(by_header(&name), Some(field), "{name}");
                assert!(!seen.contains(&name), "{name}");
                seen.push(name);
            }
        }
    }

    #[test]
    fn headers_in_any_spelling() {
        for header in ["Focus Ring", "focus_ring", "FOCUS-RING", " focus  ring "] {
            assert_eq!(by_header(header).unwrap().channel, "focus-ring", "{header}");
        }
        assert_eq!(
            by_header("focal length").unwrap().channel,
            "nominal-focal-length"
        );
        assert_eq!(by_header("ISO").unwrap().channel, "sensitivity");
        assert_eq!(by_header("focus"), None);
    }

    #[test]
    fn examples_are_units_the_quantity_takes() {
        for field in FIELDS {
            if let Holds::Number(quantity) = field.holds {
                let unit = Unit::from_symbol(quantity.example()).unwrap();
                assert!(quantity.takes(unit), "{}", field.title);
            }
        }
    }
}
