//! Items as they cross the border of a plugin: in the source's units, names unchecked.
//!
//! The fields mirror the contract (`plugins/contract/v1`), which documents them.

/// A spot in an input.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RawPlace {
    /// Index of the input.
    pub input: u32,
    /// Byte offset.
    pub offset: u64,
    /// Bytes; 0 is a point.
    pub length: u64,
    /// Name of the place in files without lines.
    pub field: String,
}

/// Number or text.
#[derive(Debug, Clone, PartialEq)]
pub enum RawDatum {
    /// NaN is 'not recorded'.
    Number(f64),
    /// As it stands.
    Text(String),
}

/// A named value.
#[derive(Debug, Clone, PartialEq)]
pub struct RawFact {
    /// Name of the registry in [`crate::facts`], or `extra/NAME`.
    pub name: String,
    /// Its value.
    pub value: RawDatum,
    /// Symbol of its unit; empty for text and pure numbers.
    pub unit: String,
    /// Where it stands.
    pub at: Option<RawPlace>,
}

/// One mark of a ring.
#[derive(Debug, Clone, PartialEq)]
pub struct RawMark {
    /// In the ring's position unit.
    pub position: f64,
    /// In the ring's value unit.
    pub value: f64,
    /// Text as engraved.
    pub engraved: String,
    /// Where it stands.
    pub at: Option<RawPlace>,
}

/// The scale of one ring.
#[derive(Debug, Clone, PartialEq)]
pub struct RawRing {
    /// `focus`, `iris` or `zoom`.
    pub axis: String,
    /// Unit of the positions.
    pub position_unit: String,
    /// Unit of the values.
    pub value_unit: String,
    /// Facts about the ring.
    pub facts: Vec<RawFact>,
    /// Its marks.
    pub marks: Vec<RawMark>,
}

/// A table of a lens.
#[derive(Debug, Clone, PartialEq)]
pub struct RawTable {
    /// Name of the table.
    pub name: String,
    /// Facts about it.
    pub facts: Vec<RawFact>,
    /// Its columns.
    pub columns: Vec<RawColumn>,
}

/// A lens.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RawLens {
    /// Facts.
    pub facts: Vec<RawFact>,
    /// Scales.
    pub rings: Vec<RawRing>,
    /// Tables.
    pub tables: Vec<RawTable>,
}

/// The head of a take.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RawTake {
    /// Index of a lens item before.
    pub lens: Option<u32>,
    /// Facts.
    pub facts: Vec<RawFact>,
}

/// Numbers of one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct RawColumn {
    /// Channel of the registry, or `extra/NAME`.
    pub channel: String,
    /// Unit of the values.
    pub unit: String,
    /// What distances are measured from; empty for others.
    pub reference: String,
    /// One value a frame.
    pub values: Vec<f64>,
}

/// Texts of one channel, dictionary coded.
#[derive(Debug, Clone, PartialEq)]
pub struct RawLabels {
    /// Channel of the registry, or `extra/NAME`.
    pub channel: String,
    /// `text`, `json` or `hex`.
    pub form: String,
    /// All texts behind one another.
    pub text: String,
    /// Where each ends.
    pub ends: Vec<u32>,
    /// Which one each frame has; `u32::MAX` is 'not recorded'.
    pub index: Vec<u32>,
}

/// Consecutive frames of one take.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RawFrames {
    /// Which take.
    pub take: u32,
    /// Index of the first frame in the take.
    pub first: u64,
    /// Frames in the batch.
    pub count: u32,
    /// Numbers.
    pub columns: Vec<RawColumn>,
    /// Texts.
    pub labels: Vec<RawLabels>,
    /// Input of each frame; empty: all from input 0.
    pub inputs: Vec<u32>,
    /// Byte offset of each frame's record; may be empty.
    pub offsets: Vec<u64>,
}

/// Something a reader noticed.
#[derive(Debug, Clone, PartialEq)]
pub struct RawRemark {
    /// `error`, `warning` or `note`.
    pub severity: String,
    /// Kebab-case name of the defect.
    pub check: String,
    /// What it noticed.
    pub message: String,
    /// What to do.
    pub help: String,
    /// Where.
    pub at: Option<RawPlace>,
}

/// What crosses the border.
#[derive(Debug, Clone, PartialEq)]
pub enum RawItem {
    /// A lens.
    Lens(RawLens),
    /// The head of a take.
    Take(RawTake),
    /// Frames of a take.
    Frames(RawFrames),
    /// Something noticed.
    Remark(RawRemark),
}

/// Prefix of names outside the registries.
pub const EXTRA: &str = "extra/";
