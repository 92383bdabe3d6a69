//! Two records of one thing.

pub(crate) mod distance_jumps;

crate::registry::checks! {
    ring_distance_mismatch,
}

pub(crate) use ring_distance_mismatch::{LIMIT, comparable, travel_off};
