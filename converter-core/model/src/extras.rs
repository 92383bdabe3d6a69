//! Data the model has no place for, kept under the name its source gave it.

use crate::batch::TextForm;

/// A value outside the registries.
#[derive(Debug, Clone, PartialEq)]
pub struct Extra {
    /// Name in the source, without prefix.
    pub name: String,
    /// Its value.
    pub value: ExtraValue,
}

/// Value of an extra.
#[derive(Debug, Clone, PartialEq)]
pub enum ExtraValue {
    /// A number with the unit symbol its source gave, if any.
    Number(f64, String),
    /// A text.
    Text(TextForm, String),
}
