//! The head of a take: all that does not change from frame to frame.

use ringmark_quantity::{CountingMode, FrameRate};

use crate::extras::Extra;
use crate::lens::{Axis, EncoderRange};
use crate::place::Place;

/// A camera. `None` is 'not known'.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Camera {
    /// Maker.
    pub maker: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Firmware version.
    pub firmware: Option<String>,
    /// Label on set, as `A`.
    pub label: Option<String>,
}

/// The head of a take.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Take {
    /// Clip name.
    pub clip: Option<String>,
    /// Reel name.
    pub reel: Option<String>,
    /// Camera.
    pub camera: Camera,
    /// Width and height of the active sensor area in mm.
    pub sensor_mm: Option<(f64, f64)>,
    /// Width and height in pixels.
    pub resolution: Option<(u32, u32)>,
    /// Frame rate: what time code counts and the material is meant to play at.
    pub frame_rate: Option<FrameRate>,
    /// Rate at which frames were captured, if it was stated apart.
    pub capture_rate: Option<FrameRate>,
    /// Drop-frame or non-drop counting.
    pub counting: Option<CountingMode>,
    /// Time code label of the first frame, as text.
    pub start_timecode: Option<String>,
    /// Index of the lens in the document.
    pub lens: Option<usize>,
    /// Raw encoder ranges by ring.
    pub encoders: Vec<(Axis, EncoderRange)>,
    /// Model of the distortion coefficients with its direction and normalisation, as the source names it.
    pub distortion_model: Option<String>,
    /// What the model has no place for.
    pub extras: Vec<Extra>,
    /// Where facts stand in the source, by fact name.
    pub places: Vec<(String, Place)>,
}

impl Take {
    /// Clip name for people; 'unnamed take' if not known.
    pub fn label(&self) -> String {
        self.clip
            .clone()
            .or_else(|| self.reel.clone())
            .unwrap_or_else(|| "unnamed take".to_owned())
    }

    /// Where a fact stands in the source.
    pub fn place_of(&self, fact: &str) -> Option<Place> {
        self.places
            .iter()
            .find(|(name, _)| name == fact)
            .map(|(_, place)| place.clone())
    }

    /// The encoder range of a ring.
    pub fn encoder(&self, axis: Axis) -> Option<EncoderRange> {
        self.encoders
            .iter()
            .find(|(a, _)| *a == axis)
            .map(|(_, range)| *range)
    }
}

/// Name of a counting mode in documents and facts.
pub const fn counting_name(mode: CountingMode) -> &'static str {
    match mode {
        CountingMode::DropFrame => "drop-frame",
        CountingMode::NonDrop => "non-drop",
    }
}

/// The counting mode called `name`.
pub fn counting_from_name(name: &str) -> Option<CountingMode> {
    [CountingMode::DropFrame, CountingMode::NonDrop]
        .into_iter()
        .find(|&mode| counting_name(mode) == name)
}
