//! Which key of a sample is which channel or fact: the only table of its kind.

/// A key that holds a channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelField {
    /// Place in the sample.
    pub path: &'static str,
    /// Channel of the registry.
    pub channel: &'static str,
    /// Unit of the standard.
    pub unit: &'static str,
    /// What distances are measured from; empty for other quantities.
    pub reference: &'static str,
    /// Whether a value holds until the next one: keys under `static` do not come in every sample.
    pub holds: bool,
}

const fn number(path: &'static str, channel: &'static str, unit: &'static str) -> ChannelField {
    ChannelField {
        path,
        channel,
        unit,
        reference: "",
        holds: false,
    }
}

const fn held(path: &'static str, channel: &'static str, unit: &'static str) -> ChannelField {
    ChannelField {
        holds: true,
        ..number(path, channel, unit)
    }
}

/// All keys that hold a number of the registry.
pub const CHANNELS: &[ChannelField] = &[
    ChannelField {
        // The standard does not state what the distance is measured from.
        reference: "unstated",
        ..number("lens.focusDistance", "focus-distance", "m")
    },
    number("lens.pinholeFocalLength", "pinhole-focal-length", "mm"),
    number("lens.fStop", "f-number", "f"),
    number("lens.tStop", "t-stop", "T"),
    number("lens.entrancePupilOffset", "entrance-pupil-offset", "m"),
    number("lens.encoders.focus", "focus-ring", "0..1"),
    number("lens.encoders.iris", "iris-ring", "0..1"),
    number("lens.encoders.zoom", "zoom-ring", "0..1"),
    number("lens.rawEncoders.focus", "focus-ring-raw", "count"),
    number("lens.rawEncoders.iris", "iris-ring-raw", "count"),
    number("lens.rawEncoders.zoom", "zoom-ring-raw", "count"),
    number(FIRST_RADIAL, "distortion-k1", ""),
    number("lens.distortion.0.radial.1", "distortion-k2", ""),
    number("lens.distortion.0.radial.2", "distortion-k3", ""),
    number("lens.distortion.0.tangential.0", "distortion-p1", ""),
    number("lens.distortion.0.tangential.1", "distortion-p2", ""),
    held("static.camera.shutterAngle", "shutter-angle", "deg"),
    held("static.camera.isoSpeed", "sensitivity", "ISO"),
];

/// Whose fact it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// The lens of the take.
    Lens,
    /// The take.
    Take,
}

/// How a fact is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FactForm {
    /// A text.
    Text,
    /// A text that tells one lens from another: changes become channels.
    LensIdentity,
    /// A number in this unit.
    Number(&'static str),
    /// `{num, denom}`, a frame rate.
    Rate,
    /// `{num, denom}`, a plain number.
    Quotient,
    /// Nominal focal length in mm. The standard has it for primes only, so it gives three
    /// facts: both ends of the focal range, and the kind.
    PrimeFocalLength,
}

/// A key that holds a fact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FactField {
    /// Place in the sample.
    pub path: &'static str,
    /// Fact of the registry.
    pub fact: &'static str,
    /// Whose it is.
    pub owner: Owner,
    /// How it is written.
    pub form: FactForm,
}

const fn fact(path: &'static str, fact: &'static str, owner: Owner, form: FactForm) -> FactField {
    FactField {
        path,
        fact,
        owner,
        form,
    }
}

use FactForm::{LensIdentity, Number, PrimeFocalLength, Quotient, Rate, Text};
use Owner::{Lens, Take};

/// All keys that hold a fact of the registry. Both rates of `timing` may hold the frame rate:
/// the time code's own goes first.
pub const FACTS: &[FactField] = &[
    fact("tracker.slate", "clip", Take, Text),
    fact("timing.timecode.frameRate", "frame-rate", Take, Rate),
    fact("timing.sampleRate", "frame-rate", Take, Rate),
    fact("lens.distortion.0.model", "distortion-model", Take, Text),
    fact("static.camera.captureFrameRate", "capture-rate", Take, Rate),
    fact(
        "static.camera.activeSensorPhysicalDimensions.height",
        "sensor-height",
        Take,
        Number("mm"),
    ),
    fact(
        "static.camera.activeSensorPhysicalDimensions.width",
        "sensor-width",
        Take,
        Number("mm"),
    ),
    fact(
        "static.camera.activeSensorResolution.height",
        "resolution-height",
        Take,
        Number(""),
    ),
    fact(
        "static.camera.activeSensorResolution.width",
        "resolution-width",
        Take,
        Number(""),
    ),
    fact("static.camera.make", "camera-maker", Take, Text),
    fact("static.camera.model", "camera-model", Take, Text),
    fact("static.camera.serialNumber", "camera-serial", Take, Text),
    fact(
        "static.camera.firmwareVersion",
        "camera-firmware",
        Take,
        Text,
    ),
    fact("static.camera.label", "camera-label", Take, Text),
    fact("static.camera.anamorphicSqueeze", "squeeze", Lens, Quotient),
    fact("static.lens.make", "lens-maker", Lens, LensIdentity),
    fact("static.lens.model", "lens-model", Lens, LensIdentity),
    fact(
        "static.lens.serialNumber",
        "lens-serial",
        Lens,
        LensIdentity,
    ),
    fact("static.lens.firmwareVersion", "lens-firmware", Lens, Text),
    fact(
        "static.lens.nominalFocalLength",
        "focal-length-min",
        Lens,
        PrimeFocalLength,
    ),
];

/// First coefficient of the distortion that the channels describe.
pub const FIRST_RADIAL: &str = "lens.distortion.0.radial.0";

/// What distortion without a `model` means by the standard: distorted to undistorted.
pub const DEFAULT_DISTORTION: &str = "Brown-Conrady D-U";

/// Keys of a time code that make up its label.
pub const TIMECODE: &str = "timing.timecode";

/// The channel of a place.
pub fn channel_at(path: &str) -> Option<&'static ChannelField> {
    CHANNELS.iter().find(|f| f.path == path)
}

/// The place of a channel.
pub fn place_of(channel: &str) -> Option<&'static ChannelField> {
    CHANNELS.iter().find(|f| f.channel == channel)
}

/// The fact of a place, and for `{num, denom}` which of both the place is.
pub fn fact_at(path: &str) -> Option<(&'static FactField, RatioPart)> {
    let (whole, part) = match path.rsplit_once('.') {
        Some((whole, "num")) => (whole, RatioPart::Num),
        Some((whole, "denom")) => (whole, RatioPart::Denom),
        _ => (path, RatioPart::None),
    };
    FACTS
        .iter()
        .find(|f| {
            let ratio = matches!(f.form, Rate | Quotient);
            match part {
                RatioPart::None => f.path == path && !ratio,
                _ => f.path == whole && ratio,
            }
        })
        .map(|field| (field, part))
}

/// Member of a `{num, denom}`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RatioPart {
    /// The value is no `{num, denom}`.
    None,
    /// `num`.
    Num,
    /// `denom`.
    Denom,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn no_place_and_no_channel_stands_twice() {
        for (index, field) in CHANNELS.iter().enumerate() {
            assert_eq!(channel_at(field.path), Some(field));
            assert_eq!(place_of(field.channel), Some(field));
            assert_eq!(
                CHANNELS.iter().position(|f| f.path == field.path),
                Some(index)
            );
        }
    }

    #[test]
    fn members_of_a_ratio_are_told_apart() {
        let (field, part) = fact_at("timing.sampleRate.denom").unwrap();
        assert_eq!((field.fact, part), ("frame-rate", RatioPart::Denom));
        assert_eq!(fact_at("timing.sampleRate"), None);
        assert_eq!(fact_at("static.camera.make.num"), None);
    }
}
