//! How rings move.

pub(crate) mod jumps;

crate::registry::checks! {
    value_outside_encoder_range,
    ring_jump,
    encoder_wrapped,
    ring_faster_than_a_motor,
    homing_sweep_in_take,
    readings_held,
    stop_jumps,
    ring_frozen,
}
