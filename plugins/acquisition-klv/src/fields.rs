//! Which item of which set is which channel, fact or extra, in which unit: the one table.
//!
//! Extras carry the parameter names of EBU Tech 3349. Codes, units and words as an independent
//! open decoder has them, which names EBU Tech 3349 and SMPTE RDD 18 as its source.

/// Which set an item belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Lens unit set.
    Lens,
    /// Camera unit set.
    Camera,
}

impl Unit {
    /// Its name in extras and places.
    pub fn name(self) -> &'static str {
        match self {
            Unit::Lens => "lens",
            Unit::Camera => "camera",
        }
    }
}

/// How the value of an item is coded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Codec {
    /// 16-bit stop code.
    Stop,
    /// 16-bit distance code; very large ones are infinity.
    Distance,
    /// 16-bit distance code of a focal length.
    FocalLength,
    /// 16-bit part of a turn.
    Ring,
    /// Whole number of 16 bits. Where 0 means nothing, `least` is 1.
    Whole {
        /// The smallest number that means something.
        least: u16,
    },
    /// Whole number of 32 bits.
    Whole32,
    /// 16 bits, so many to one; perhaps in two's complement.
    Parts {
        /// Steps to one.
        per: f64,
        /// Whether the upper half is taken as negative.
        signed: bool,
    },
    /// Two 32-bit numbers; a rate may not be 0.
    Fraction {
        /// Whether it is a rate.
        rate: bool,
    },
    /// UTF-8.
    Text,
    /// A byte: `Off` if it is 0, else `On`.
    Switch,
    /// A byte that stands for a word.
    Words(&'static [(u8, &'static str)]),
    /// A label that stands for a way of exposing.
    Exposure,
    /// A 16-byte label.
    Label,
    /// Ten 16-bit floats: slope, offset, power of three colours, saturation.
    Cdl,
    /// Nine fractions.
    Matrix,
}

impl Codec {
    /// Whether its values are numbers; else they are texts.
    pub fn is_number(self) -> bool {
        !matches!(
            self,
            Codec::Text
                | Codec::Switch
                | Codec::Words(_)
                | Codec::Exposure
                | Codec::Label
                | Codec::Cdl
                | Codec::Matrix
        )
    }

    /// How its texts are read.
    pub fn form(self) -> &'static str {
        match self {
            Codec::Label => "hex",
            _ => "text",
        }
    }
}

/// One item.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// Its set.
    pub unit: Unit,
    /// Its tag.
    pub tag: u16,
    /// The channel or extra it becomes.
    pub name: &'static str,
    /// The unit of the values.
    pub symbol: &'static str,
    /// How it is coded.
    pub codec: Codec,
    /// What it is, for places.
    pub title: &'static str,
}

impl Field {
    /// Whether it is kept as an extra, so that any value must come back exactly.
    pub fn is_extra(&self) -> bool {
        self.name.starts_with(EXTRA)
    }
}

/// Start of the names of extras.
pub const EXTRA: &str = "extra/";

const fn lens(
    tag: u16,
    name: &'static str,
    symbol: &'static str,
    codec: Codec,
    title: &'static str,
) -> Field {
    Field {
        unit: Unit::Lens,
        tag,
        name,
        symbol,
        codec,
        title,
    }
}

const fn camera(
    tag: u16,
    name: &'static str,
    symbol: &'static str,
    codec: Codec,
    title: &'static str,
) -> Field {
    Field {
        unit: Unit::Camera,
        tag,
        name,
        symbol,
        codec,
        title,
    }
}

const PERCENT: Codec = Codec::Whole { least: 0 };
const MILLIMETRES: Codec = Codec::Parts {
    per: 1000.0,
    signed: false,
};
const DECIBELS: Codec = Codec::Parts {
    per: 100.0,
    signed: true,
};
const TENTHS: Codec = Codec::Parts {
    per: 10.0,
    signed: false,
};
const SIGNED_TENTHS: Codec = Codec::Parts {
    per: 10.0,
    signed: true,
};
const SENSING_AREAS: Codec = Codec::Words(&[
    (0, "Manual"),
    (1, "Center Sensitive Auto"),
    (2, "Full Screen Sensing Auto"),
    (3, "Multi Spot Sensing Auto"),
    (4, "Single Spot Sensing Auto"),
]);
const COLOUR_FILTERS: Codec = Codec::Words(&[
    (0, "Cross effect"),
    (1, "Color Compensation 3200 K"),
    (2, "Color Compensation 4300 K"),
    (3, "Color Compensation 6300 K"),
    (4, "Color Compensation 5600 K"),
]);
const READOUT_MODES: Codec = Codec::Words(&[
    (0, "Interlaced field"),
    (1, "Interlaced frame"),
    (2, "Progressive frame"),
    (0xff, "Undefined"),
]);
const WHITE_BALANCE_MODES: Codec = Codec::Words(&[
    (0, "Preset"),
    (1, "Automatic"),
    (2, "Hold"),
    (3, "One Push"),
]);
// Codes 2 and 3 are curves of single makers: their bytes are kept.
const GAMMAS: Codec = Codec::Words(&[
    (0, "Same as Capture Gamma"),
    (1, "Scene Linear"),
    (0xff, "Undefined"),
]);

/// All items, by set and tag: the order in which they are written.
#[rustfmt::skip]
pub const FIELDS: [Field; 40] = [
    lens(0x8000, "f-number", "f", Codec::Stop, "iris f-number"),
    lens(0x8001, "focus-distance", "m", Codec::Distance, "focus position from image plane"),
    lens(0x8002, "extra/FocusPositionFromFrontLensVertex", "", Codec::Distance, "focus position from front lens vertex"),
    lens(0x8003, "extra/MacroSetting", "", Codec::Switch, "macro setting"),
    lens(0x8004, "equivalent-focal-length", "m", Codec::FocalLength, "zoom, 35 mm still camera equivalent"),
    lens(0x8005, "nominal-focal-length", "m", Codec::FocalLength, "zoom, actual focal length"),
    lens(0x8006, "extra/OpticalExtenderMagnification", "", PERCENT, "optical extender magnification"),
    lens(0x8007, "lens", "", Codec::Text, "lens attributes"),
    lens(0x8008, "t-stop", "T", Codec::Stop, "iris T-number"),
    lens(0x8009, "iris-ring", "0..1", Codec::Ring, "iris ring position"),
    lens(0x800a, "focus-ring", "0..1", Codec::Ring, "focus ring position"),
    lens(0x800b, "zoom-ring", "0..1", Codec::Ring, "zoom ring position"),
    camera(0x3210, "extra/CaptureGammaEquation", "", Codec::Label, "capture gamma equation"),
    camera(0x3219, "extra/ColorPrimaries", "", Codec::Label, "colour primaries"),
    camera(0x321a, "extra/CodingEquations", "", Codec::Label, "coding equations"),
    camera(0x8100, "extra/AutoExposureMode", "", Codec::Exposure, "auto exposure mode"),
    camera(0x8101, "extra/AutoFocusSensingAreaSetting", "", SENSING_AREAS, "auto focus sensing area"),
    camera(0x8102, "extra/ColorCorrectionFilterWheelSetting", "", COLOUR_FILTERS, "colour correction filter wheel"),
    camera(0x8103, "extra/NeutralDensityFilterWheelSetting", "", Codec::Whole { least: 1 }, "neutral density filter wheel"),
    camera(SENSOR_WIDTH, "extra/ImageSensorDimensionEffectiveWidth", "", MILLIMETRES, "effective width of the image sensor"),
    camera(SENSOR_HEIGHT, "extra/ImageSensorDimensionEffectiveHeight", "", MILLIMETRES, "effective height of the image sensor"),
    camera(CAPTURE_RATE, "capture-rate", "fps", Codec::Fraction { rate: true }, "capture frame rate"),
    camera(0x8107, "extra/ImageSensorReadoutMode", "", READOUT_MODES, "readout mode of the image sensor"),
    camera(0x8108, "shutter-angle", "arcmin", Codec::Whole32, "shutter angle"),
    camera(0x8109, "exposure-time", "s", Codec::Fraction { rate: false }, "shutter time"),
    camera(0x810a, "extra/CameraMasterGainAdjustment", "", DECIBELS, "camera master gain"),
    camera(0x810b, "sensitivity", "ISO", Codec::Whole { least: 1 }, "ISO sensitivity"),
    camera(0x810c, "extra/ElectricalExtenderMagnification", "", PERCENT, "electrical extender magnification"),
    camera(0x810d, "extra/AutoWhiteBalanceMode", "", WHITE_BALANCE_MODES, "auto white balance mode"),
    camera(0x810e, "extra/WhiteBalance", "", Codec::Whole { least: 0 }, "white balance"),
    camera(0x810f, "extra/CameraMasterBlackLevel", "", SIGNED_TENTHS, "camera master black level"),
    camera(0x8110, "extra/CameraKneePoint", "", TENTHS, "camera knee point"),
    camera(0x8111, "extra/CameraKneeSlope", "", Codec::Fraction { rate: false }, "camera knee slope"),
    camera(0x8112, "extra/CameraLuminanceDynamicRange", "", TENTHS, "camera luminance dynamic range"),
    camera(0x8113, "extra/CameraSettingFileURI", "", Codec::Text, "camera setting file URI"),
    camera(0x8114, "extra/CameraAttributes", "", Codec::Text, "camera attributes"),
    camera(0x8115, "extra/ExposureIndexofPhotoMeter", "", Codec::Whole { least: 0 }, "exposure index of the photo meter"),
    camera(0x8116, "extra/GammaForCDL", "", GAMMAS, "gamma for ASC CDL"),
    camera(0x8117, "extra/ASC_CDL_V12", "", Codec::Cdl, "ASC CDL version 1.2"),
    camera(0x8118, "extra/ColorMatrix", "", Codec::Matrix, "colour matrix"),
];

/// Tag of the capture rate.
pub const CAPTURE_RATE: u16 = 0x8106;
/// Tag of the sensor's width.
pub const SENSOR_WIDTH: u16 = 0x8104;
/// Tag of the sensor's height.
pub const SENSOR_HEIGHT: u16 = 0x8105;

/// Index of the focus position from the image plane.
pub const FROM_IMAGE_PLANE: usize = 1;
/// Index of the focus position from the front lens vertex.
pub const FROM_FRONT_VERTEX: usize = 2;
/// Index of the sensor's width.
pub const WIDTH: usize = 19;
/// Index of the sensor's height.
pub const HEIGHT: usize = 20;
/// Index of the capture rate.
pub const RATE: usize = 21;

/// The facts that items become where they do not change: index of the item, name, unit. The
/// items are in thousandths of the unit in which extras are.
pub const SENSOR_FACTS: [(usize, &str, &str); 2] = [
    (WIDTH, "sensor-width", "um"),
    (HEIGHT, "sensor-height", "um"),
];

/// Index in [`FIELDS`] of the item with this tag.
pub fn index_of(unit: Unit, tag: u16) -> Option<usize> {
    match unit {
        Unit::Lens => (0x8000..=0x800b)
            .contains(&tag)
            .then(|| usize::from(tag - 0x8000)),
        Unit::Camera => match tag {
            0x3210 => Some(12),
            0x3219 => Some(13),
            0x321a => Some(14),
            0x8100..=0x8118 => Some(15 + usize::from(tag - 0x8100)),
            _ => None,
        },
    }
}

/// Index in [`FIELDS`] of the item called `name`.
pub fn index_by_name(name: &str) -> Option<usize> {
    FIELDS.iter().position(|field| field.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_item_is_found_and_stands_in_order() {
        for (index, field) in FIELDS.iter().enumerate() {
            assert_eq!(index_of(field.unit, field.tag), Some(index));
            assert_eq!(index_by_name(field.name), Some(index));
        }
        assert!(FIELDS.is_sorted_by_key(|f| (f.unit == Unit::Camera, f.tag)));
        assert_eq!(index_of(Unit::Lens, 0x800c), None);
        assert_eq!(index_of(Unit::Camera, 0x8119), None);
        assert_eq!(index_of(Unit::Lens, 0x8100), None);
        for (index, tag) in [
            (WIDTH, SENSOR_WIDTH),
            (HEIGHT, SENSOR_HEIGHT),
            (RATE, CAPTURE_RATE),
            (FROM_IMAGE_PLANE, 0x8001),
            (FROM_FRONT_VERTEX, 0x8002),
        ] {
            assert_eq!(FIELDS[index].tag, tag);
        }
    }
}
