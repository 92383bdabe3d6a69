//! Units and values no lens has.

mod factor;

crate::registry::checks! {
    distance_unit_flips,
    scale_in_other_unit,
    distance_not_positive,
    focal_length_in_other_unit,
    value_impossible,
}

pub(crate) use distance_unit_flips::TOLERANCE as FACTOR_TOLERANCE;
pub(crate) use factor::{factor_between, unit_factor};
