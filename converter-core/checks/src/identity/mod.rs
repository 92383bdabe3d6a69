//! Which lens it is.

mod names;

crate::registry::checks! {
    lens_not_expected,
    camera_not_expected,
    lens_changes_in_take,
    lens_differs_from_take,
    lens_name_differs_from_data,
    serial_number_placeholder,
    name_unreadable,
    calibration_outdated,
}

/// Channels that name the lens.
pub(crate) use lens_changes_in_take::CHANNELS;
