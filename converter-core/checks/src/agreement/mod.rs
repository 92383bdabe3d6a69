//! Two records of one thing.

pub(crate) mod distance_jumps;
pub(crate) mod finder;
pub(crate) mod lens_columns;

mod other_ring;

crate::registry::checks! {
    ring_distance_mismatch,
    ring_direction_reversed,
    rings_swapped,
    value_frozen,
    values_too_coarse,
    channels_out_of_step,
    ring_stop_mismatch,
    ring_focal_length_mismatch,
    focal_lengths_disagree,
    exposure_time_mismatch,
    encoder_range_differs,
    distance_references_differ,
    rangefinder_disagrees,
    rangefinder_lags,
    rangefinder_offset_likely,
    records_share_no_frames,
    records_out_of_step,
    records_differ,
    frames_missing_in_one_record,
}

pub(crate) use records_out_of_step::largest_offset;

pub(crate) use ring_distance_mismatch::{LIMIT, comparable, travel_off};
