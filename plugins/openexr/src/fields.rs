//! The table of attribute names: what each one becomes. The one place for names, types and units.
//!
//! Source of names, types and units: *Standard Attributes* of the OpenEXR documentation.

/// What an attribute becomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Describes how pixels are stored; not delivered.
    Structural,
    /// View of a part (`left`, `right`): chooses the take.
    View,
    /// Name of a part, unique in the file.
    PartName,
    /// Kind of a part: scan lines, tiles, deep.
    PartType,
    /// A number a frame.
    Number {
        /// Channel.
        channel: &'static str,
        /// Unit of the attribute.
        unit: &'static str,
        /// What distances are measured from; empty for others.
        reference: &'static str,
    },
    /// A text a frame, and the lens fact of the same name.
    LensText(&'static str),
    /// A fact of the lens.
    LensFact(&'static str),
    /// A fact of the take, as text.
    TakeFact(&'static str),
    /// A frame rate of the take.
    Rate(&'static str),
    /// Width and height of the sensor in mm.
    SensorSize,
    /// Width and height of the image in pixels.
    DisplayWindow,
    /// Time code of the frame.
    Timecode,
    /// Kept under its own name, numbers in this unit.
    Extra(&'static str),
    /// The same, and says how the pixels of the file are to be taken: never changed in a file.
    Picture(&'static str),
    /// A private attribute, see [`crate::private`].
    Private(Private),
}

/// What a private attribute holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Private {
    /// Units, references and forms of other attributes.
    Columns,
    /// Facts of the take.
    TakeFacts,
    /// Facts of its lens.
    LensFacts,
    /// Facts of lenses that the take does not use.
    OtherLenses,
    /// Frame number, where it is not the one of the file's name.
    Frame,
    /// Name of the file that the frame came from, where it is not this one.
    SourceFile,
    /// One value a frame.
    Value,
}

impl Role {
    /// Whether it holds for the whole take or its lens.
    pub fn is_fact(self) -> bool {
        matches!(
            self,
            Role::LensFact(_)
                | Role::TakeFact(_)
                | Role::Rate(_)
                | Role::SensorSize
                | Role::DisplayWindow
                | Role::Private(Private::TakeFacts | Private::LensFacts | Private::OtherLenses)
        )
    }
}

/// When a header must have an attribute.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Required {
    /// Never.
    No,
    /// In every header.
    Always,
    /// In every header of a multi-part file.
    MultiPart,
    /// The same, and in deep parts. The layout document asks for a name there too, the reference
    /// library neither writes nor misses it in files of one part.
    MultiPartOrDeep,
    /// In deep parts.
    Deep,
    /// In tiled parts.
    Tiled,
}

/// A row of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    /// Name of the attribute.
    pub name: &'static str,
    /// Name of its type.
    pub kind: &'static str,
    /// What it becomes.
    pub role: Role,
    /// When it must be there.
    pub required: Required,
}

const fn row(name: &'static str, kind: &'static str, role: Role) -> Field {
    Field {
        name,
        kind,
        role,
        required: Required::No,
    }
}

const fn required(name: &'static str, kind: &'static str, role: Role, required: Required) -> Field {
    Field {
        name,
        kind,
        role,
        required,
    }
}

const fn number(name: &'static str, channel: &'static str, unit: &'static str) -> Field {
    row(
        name,
        "float",
        Role::Number {
            channel,
            unit,
            reference: "",
        },
    )
}

use Required::{Always, Deep, MultiPart, MultiPartOrDeep, Tiled};
use Role::{
    DisplayWindow, Extra, LensFact, LensText, Number, PartName, PartType, Picture, Rate,
    SensorSize, Structural, TakeFact, Timecode, View,
};

/// How many rows at the start of [`FIELDS`] are required somewhere.
pub const REQUIRED_FIELDS: usize = 13;

/// All attributes that mean something to this plugin. Others are kept as extras.
pub const FIELDS: &[Field] = &[
    required("channels", "chlist", Structural, Always),
    required("compression", "compression", Structural, Always),
    required("dataWindow", "box2i", Structural, Always),
    required("displayWindow", "box2i", DisplayWindow, Always),
    required("lineOrder", "lineOrder", Structural, Always),
    required("pixelAspectRatio", "float", Picture(""), Always),
    required("screenWindowCenter", "v2f", Structural, Always),
    required("screenWindowWidth", "float", Structural, Always),
    required("name", "string", PartName, MultiPart),
    required("type", "string", PartType, MultiPartOrDeep),
    required("chunkCount", "int", Structural, MultiPartOrDeep),
    required("version", "int", Structural, Deep),
    required("tiles", "tiledesc", Structural, Tiled),
    row("view", "string", View),
    row("preview", "preview", Structural),
    row("maxSamplesPerPixel", "int", Structural),
    row("dwaCompressionLevel", "float", Structural),
    // The attribute does not say which plane of the camera the distance is measured from.
    row(
        "focus",
        "float",
        Number {
            channel: "focus-distance",
            unit: "m",
            reference: "unstated",
        },
    ),
    number("aperture", "f-number", "f"),
    number("tStop", "t-stop", "T"),
    number("nominalFocalLength", "nominal-focal-length", "mm"),
    number("pinholeFocalLength", "pinhole-focal-length", "mm"),
    number("effectiveFocalLength", "effective-focal-length", "mm"),
    number("entrancePupilOffset", "entrance-pupil-offset", "mm"),
    number("shutterAngle", "shutter-angle", "deg"),
    number("expTime", "exposure-time", "s"),
    number("isoSpeed", "sensitivity", "ISO"),
    row("timeCode", "timecode", Timecode),
    row("lensMake", "string", LensText("lens-maker")),
    row("lensModel", "string", LensText("lens-model")),
    row("lensSerialNumber", "string", LensText("lens-serial")),
    row("lensFirmwareVersion", "string", LensFact("lens-firmware")),
    row("framesPerSecond", "rational", Rate("frame-rate")),
    row("captureRate", "rational", Rate("capture-rate")),
    row("reelName", "string", TakeFact("reel")),
    row("cameraMake", "string", TakeFact("camera-maker")),
    row("cameraModel", "string", TakeFact("camera-model")),
    row("cameraSerialNumber", "string", TakeFact("camera-serial")),
    row(
        "cameraFirmwareVersion",
        "string",
        TakeFact("camera-firmware"),
    ),
    row("cameraLabel", "string", TakeFact("camera-label")),
    row("sensorOverallDimensions", "v2f", SensorSize),
    // Standard attributes without a channel: listed for their type and unit.
    row("sensorCenterOffset", "v2f", Extra("um")),
    row("sensorPhotositePitch", "float", Extra("um")),
    row("sensorAcquisitionRectangle", "box2i", Extra("")),
    row("cameraUuid", "string", Extra("")),
    row("cameraCCTSetting", "float", Extra("")),
    row("cameraTintSetting", "float", Extra("")),
    row("cameraColorBalance", "v2f", Extra("")),
    row("imageCounter", "int", Extra("")),
    row("keyCode", "keycode", Extra("")),
    row("worldToCamera", "m44f", Extra("")),
    row("worldToNDC", "m44f", Extra("")),
    row("longitude", "float", Extra("deg")),
    row("latitude", "float", Extra("deg")),
    row("altitude", "float", Extra("m")),
    row("capDate", "string", Extra("")),
    row("utcOffset", "float", Extra("s")),
    row("ascFramingDecisionList", "string", Extra("")),
    row("xDensity", "float", Picture("")),
    row("multiView", "stringvector", Picture("")),
    row("chromaticities", "chromaticities", Picture("")),
    row("whiteLuminance", "float", Picture("")),
    row("adoptedNeutral", "v2f", Picture("")),
    row("originalDataWindow", "box2i", Picture("")),
    row("envmap", "envmap", Picture("")),
    row("wrapmodes", "string", Picture("")),
    row("deepImageState", "deepImageState", Picture("")),
    row("idManifest", "idmanifest", Picture("")),
];

/// The place in [`FIELDS`] of the attribute that a column called `channel` is stored in.
pub fn place_of_channel(channel: &str) -> Option<usize> {
    FIELDS.iter().position(|field| match field.role {
        Number { channel: own, .. } | LensText(own) => own == channel,
        _ => false,
    })
}

/// The place in [`FIELDS`] of the attribute that the text or rate of a fact is stored in.
pub fn place_of_fact(fact: &str) -> Option<usize> {
    FIELDS.iter().position(|field| match field.role {
        LensText(own) | LensFact(own) | TakeFact(own) | Rate(own) => own == fact,
        _ => false,
    })
}

/// The row of the attribute called `name`.
pub fn field(name: &[u8]) -> Option<&'static Field> {
    FIELDS.iter().find(|field| field.name.as_bytes() == name)
}

/// Unit and reference of the channel of numbers that has an attribute of its own.
pub fn field_number(channel: &str) -> Option<(&'static str, &'static str)> {
    FIELDS.iter().find_map(|field| match field.role {
        Role::Number {
            channel: own,
            unit,
            reference,
        } if own == channel => Some((unit, reference)),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique() {
        for row in FIELDS {
            assert_eq!(field(row.name.as_bytes()), Some(row));
        }
    }

    #[test]
    fn required_ones_stand_first() {
        for (place, row) in FIELDS.iter().enumerate() {
            assert_eq!(
                row.required != Required::No,
                place < REQUIRED_FIELDS,
                "{}",
                row.name
            );
        }
    }
}
