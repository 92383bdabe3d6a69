//! Why a table of a lens gives no surface.

/// What is wrong with a table over focus distance and focal length.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SurfaceError {
    /// Columns that differ in length.
    #[error("{what} has {found} values: expected {expected}, one a row")]
    Lengths {
        /// The column.
        what: &'static str,
        /// Its length.
        found: usize,
        /// Length of the column of values.
        expected: usize,
    },
    /// Nothing to interpolate over.
    #[error(
        "the table has neither focus distances nor focal lengths: add the column that its values go with"
    )]
    NoAxis,
    /// No row with a value.
    #[error("no row has a value")]
    Empty,
    /// A place in the table that cannot be.
    #[error("row {row}: {what} {value}: expected a number above 0{}", if *infinite { ", or infinity" } else { "" })]
    Axis {
        /// The row, from 1.
        row: usize,
        /// The column.
        what: &'static str,
        /// The number there.
        value: f64,
        /// Whether infinity would be possible.
        infinite: bool,
    },
    /// A value that no curve can go through.
    #[error("row {row}: {value}: expected a finite number; leave out what is not known")]
    Value {
        /// The row, from 1.
        row: usize,
        /// The number there.
        value: f64,
    },
    /// Two rows for one place.
    #[error("rows {first} and {second} are of one focus distance and focal length: remove one")]
    Repeated {
        /// The earlier row, from 1.
        first: usize,
        /// The later row, from 1.
        second: usize,
    },
    /// One distance is no curve.
    #[error("{} one focus distance: expected two or more", match focal_length {
        Some(mm) => format!("at {mm} mm there is"),
        None => "there is".to_owned(),
    })]
    OneDistance {
        /// The focal length in millimetres, in tables that go by it.
        focal_length: Option<f64>,
    },
}
