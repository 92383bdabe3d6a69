//! Why a document was not written.

use thiserror::Error;

/// Why a document was not written.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The output did not take the bytes.
    #[error("cannot write: {0}")]
    Output(#[from] std::io::Error),
    /// The pieces do not make a document of this form.
    #[error("{message}")]
    Content {
        /// What is wrong.
        message: String,
        /// What to do.
        help: &'static str,
    },
}

impl WriteError {
    pub(super) fn content(message: impl Into<String>, help: &'static str) -> Self {
        WriteError::Content {
            message: message.into(),
            help,
        }
    }

    /// What to do, where it is known.
    pub fn help(&self) -> Option<&'static str> {
        match self {
            WriteError::Output(_) => None,
            WriteError::Content { help, .. } => Some(help),
        }
    }
}
