//! What optics and the lens's own data allow.

crate::registry::checks! {
    distance_below_close_focus,
    stop_outside_lens_range,
    focal_length_outside_lens_range,
    focal_length_changes_on_prime,
    t_stop_below_f_number,
    transmittance_implausible,
}

/// Share of close focus below which a distance is certainly wrong.
pub(crate) fn close_focus_error_ratio() -> f64 {
    distance_below_close_focus::ERROR.default
}
