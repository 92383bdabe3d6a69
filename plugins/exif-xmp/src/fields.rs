//! The one table of items: tag and property, type, and what each becomes.
//!
//! Tags, names and types as two general Exif readers report them; units and special values from
//! memory of CIPA DC-008, the XMP properties from the stored page of their namespace.
//! Rows that are from memory altogether are marked.

use crate::node::{AUX, EXIF, EXIF_EX, TIFF};

/// In which directory of a TIFF structure a tag stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Directory {
    /// The first one (IFD0).
    Main,
    /// The one that tag 8769 points to.
    Exif,
}

/// Type of a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// RATIONAL; in XMP `19/10`.
    Rational,
    /// SRATIONAL; in XMP `-1/3`.
    Signed,
    /// Whole number up to this; SHORT or LONG.
    Integer(u32),
    /// SHORT; several in old files, of which the first counts.
    Sensitivity,
    /// Four RATIONALs.
    Four,
    /// ASCII, or UTF-8 since Exif 3.0.
    Text,
    /// Date and time: ASCII `2026:11:25 10:00:00`; in XMP ISO 8601.
    Date,
    /// Four digits as UNDEFINED bytes.
    Version,
}

/// Which values of a number mean something else than the number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// None: 0 and less have no meaning.
    Positive,
    /// 0 is 'unknown'.
    ZeroUnknown,
    /// Numerator 0 is 'unknown', numerator FFFFFFFF infinity.
    Distance,
    /// 65535 is 'see another tag'.
    Sensitivity,
}

/// What an item becomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// A number a frame.
    Channel {
        /// Channel.
        channel: &'static str,
        /// Unit of the item.
        unit: &'static str,
        /// What distances are measured from; empty for others.
        reference: &'static str,
        /// Special values.
        meaning: Meaning,
    },
    /// The same as another item as an APEX value: used where that one is absent, else an extra.
    Apex(Key),
    /// A text a frame, and the lens fact of the same name.
    LensText(&'static str),
    /// A free text about the lens a frame.
    Lens,
    /// A fact of the take, as text.
    TakeText(&'static str),
    /// Widest f-number of the lens, APEX.
    WidestAperture,
    /// Focal lengths and widest f-numbers of the lens.
    LensSpecification,
    /// Width or height of the image in pixels.
    Pixels(&'static str),
    /// Pixels a unit of length on the sensor, and that unit.
    FocalPlane,
    /// Kept under its own name.
    Extra,
}

/// An item; its number is its place in [`FIELDS`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Key {
    Make,
    Model,
    Software,
    ExposureTime,
    ShutterSpeedValue,
    FNumber,
    ApertureValue,
    MaxApertureValue,
    SubjectDistance,
    SubjectDistanceRange,
    FocalLength,
    FocalLengthIn35mmFilm,
    DigitalZoomRatio,
    PixelXDimension,
    PixelYDimension,
    FocalPlaneXResolution,
    FocalPlaneYResolution,
    FocalPlaneResolutionUnit,
    ExposureProgram,
    ExposureMode,
    ExposureBiasValue,
    WhiteBalance,
    DateTimeOriginal,
    ExifVersion,
    PhotographicSensitivity,
    SensitivityType,
    StandardOutputSensitivity,
    RecommendedExposureIndex,
    IsoSpeed,
    BodySerialNumber,
    LensSpecification,
    LensMake,
    LensModel,
    LensSerialNumber,
    Lens,
}

/// A row of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    /// Which item.
    pub key: Key,
    /// Namespace and name of the XMP property.
    pub property: (&'static str, &'static str),
    /// Properties that say the same in older files, read where the first is absent.
    pub older: &'static [(&'static str, &'static str)],
    /// Tags, the first that is there counts.
    pub tags: &'static [(Directory, u16)],
    /// Type.
    pub kind: Kind,
    /// What it becomes.
    pub role: Role,
}

type Property = (&'static str, &'static str);
type Tags = &'static [(Directory, u16)];

const fn row(key: Key, property: Property, tags: Tags, kind: Kind, role: Role) -> Field {
    Field {
        key,
        property,
        older: &[],
        tags,
        kind,
        role,
    }
}

const fn older(mut row: Field, older: &'static [Property]) -> Field {
    row.older = older;
    row
}

const fn channel(channel: &'static str, unit: &'static str, meaning: Meaning) -> Role {
    Role::Channel {
        channel,
        unit,
        reference: match meaning {
            // The tag does not say which plane of the camera the distance is measured from.
            Meaning::Distance => "unstated",
            _ => "",
        },
        meaning,
    }
}

use Directory::{Exif, Main};
use Kind::{Date, Four, Integer, Rational, Signed, Text, Version};
use Role::{Apex, Extra, FocalPlane, LensText, Pixels, TakeText};

const SHORT: Kind = Integer(0xffff);
const LONG: Kind = Integer(u32::MAX);

/// All items.
#[rustfmt::skip]
pub const FIELDS: &[Field] = &[
    row(Key::Make, (TIFF, "Make"), &[(Main, 0x010f)], Text, TakeText("camera-maker")),
    row(Key::Model, (TIFF, "Model"), &[(Main, 0x0110)], Text, TakeText("camera-model")),
    row(Key::Software, (TIFF, "Software"), &[(Main, 0x0131)], Text, Extra),
    row(Key::ExposureTime, (EXIF, "ExposureTime"), &[(Exif, 0x829a)], Rational, channel("exposure-time", "s", Meaning::Positive)),
    row(Key::ShutterSpeedValue, (EXIF, "ShutterSpeedValue"), &[(Exif, 0x9201)], Signed, Apex(Key::ExposureTime)),
    row(Key::FNumber, (EXIF, "FNumber"), &[(Exif, 0x829d)], Rational, channel("f-number", "f", Meaning::Positive)),
    row(Key::ApertureValue, (EXIF, "ApertureValue"), &[(Exif, 0x9202)], Rational, Apex(Key::FNumber)),
    row(Key::MaxApertureValue, (EXIF, "MaxApertureValue"), &[(Exif, 0x9205)], Rational, Role::WidestAperture),
    row(Key::SubjectDistance, (EXIF, "SubjectDistance"), &[(Exif, 0x9206)], Rational, channel("focus-distance", "m", Meaning::Distance)),
    row(Key::SubjectDistanceRange, (EXIF, "SubjectDistanceRange"), &[(Exif, 0xa40c)], SHORT, Extra),
    row(Key::FocalLength, (EXIF, "FocalLength"), &[(Exif, 0x920a)], Rational, channel("nominal-focal-length", "mm", Meaning::Positive)),
    row(Key::FocalLengthIn35mmFilm, (EXIF, "FocalLengthIn35mmFilm"), &[(Exif, 0xa405)], SHORT, channel("equivalent-focal-length", "mm", Meaning::ZeroUnknown)),
    row(Key::DigitalZoomRatio, (EXIF, "DigitalZoomRatio"), &[(Exif, 0xa404)], Rational, Extra), // from memory
    older(row(Key::PixelXDimension, (EXIF, "PixelXDimension"), &[(Exif, 0xa002), (Main, 0x0100)], LONG, Pixels("resolution-width")), &[(TIFF, "ImageWidth")]), // from memory
    older(row(Key::PixelYDimension, (EXIF, "PixelYDimension"), &[(Exif, 0xa003), (Main, 0x0101)], LONG, Pixels("resolution-height")), &[(TIFF, "ImageLength")]), // from memory
    row(Key::FocalPlaneXResolution, (EXIF, "FocalPlaneXResolution"), &[(Exif, 0xa20e)], Rational, FocalPlane),
    row(Key::FocalPlaneYResolution, (EXIF, "FocalPlaneYResolution"), &[(Exif, 0xa20f)], Rational, FocalPlane),
    row(Key::FocalPlaneResolutionUnit, (EXIF, "FocalPlaneResolutionUnit"), &[(Exif, 0xa210)], SHORT, FocalPlane),
    row(Key::ExposureProgram, (EXIF, "ExposureProgram"), &[(Exif, 0x8822)], SHORT, Extra), // from memory
    row(Key::ExposureMode, (EXIF, "ExposureMode"), &[(Exif, 0xa402)], SHORT, Extra), // from memory
    row(Key::ExposureBiasValue, (EXIF, "ExposureBiasValue"), &[(Exif, 0x9204)], Signed, Extra), // from memory
    row(Key::WhiteBalance, (EXIF, "WhiteBalance"), &[(Exif, 0xa403)], SHORT, Extra), // from memory
    row(Key::DateTimeOriginal, (EXIF, "DateTimeOriginal"), &[(Exif, 0x9003)], Date, Extra), // from memory
    row(Key::ExifVersion, (EXIF, "ExifVersion"), &[(Exif, 0x9000)], Version, Extra), // from memory
    older(row(Key::PhotographicSensitivity, (EXIF_EX, "PhotographicSensitivity"), &[(Exif, 0x8827)], Kind::Sensitivity, channel("sensitivity", "ISO", Meaning::Sensitivity)), &[(EXIF, "ISOSpeedRatings")]),
    row(Key::SensitivityType, (EXIF_EX, "SensitivityType"), &[(Exif, 0x8830)], SHORT, Extra), // from memory
    row(Key::StandardOutputSensitivity, (EXIF_EX, "StandardOutputSensitivity"), &[(Exif, 0x8831)], LONG, Extra), // from memory
    row(Key::RecommendedExposureIndex, (EXIF_EX, "RecommendedExposureIndex"), &[(Exif, 0x8832)], LONG, Extra), // from memory
    row(Key::IsoSpeed, (EXIF_EX, "ISOSpeed"), &[(Exif, 0x8833)], LONG, Extra), // from memory
    // C62F and C630 are from memory of the DNG specification.
    older(row(Key::BodySerialNumber, (EXIF_EX, "BodySerialNumber"), &[(Exif, 0xa431), (Main, 0xc62f)], Text, TakeText("camera-serial")), &[(AUX, "SerialNumber")]),
    older(row(Key::LensSpecification, (EXIF_EX, "LensSpecification"), &[(Exif, 0xa432), (Main, 0xc630)], Four, Role::LensSpecification), &[(AUX, "LensInfo")]),
    row(Key::LensMake, (EXIF_EX, "LensMake"), &[(Exif, 0xa433)], Text, LensText("lens-maker")),
    row(Key::LensModel, (EXIF_EX, "LensModel"), &[(Exif, 0xa434)], Text, LensText("lens-model")),
    row(Key::LensSerialNumber, (EXIF_EX, "LensSerialNumber"), &[(Exif, 0xa435)], Text, LensText("lens-serial")),
    row(Key::Lens, (AUX, "Lens"), &[], Text, Role::Lens),
];

/// Tag of the fractions of a second of DateTimeOriginal (in the Exif directory).
pub const SUB_SECONDS: u16 = 0x9291;
/// Tag of the offset from UTC of DateTimeOriginal (in the Exif directory); from memory.
pub const OFFSET_TIME: u16 = 0x9011;
/// Lens facts for the third and fourth number of LensSpecification.
pub const WIDEST_AT: [&str; 2] = [
    "extra/widest-f-number-at-focal-length-min",
    "extra/widest-f-number-at-focal-length-max",
];

impl Key {
    /// Its row.
    pub fn field(self) -> &'static Field {
        &FIELDS[self as usize]
    }
}

/// The row of the property, and whether it is an older name of it.
pub fn of_property(uri: &str, local: &str) -> Option<(&'static Field, bool)> {
    let fits = |property: &Property| property.0 == uri && property.1 == local;
    FIELDS.iter().find_map(|field| {
        if fits(&field.property) {
            Some((field, false))
        } else {
            field.older.iter().any(fits).then_some((field, true))
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_stand_at_the_place_of_their_key() {
        for (place, field) in FIELDS.iter().enumerate() {
            assert_eq!(field.key as usize, place, "{}", field.property.1);
            assert_eq!(field.key.field(), field);
        }
        assert_eq!(Key::Lens as usize, FIELDS.len() - 1);
    }

    #[test]
    fn properties_and_tags_are_unique() {
        for field in FIELDS {
            let (uri, local) = field.property;
            assert_eq!(of_property(uri, local), Some((field, false)));
            for (uri, local) in field.older {
                assert_eq!(of_property(uri, local), Some((field, true)));
            }
            for tag in field.tags {
                let having = FIELDS.iter().filter(|other| other.tags.contains(tag));
                assert_eq!(having.count(), 1, "{tag:?}");
            }
        }
    }
}
