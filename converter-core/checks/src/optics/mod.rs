//! What optics and the lens's own data allow.

crate::registry::checks! {
    distance_below_close_focus,
    stop_outside_lens_range,
    focal_length_outside_lens_range,
    focal_length_changes_on_prime,
    t_stop_below_f_number,
    transmittance_implausible,
    depth_of_field_impossible,
    hyperfocal_mismatch,
    field_of_view_mismatch,
    entrance_pupil_implausible,
    image_circle_too_small,
    pixels_not_square,
    distortion_folds_in_frame,
}

/// Share of close focus below which a distance is certainly wrong.
pub(crate) use distance_below_close_focus::ERROR as CLOSE_FOCUS_ERROR;
