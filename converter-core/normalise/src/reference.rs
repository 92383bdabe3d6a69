//! What distances are measured from.

use ringmark_quantity::DistanceReference;

use crate::error::NormaliseError;

/// The reference called `name`.
pub(crate) fn reference(name: &str, what: &str) -> Result<DistanceReference, NormaliseError> {
    DistanceReference::from_name(name).ok_or_else(|| {
        NormaliseError::new(
            format!("{what} is measured from '{name}', which ringmark does not know"),
            "image-plane, entrance-pupil, front-vertex or unstated",
        )
    })
}
