//! How rings move.

pub(crate) mod jumps;

crate::registry::checks! {
    value_outside_encoder_range,
    ring_jump,
    ring_frozen,
}
