//! Why a plugin's item cannot become part of the neutral model.

use std::fmt;

use ringmark_model::Place;

/// A name, unit or value that the neutral model does not know. The plugin is to blame, or the
/// mapping that the person gave it.
#[derive(Debug, Clone, PartialEq)]
pub struct NormaliseError {
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: String,
    /// Where in the source.
    pub place: Option<Place>,
}

impl NormaliseError {
    pub(crate) fn new(message: impl Into<String>, help: impl Into<String>) -> Self {
        NormaliseError {
            message: message.into(),
            help: help.into(),
            place: None,
        }
    }

    pub(crate) fn at(mut self, place: Option<Place>) -> Self {
        self.place = place;
        self
    }
}

impl fmt::Display for NormaliseError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for NormaliseError {}
