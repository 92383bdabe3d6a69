//! What can be wrong with a header.

/// What is wrong with a header.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Defect {
    /// Offset in the file.
    pub at: u64,
    /// Bytes; 0 for a point.
    pub length: u64,
    /// Index of the part, in multi-part files.
    pub part: Option<usize>,
    /// Name of the attribute; empty outside attributes.
    pub attribute: String,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: &'static str,
}

/// Why a walk stopped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Halt {
    /// The header goes on behind the bytes at hand.
    More {
        /// Bytes that are needed, from the start of the file.
        need: u64,
        /// What to say if the file has not as many.
        missing: Box<Defect>,
    },
    /// The header is damaged.
    Damaged(Box<Defect>),
}

/// Help for files that are not whole.
pub const DAMAGED: &str = "the file is damaged or was not closed by its writer: write it again";

impl Defect {
    /// A defect outside parts and attributes.
    pub fn new(at: usize, length: usize, message: impl Into<String>, help: &'static str) -> Defect {
        Defect {
            at: at as u64,
            length: length as u64,
            part: None,
            attribute: String::new(),
            message: message.into(),
            help,
        }
    }
}
