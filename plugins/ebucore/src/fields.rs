//! Which parameter is which channel, fact or extra: the only table of its kind.
//!
//! Names and units as an independent open exporter writes them, which names EBU Tech 3349 as its
//! source; Tech 3349 itself was not at hand.

/// How a number is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Form {
    /// As a decimal number.
    Plain,
    /// Seconds, usually as a fraction: `1/48`.
    Time,
    /// As a decimal number; a fraction is read too.
    Rate,
    /// `Clear` for 1, else `1/N`: the N.
    Density,
}

/// What a parameter holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    /// A channel of numbers: its name and what distances are measured from.
    Channel(&'static str, &'static str, Form),
    /// A fact of the take, a number.
    Fact(&'static str),
    /// A channel of texts.
    TextChannel(&'static str),
    /// An extra of numbers, of the parameter's name.
    Extra(Form),
    /// An extra of texts, of the parameter's name.
    TextExtra,
}

/// A parameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    /// Name in the file.
    pub parameter: &'static str,
    /// What it holds.
    pub holds: Holds,
    /// Symbol of the unit of its values where none is stated; empty for texts and pure numbers.
    pub unit: &'static str,
}

const fn channel(parameter: &'static str, name: &'static str, unit: &'static str) -> Field {
    special(parameter, Holds::Channel(name, "", Form::Plain), unit)
}

const fn special(parameter: &'static str, holds: Holds, unit: &'static str) -> Field {
    Field {
        parameter,
        holds,
        unit,
    }
}

const fn extra(parameter: &'static str, unit: &'static str) -> Field {
    special(parameter, Holds::Extra(Form::Plain), unit)
}

const fn text(parameter: &'static str) -> Field {
    special(parameter, Holds::TextExtra, "")
}

/// Distance from the image plane.
pub const IMAGE_PLANE: &str = "FocusPositionFromImagePlane";

/// Distance from the front of the lens: the focus distance where the other is not given, else an extra.
pub const FRONT_VERTEX: &str = "FocusPositionFromFrontLensVertex";

/// What the lens is called.
pub const LENS: &str = "LensAttributes";

/// Frames captured a second.
pub const CAPTURE_RATE: &str = "CaptureFrameRate";

/// All parameters that are known, in the order in which they are written.
pub const FIELDS: &[Field] = &[
    channel("IrisFNumber", "f-number", "f"),
    channel("IrisTNumber", "t-stop", "T"),
    channel("IrisRingPosition", "iris-ring", "%"),
    special(
        IMAGE_PLANE,
        Holds::Channel("focus-distance", "image-plane", Form::Plain),
        "m",
    ),
    special(
        FRONT_VERTEX,
        Holds::Channel("focus-distance", "front-vertex", Form::Plain),
        "m",
    ),
    channel("FocusRingPosition", "focus-ring", "%"),
    channel("ZoomRingPosition", "zoom-ring", "%"),
    text("MacroSetting"),
    channel(
        "LensZoom35mmStillCameraEquivalent",
        "equivalent-focal-length",
        "mm",
    ),
    channel("LensZoomActualFocalLength", "nominal-focal-length", "mm"),
    extra("OpticalExtenderMagnification", "%"),
    special(LENS, Holds::TextChannel("lens"), ""),
    text("AutoExposureMode"),
    text("AutoFocusSensingAreaSetting"),
    text("ColorCorrectionFilterWheelSetting"),
    special(
        "NeutralDensityFilterWheelSetting",
        Holds::Extra(Form::Density),
        "",
    ),
    special(
        "ImageSensorDimensionEffectiveWidth",
        Holds::Fact("sensor-width"),
        "mm",
    ),
    special(
        "ImageSensorDimensionEffectiveHeight",
        Holds::Fact("sensor-height"),
        "mm",
    ),
    special(
        CAPTURE_RATE,
        Holds::Channel("capture-rate", "", Form::Rate),
        "fps",
    ),
    text("ImageSensorReadoutMode"),
    channel("ShutterSpeed_Angle", "shutter-angle", "deg"),
    special(
        "ShutterSpeed_Time",
        Holds::Channel("exposure-time", "", Form::Time),
        "s",
    ),
    extra("CameraMasterGainAdjustment", "dB"),
    channel("ISOSensitivity", "sensitivity", "ISO"),
    extra("ElectricalExtenderMagnification", "%"),
    text("AutoWhiteBalanceMode"),
    extra("WhiteBalance", "K"),
    extra("CameraMasterBlackLevel", "%"),
    extra("CameraKneePoint", "%"),
    extra("CameraKneeSlope", ""),
    extra("CameraLuminanceDynamicRange", "%"),
    text("CameraSettingFileURI"),
    text("CameraAttributes"),
    extra("ExposureIndexofPhotoMeter", ""),
    text("GammaForCDL"),
    text("ASC_CDL_V12"),
    text("ColorMatrix"),
];

impl Field {
    /// The word of the `unit` attribute; `None` where there is none to write.
    pub fn unit_word(&self) -> Option<&'static str> {
        match self.unit {
            "" | "f" | "T" | "ISO" => None,
            symbol => Some(crate::units::word(symbol)),
        }
    }
}

/// The row of a parameter.
pub fn field(parameter: &str) -> Option<&'static Field> {
    FIELDS.iter().find(|f| f.parameter == parameter)
}

/// Place of a parameter in the table.
pub fn position(parameter: &str) -> usize {
    FIELDS
        .iter()
        .position(|f| f.parameter == parameter)
        .unwrap_or(FIELDS.len())
}

/// The parameter that holds numbers of `channel` measured from `reference`.
pub fn of_channel(channel: &str, reference: &str) -> Option<(&'static Field, Form)> {
    FIELDS.iter().find_map(|field| match field.holds {
        Holds::Channel(name, from, form) if name == channel && from == reference => {
            Some((field, form))
        }
        _ => None,
    })
}

/// The parameter that holds a fact.
pub fn of_fact(name: &str) -> Option<&'static Field> {
    FIELDS
        .iter()
        .find(|field| matches!(field.holds, Holds::Fact(known) if known == name))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn every_row_is_found_by_what_it_holds() {
        for (index, row) in FIELDS.iter().enumerate() {
            assert_eq!(position(row.parameter), index);
            match row.holds {
                Holds::Channel(name, reference, form) => {
                    assert_eq!(of_channel(name, reference), Some((row, form)));
                }
                Holds::Fact(name) => assert_eq!(of_fact(name), Some(row)),
                _ => {}
            }
        }
        assert_eq!(of_fact("clip"), None);
        assert_eq!(field("focus-distance"), None);
    }
}
