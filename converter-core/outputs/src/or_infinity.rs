//! Numbers of documents that may be infinite.

use serde::{Serialize, Serializer};

/// A number, or `"inf"`, as in all documents.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OrInfinity(pub f64);

impl Serialize for OrInfinity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.0.is_infinite() {
            true => serializer.serialize_str("inf"),
            false => serializer.serialize_f64(self.0),
        }
    }
}
