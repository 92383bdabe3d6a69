//! What is not there.

crate::registry::checks! {
    frame_rate_missing,
}
