//! What keeps marks from being a scale.

use thiserror::Error;

/// Why the marks of a ring make no curve. Marks are named by their index in the ring.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum CurveError {
    /// Fewer than two marks.
    #[error("{found} marks: a curve needs 2 or more; add the marks of the scale")]
    TooFew {
        /// Marks of the ring.
        found: usize,
    },
    /// A position that is no finite number, or a value that cannot stand on the scale.
    #[error(
        "mark {mark}: position {position}, value {value}: expected a finite position and a value above 0; correct or leave out the mark"
    )]
    Mark {
        /// Index of the mark.
        mark: usize,
        /// Its ring position.
        position: f64,
        /// Its value in the canonical unit.
        value: f64,
    },
    /// Two marks at one ring position.
    #[error(
        "marks {first} and {second} share the ring position {position}; a position has one value, leave one out"
    )]
    Repeated {
        /// Index of one mark.
        first: usize,
        /// Index of the other.
        second: usize,
        /// Their position.
        position: f64,
    },
    /// Values turn round, or stand still, on the way along the ring.
    #[error(
        "marks {first} and {second}: values {first_value} and {second_value} run against the rest of the scale; correct one of them"
    )]
    NotMonotone {
        /// Index of the mark at the lower position.
        first: usize,
        /// Index of the one at the higher position.
        second: usize,
        /// Value of the first.
        first_value: f64,
        /// Value of the second.
        second_value: f64,
    },
}
