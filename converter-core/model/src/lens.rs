//! A lens: who it is, what it can do, and the scales of its rings.

use ringmark_quantity::{
    Angle, DistanceReference, FNumber, Length, NominalFocalLength, RingScale, TStop, Unit,
};

use crate::batch::NumberColumn;
use crate::extras::Extra;
use crate::place::Place;

/// Prime or zoom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LensKind {
    /// One focal length.
    Prime,
    /// A range of focal lengths.
    Zoom,
}

impl LensKind {
    /// Name in documents.
    pub const fn name(self) -> &'static str {
        match self {
            LensKind::Prime => "prime",
            LensKind::Zoom => "zoom",
        }
    }

    /// The kind called `name`.
    pub fn from_name(name: &str) -> Option<Self> {
        match name {
            "prime" => Some(LensKind::Prime),
            "zoom" => Some(LensKind::Zoom),
            _ => None,
        }
    }
}

/// A lens. `None` is 'not known'.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lens {
    /// Maker.
    pub maker: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Firmware version.
    pub firmware: Option<String>,
    /// Prime or zoom.
    pub kind: Option<LensKind>,
    /// Shortest and longest nominal focal length; equal for a prime.
    pub focal_length: Option<(NominalFocalLength, NominalFocalLength)>,
    /// Close focus, measured from [`Lens::close_focus_reference`].
    pub close_focus: Option<Length>,
    /// What close focus is measured from.
    pub close_focus_reference: Option<DistanceReference>,
    /// Widest T-stop.
    pub widest_t: Option<TStop>,
    /// Smallest aperture as T-stop.
    pub smallest_t: Option<TStop>,
    /// Widest f-number.
    pub widest_f: Option<FNumber>,
    /// Smallest aperture as f-number.
    pub smallest_f: Option<FNumber>,
    /// Anamorphic squeeze; 1 is spherical.
    pub squeeze: Option<f64>,
    /// Diameter of the image circle.
    pub image_circle: Option<Length>,
    /// Scales of the rings.
    pub rings: Vec<Ring>,
    /// Tables over focus and zoom.
    pub tables: Vec<LensTable>,
    /// What the model has no place for.
    pub extras: Vec<Extra>,
    /// Where facts stand in the source, by fact name.
    pub places: Vec<(String, Place)>,
}

impl Lens {
    /// The ring of an axis.
    pub fn ring(&self, axis: Axis) -> Option<&Ring> {
        self.rings.iter().find(|r| r.axis == axis)
    }

    /// Where a fact stands in the source.
    pub fn place_of(&self, fact: &str) -> Option<Place> {
        self.places
            .iter()
            .find(|(name, _)| name == fact)
            .map(|(_, place)| place.clone())
    }

    /// Whether the two cannot be one lens: serial numbers differ, or models where a serial number is not known.
    /// What is not known contradicts nothing.
    pub fn contradicts(&self, other: &Lens) -> bool {
        let differ = |a: &Option<String>, b: &Option<String>| {
            a.as_ref()
                .zip(b.as_ref())
                .map(|(a, b)| plain_name(a) != plain_name(b))
        };
        differ(&self.serial, &other.serial)
            .or_else(|| differ(&self.model, &other.model))
            .unwrap_or(false)
    }

    /// The same lens with what `other` knows of it in addition.
    #[must_use]
    pub fn with_facts_of(self, other: &Lens) -> Lens {
        let mut extras = self.extras;
        let more = other.extras.iter();
        let new: Vec<Extra> = more
            .filter(|extra| extras.iter().all(|known| known.name != extra.name))
            .cloned()
            .collect();
        extras.extend(new);
        let (close_focus, close_focus_reference) = match self.close_focus {
            Some(_) => (self.close_focus, self.close_focus_reference),
            None => (other.close_focus, other.close_focus_reference),
        };
        Lens {
            maker: self.maker.or_else(|| other.maker.clone()),
            model: self.model.or_else(|| other.model.clone()),
            serial: self.serial.or_else(|| other.serial.clone()),
            firmware: self.firmware.or_else(|| other.firmware.clone()),
            kind: self.kind.or(other.kind),
            focal_length: self.focal_length.or(other.focal_length),
            close_focus,
            close_focus_reference,
            widest_t: self.widest_t.or(other.widest_t),
            smallest_t: self.smallest_t.or(other.smallest_t),
            widest_f: self.widest_f.or(other.widest_f),
            smallest_f: self.smallest_f.or(other.smallest_f),
            squeeze: self.squeeze.or(other.squeeze),
            image_circle: self.image_circle.or(other.image_circle),
            rings: self.rings,
            tables: self.tables,
            extras,
            places: self.places,
        }
    }

    /// Maker, model and serial number in one line for people; 'unnamed lens' if none is known.
    pub fn label(&self) -> String {
        let mut parts: Vec<String> = Vec::new();
        parts.extend(self.maker.clone());
        parts.extend(self.model.clone());
        parts.extend(self.serial.as_ref().map(|s| format!("#{s}")));
        if parts.is_empty() {
            "unnamed lens".to_owned()
        } else {
            parts.join(" ")
        }
    }
}

/// A name as it is compared: letters and digits only, in lower case.
pub fn plain_name(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

/// Which ring.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Axis {
    /// Focus ring.
    Focus,
    /// Iris ring.
    Iris,
    /// Zoom ring.
    Zoom,
}

impl Axis {
    /// All axes.
    pub const ALL: [Axis; 3] = [Axis::Focus, Axis::Iris, Axis::Zoom];

    /// Name in documents.
    pub const fn name(self) -> &'static str {
        match self {
            Axis::Focus => "focus",
            Axis::Iris => "iris",
            Axis::Zoom => "zoom",
        }
    }

    /// The axis called `name`.
    pub fn from_name(name: &str) -> Option<Self> {
        Axis::ALL.into_iter().find(|a| a.name() == name)
    }
}

/// What the scale of a ring reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ScaleQuantity {
    /// Focus distance in metres.
    FocusDistance,
    /// T-stop.
    TStop,
    /// f-number.
    FNumber,
    /// Nominal focal length in millimetres.
    FocalLength,
}

impl ScaleQuantity {
    /// All quantities.
    pub const ALL: [ScaleQuantity; 4] = [
        ScaleQuantity::FocusDistance,
        ScaleQuantity::TStop,
        ScaleQuantity::FNumber,
        ScaleQuantity::FocalLength,
    ];

    /// Name in documents.
    pub const fn name(self) -> &'static str {
        match self {
            ScaleQuantity::FocusDistance => "focus-distance",
            ScaleQuantity::TStop => "t-stop",
            ScaleQuantity::FNumber => "f-number",
            ScaleQuantity::FocalLength => "focal-length",
        }
    }

    /// The quantity called `name`.
    pub fn from_name(name: &str) -> Option<Self> {
        ScaleQuantity::ALL.into_iter().find(|q| q.name() == name)
    }

    /// Canonical unit of the marks' values.
    pub const fn unit(self) -> Unit {
        match self {
            ScaleQuantity::FocusDistance => Unit::Metre,
            ScaleQuantity::TStop => Unit::TStop,
            ScaleQuantity::FNumber => Unit::FNumber,
            ScaleQuantity::FocalLength => Unit::Millimetre,
        }
    }
}

/// Raw encoder values at ring position 0 and 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EncoderRange {
    /// Raw value at position 0.
    pub low: f64,
    /// Raw value at position 1; may be lower than `low` for a reversed encoder.
    pub high: f64,
}

impl EncoderRange {
    /// Positions 0 to 1 from raw ones; `None` for a range of no width.
    pub fn scale(self) -> Option<RingScale> {
        RingScale::counts(self.low, self.high).ok()
    }
}

/// The scale of one ring.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// Which ring.
    pub axis: Axis,
    /// What its scale reads.
    pub quantity: ScaleQuantity,
    /// What focus distances are measured from; `None` for iris and zoom.
    pub reference: Option<DistanceReference>,
    /// Unit of the scale as engraved.
    pub source_unit: Unit,
    /// Raw encoder range, where positions were recorded raw.
    pub encoder: Option<EncoderRange>,
    /// Rotation from end to end.
    pub rotation: Option<Angle>,
    /// The marks in the order of the source.
    pub marks: Vec<Mark>,
}

/// One mark of a ring.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Ring position, 0 to 1.
    pub position: f64,
    /// Position as recorded, where it was not recorded as 0 to 1.
    pub raw: Option<f64>,
    /// Value in the canonical unit of the ring's quantity; +infinity is infinity.
    pub value: f64,
    /// Text as engraved, if recorded.
    pub engraved: Option<String>,
    /// Where it stands.
    pub place: Option<Place>,
}

/// A table over focus and zoom, one column a channel.
#[derive(Debug, Clone, PartialEq)]
pub struct LensTable {
    /// Name of the table.
    pub name: String,
    /// Its columns, all of one length.
    pub columns: Vec<NumberColumn>,
}
