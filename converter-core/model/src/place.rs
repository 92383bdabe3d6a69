//! Where something stands in the source.

/// A spot in an input. Lines and columns are computed from the bytes when they are shown.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Place {
    /// Index of the input among those of the document.
    pub input: u32,
    /// Byte offset.
    pub offset: u64,
    /// Bytes; 0 is the whole record at `offset`.
    pub length: u64,
    /// Name of the place in files without lines, as `part 1, attribute focus`.
    pub field: Option<String>,
}

impl Place {
    /// The record that starts at `offset`.
    pub fn record(input: u32, offset: u64) -> Self {
        Place {
            input,
            offset,
            length: 0,
            field: None,
        }
    }
}

impl From<crate::raw::RawPlace> for Place {
    fn from(raw: crate::raw::RawPlace) -> Self {
        Place {
            input: raw.input,
            offset: raw.offset,
            length: raw.length,
            field: (!raw.field.is_empty()).then_some(raw.field),
        }
    }
}
