//! What the first pass over a file finds: the stage's units and times, and where the samples
//! of each camera stand.

use ringmark_sdk::Place;

use crate::value::{Meta, Scalar, Type};

/// Something with its place in the file.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed<T> {
    /// What it is.
    pub value: T,
    /// Where it stands.
    pub at: Place,
}

/// A stage as one layer describes it.
#[derive(Debug, Default)]
pub struct Stage {
    /// `metersPerUnit`.
    pub meters_per_unit: Option<Placed<f64>>,
    /// `timeCodesPerSecond`.
    pub time_codes_per_second: Option<Placed<f64>>,
    /// `framesPerSecond`.
    pub frames_per_second: Option<Placed<f64>>,
    /// `startTimeCode`.
    pub start: Option<Placed<f64>>,
    /// `endTimeCode`.
    pub end: Option<Placed<f64>>,
    /// `customLayerData`.
    pub custom: Option<Meta>,
    /// Its Camera prims, in the order of the file.
    pub cameras: Vec<Camera>,
}

/// A Camera prim.
#[derive(Debug)]
pub struct Camera {
    /// Its path in the stage, `/World/ShotCam`.
    pub path: String,
    /// Where it begins.
    pub at: Place,
    /// `customData`.
    pub custom: Option<Meta>,
    /// Its attributes that hold one number or text.
    pub attributes: Vec<Attribute>,
    /// Names of others, which are not read.
    pub others: Vec<String>,
}

impl Camera {
    /// The attribute called `name`.
    pub fn attribute(&self, name: &str) -> Option<&Attribute> {
        self.attributes.iter().find(|a| a.name == name)
    }
}

/// An attribute of a camera.
#[derive(Debug)]
pub struct Attribute {
    /// Its name.
    pub name: String,
    /// What it may hold.
    pub of: Type,
    /// Where it was declared first; the field is its path.
    pub at: Place,
    /// Its value where there are no samples.
    pub value: Option<Placed<Scalar>>,
    /// Its samples.
    pub samples: Option<Samples>,
    /// `customData` of the attribute.
    pub custom: Option<Meta>,
}

impl Attribute {
    /// Whether the value may change from frame to frame.
    pub fn is_animated(&self) -> bool {
        self.samples.is_some()
    }

    /// The value that holds in all frames.
    pub fn constant(&self) -> Option<&Scalar> {
        match self.is_animated() {
            true => None,
            false => self.value.as_ref().map(|v| &v.value),
        }
    }

    /// The constant or first number.
    pub fn first_number(&self) -> Option<f64> {
        match (&self.samples, self.constant()) {
            (Some(samples), _) => samples.number,
            (None, Some(Scalar::Number(number))) => Some(*number),
            _ => None,
        }
    }

    /// An entry of the dictionary that this program keeps beside an attribute.
    pub fn aside(&self, key: &str) -> Option<&str> {
        self.custom
            .as_ref()?
            .get(crate::fields::NAMESPACE)?
            .text(key)
    }
}

/// Where the samples of an attribute stand, and what they are like. There is at least one.
#[derive(Debug, Clone, PartialEq)]
pub struct Samples {
    /// Offset of the first key.
    pub offset: u64,
    /// How many there are.
    pub count: u64,
    /// Smallest key.
    pub first: f64,
    /// Largest key.
    pub last: f64,
    /// Whether each key is above the one before.
    pub sorted: bool,
    /// A key that came out of order or twice.
    pub disorder: Option<(f64, u64)>,
    /// The first key that is no whole number.
    pub fraction: Option<f64>,
    /// The first number among the values.
    pub number: Option<f64>,
}
