//! Which attribute of a Camera prim is which channel or fact: the only table of its kind.

use crate::units::{Scene, Stated};

/// What the number of an attribute measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Tenths of a scene unit.
    LensLength,
    /// Scene units.
    Distance,
    /// The same in every scene, in this unit.
    Plain(&'static str),
}

impl Measure {
    /// How the number is stated when read.
    pub fn stated(self, scene: Scene) -> Stated {
        match self {
            Measure::LensLength => scene.lens_length(),
            Measure::Distance => scene.distance(),
            Measure::Plain(unit) => Stated::plain(unit),
        }
    }

    /// How the number is stated in the unit that the manifest asks for.
    pub fn asked(self, scene: Scene) -> Stated {
        match self {
            Measure::LensLength => scene.millimetres(),
            Measure::Distance => scene.centimetres(),
            Measure::Plain(unit) => Stated::plain(unit),
        }
    }
}

/// Which numbers an attribute may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Allowed {
    /// Any finite one.
    Finite,
    /// Above 0. A 0 in the file is no measurement: the standard has it for 'switched off'.
    Positive,
    /// Above 0, or infinity.
    PositiveOrInfinity,
}

impl Allowed {
    /// Whether `value` may be written.
    pub fn has(self, value: f64) -> bool {
        match self {
            Allowed::Finite => value.is_finite(),
            Allowed::Positive => value > 0.0 && value.is_finite(),
            Allowed::PositiveOrInfinity => value > 0.0,
        }
    }
}

/// What an attribute becomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// A channel, also where the value never changes.
    Channel,
    /// A fact of the registry where the value never changes, else the extra `extra/ATTRIBUTE`.
    Fact(&'static str),
    /// The extra `extra/ATTRIBUTE` of the take, or of its frames where the value changes.
    Extra,
}

/// An attribute of the schema that holds a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Field {
    /// Name of the attribute.
    pub attribute: &'static str,
    /// Channel, or `extra/ATTRIBUTE`.
    pub channel: &'static str,
    /// What it becomes.
    pub role: Role,
    /// What its number measures.
    pub measure: Measure,
    /// Which numbers it may hold.
    pub allowed: Allowed,
    /// What it is measured from; empty for all that is no distance.
    pub reference: &'static str,
    /// What a 0 says, if it is no value.
    pub zero: Option<&'static str>,
}

const fn field(
    attribute: &'static str,
    channel: &'static str,
    role: Role,
    measure: Measure,
    allowed: Allowed,
) -> Field {
    Field {
        attribute,
        channel,
        role,
        measure,
        allowed,
        reference: "",
        zero: None,
    }
}

use Allowed::{Finite, Positive, PositiveOrInfinity};
use Measure::{Distance, LensLength, Plain};
use Role::{Channel, Extra, Fact};

impl Field {
    /// How the number is stated as a channel. Extras have one unit in all scenes, since the
    /// program converts none.
    pub fn stated(&self, scene: Scene) -> Stated {
        match self.role {
            Channel => self.measure.stated(scene),
            Fact(_) | Extra => self.measure.asked(scene),
        }
    }
}

/// All attributes of the schema that hold a 32-bit number of interest.
pub const FIELDS: &[Field] = &[
    field(
        "focalLength",
        "pinhole-focal-length",
        Channel,
        LensLength,
        Positive,
    ),
    Field {
        // From the camera's origin, which is the centre of projection.
        reference: "entrance-pupil",
        zero: Some("no focus distance"),
        ..field(
            "focusDistance",
            "focus-distance",
            Channel,
            Distance,
            PositiveOrInfinity,
        )
    },
    Field {
        zero: Some("depth of field is switched off"),
        ..field("fStop", "f-number", Channel, Plain("f"), Positive)
    },
    field(
        "exposure:iso",
        "sensitivity",
        Channel,
        Plain("ISO"),
        Positive,
    ),
    field(
        "exposure:time",
        "exposure-time",
        Channel,
        Plain("s"),
        Positive,
    ),
    field(
        "horizontalAperture",
        "extra/horizontalAperture",
        Fact("sensor-width"),
        LensLength,
        Positive,
    ),
    field(
        "verticalAperture",
        "extra/verticalAperture",
        Fact("sensor-height"),
        LensLength,
        Positive,
    ),
    field(
        "horizontalApertureOffset",
        "extra/horizontalApertureOffset",
        Extra,
        LensLength,
        Finite,
    ),
    field(
        "verticalApertureOffset",
        "extra/verticalApertureOffset",
        Extra,
        LensLength,
        Finite,
    ),
    field("exposure", "extra/exposure", Extra, Plain(""), Finite),
    field(
        "exposure:fStop",
        "extra/exposure:fStop",
        Extra,
        Plain(""),
        Positive,
    ),
    field(
        "exposure:responsivity",
        "extra/exposure:responsivity",
        Extra,
        Plain(""),
        Positive,
    ),
];

/// Attributes of the schema that hold a word, and the words.
pub const WORDS: &[(&str, &[&str])] = &[
    ("projection", &["perspective", "orthographic"]),
    ("stereoRole", &["mono", "left", "right"]),
];

/// Both ends of the shutter's opening, in time codes from the frame, and the channel they give.
pub const SHUTTER_OPEN: &str = "shutter:open";
/// See [`SHUTTER_OPEN`].
pub const SHUTTER_CLOSE: &str = "shutter:close";
/// See [`SHUTTER_OPEN`].
pub const SHUTTER_ANGLE: &str = "shutter-angle";

/// Attributes and namespaces of every Camera prim that say nothing about the lens.
const OTHER: &[&str] = &[
    "clippingPlanes",
    "clippingRange",
    "proxyPrim",
    "purpose",
    "visibility",
    "xformOpOrder",
    "xformOp",
    "primvars",
    "collection",
    "ui",
];

/// Namespace of the attributes that only this program reads.
pub const NAMESPACE: &str = "ringmark";

/// The attribute called `name`.
pub fn by_attribute(name: &str) -> Option<&'static Field> {
    FIELDS.iter().find(|f| f.attribute == name)
}

/// The attribute of a channel.
pub fn by_channel(channel: &str) -> Option<&'static Field> {
    FIELDS.iter().find(|f| f.channel == channel)
}

/// Whether a channel goes to an attribute of the schema.
pub fn is_of_schema(channel: &str) -> bool {
    channel == SHUTTER_ANGLE || by_channel(channel).is_some()
}

/// Whether the attribute is known to say nothing about the lens.
pub fn says_nothing(name: &str) -> bool {
    let first = name.split(':').next().unwrap_or(name);
    OTHER.contains(&first)
}

/// Whether the schema, or this program, gives names that begin like `name` a meaning.
pub fn is_reserved(name: &str) -> bool {
    let first = name.split(':').next().unwrap_or(name);
    says_nothing(name) || matches!(first, NAMESPACE | "shutter" | "exposure")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_attribute_and_no_channel_stands_twice() {
        for field in FIELDS {
            assert_eq!(by_attribute(field.attribute), Some(field));
            assert_eq!(by_channel(field.channel), Some(field));
            let extra = format!("extra/{}", field.attribute);
            assert_eq!(
                field.channel == extra,
                field.role != Channel,
                "{}",
                field.attribute
            );
        }
    }

    #[test]
    fn transforms_are_no_lens_data() {
        assert!(says_nothing("xformOp:translate"));
        assert!(!says_nothing("shop:tStop"));
        assert!(is_reserved("shutter:open") && is_reserved("ringmark:x") && !is_reserved("a:b"));
    }
}
