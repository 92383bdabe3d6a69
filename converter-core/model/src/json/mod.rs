//! The neutral document as JSON.
