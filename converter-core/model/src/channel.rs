//! The registry of channels: what a take can record, frame by frame. One row a channel.

use ringmark_quantity::Unit;

/// What a channel holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ChannelKind {
    /// Numbers in one canonical unit. `distance` channels also name what they are measured from.
    Number {
        /// The unit of the neutral form.
        unit: Unit,
        /// Whether the value is a distance with a reference.
        distance: bool,
        /// Values outside are impossible, whatever the lens.
        valid: (f64, f64),
    },
    /// Texts.
    Text,
}

/// One row of the registry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelInfo {
    /// Name in files and on screens.
    pub name: &'static str,
    /// What it holds.
    pub kind: ChannelKind,
    /// What it is, in a few words.
    pub title: &'static str,
}

const fn number(
    name: &'static str,
    unit: Unit,
    valid: (f64, f64),
    title: &'static str,
) -> ChannelInfo {
    ChannelInfo {
        name,
        kind: ChannelKind::Number {
            unit,
            distance: false,
            valid,
        },
        title,
    }
}

const fn distance(name: &'static str, title: &'static str) -> ChannelInfo {
    ChannelInfo {
        name,
        kind: ChannelKind::Number {
            unit: Unit::Metre,
            distance: true,
            valid: (f64::MIN_POSITIVE, f64::INFINITY),
        },
        title,
    }
}

const fn text(name: &'static str, title: &'static str) -> ChannelInfo {
    ChannelInfo {
        name,
        kind: ChannelKind::Text,
        title,
    }
}

macro_rules! channels {
    ($($variant:ident = $info:expr;)*) => {
        /// A channel of the registry.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Channel {
            $(#[doc = concat!("See the registry row of `", stringify!($variant), "`.")] $variant,)*
        }

        impl Channel {
            /// All channels, in the order in which documents list them.
            pub const ALL: &'static [Channel] = &[$(Channel::$variant,)*];

            /// The registry row.
            pub const fn info(self) -> ChannelInfo {
                match self { $(Channel::$variant => $info,)* }
            }
        }
    };
}

const INF: f64 = f64::INFINITY;
const ANY: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);

channels! {
    Frame = number("frame", Unit::One, (0.0, 9.0e15), "frame number");
    Timecode = text("timecode", "time code label");
    FocusRing = number("focus-ring", Unit::Ratio, ANY, "focus ring position, 0 to 1 over the encoder range");
    IrisRing = number("iris-ring", Unit::Ratio, ANY, "iris ring position, 0 to 1 over the encoder range");
    ZoomRing = number("zoom-ring", Unit::Ratio, ANY, "zoom ring position, 0 to 1 over the encoder range");
    FocusRingRaw = number("focus-ring-raw", Unit::Count, ANY, "focus ring position as the encoder counts it");
    IrisRingRaw = number("iris-ring-raw", Unit::Count, ANY, "iris ring position as the encoder counts it");
    ZoomRingRaw = number("zoom-ring-raw", Unit::Count, ANY, "zoom ring position as the encoder counts it");
    FocusDistance = distance("focus-distance", "focus distance");
    RangefinderDistance = distance("rangefinder-distance", "distance a rangefinder measured");
    TStop = number("t-stop", Unit::TStop, (0.0, INF), "T-stop");
    FNumber = number("f-number", Unit::FNumber, (0.0, INF), "f-number");
    NominalFocalLength = number("nominal-focal-length", Unit::Millimetre, (0.0, INF), "focal length as engraved or set on the zoom ring");
    PinholeFocalLength = number("pinhole-focal-length", Unit::Millimetre, (0.0, INF), "focal length of the pinhole camera with the same field of view");
    EffectiveFocalLength = number("effective-focal-length", Unit::Millimetre, (0.0, INF), "focal length of the thick lens");
    EquivalentFocalLength = number("equivalent-focal-length", Unit::Millimetre, (0.0, INF), "focal length that gives a 36 x 24 mm frame the same field of view");
    EntrancePupilOffset = number("entrance-pupil-offset", Unit::Millimetre, ANY, "entrance pupil from the image plane, positive towards the object");
    DistortionK1 = number("distortion-k1", Unit::One, ANY, "first radial distortion coefficient");
    DistortionK2 = number("distortion-k2", Unit::One, ANY, "second radial distortion coefficient");
    DistortionK3 = number("distortion-k3", Unit::One, ANY, "third radial distortion coefficient");
    DistortionP1 = number("distortion-p1", Unit::One, ANY, "first tangential distortion coefficient");
    DistortionP2 = number("distortion-p2", Unit::One, ANY, "second tangential distortion coefficient");
    ShutterAngle = number("shutter-angle", Unit::Degree, (0.0, 360.0), "shutter angle");
    ExposureTime = number("exposure-time", Unit::Second, (0.0, INF), "exposure time");
    Sensitivity = number("sensitivity", Unit::Iso, (0.0, INF), "exposure index");
    CaptureRate = number("capture-rate", Unit::Hertz, (0.0, INF), "frames captured a second");
    NearLimit = distance("near-limit", "near limit of the depth of field");
    FarLimit = distance("far-limit", "far limit of the depth of field");
    Hyperfocal = distance("hyperfocal", "hyperfocal distance");
    FieldOfView = number("field-of-view", Unit::Degree, (0.0, 180.0), "horizontal field of view");
    Lens = text("lens", "lens identity as the source writes it");
    LensMaker = text("lens-maker", "maker of the lens");
    LensModel = text("lens-model", "model of the lens");
    LensSerial = text("lens-serial", "serial number of the lens");
    SourceFile = text("source-file", "file the frame came from, in sequences of files");
}

impl Channel {
    /// The channel called `name`.
    pub fn from_name(name: &str) -> Option<Channel> {
        Channel::ALL.iter().copied().find(|c| c.name() == name)
    }

    /// Its name in files and on screens.
    pub const fn name(self) -> &'static str {
        self.info().name
    }

    /// The unit of the neutral form; `None` for texts.
    pub const fn unit(self) -> Option<Unit> {
        match self.info().kind {
            ChannelKind::Number { unit, .. } => Some(unit),
            ChannelKind::Text => None,
        }
    }

    /// Whether values name what they are measured from.
    pub const fn is_distance(self) -> bool {
        matches!(self.info().kind, ChannelKind::Number { distance: true, .. })
    }

    /// Whether it holds texts.
    pub const fn is_text(self) -> bool {
        matches!(self.info().kind, ChannelKind::Text)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn names_are_unique_and_lead_back() {
        for &channel in Channel::ALL {
            assert_eq!(Channel::from_name(channel.name()), Some(channel));
        }
        assert_eq!(Channel::from_name("focus"), None);
    }
}
