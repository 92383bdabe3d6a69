//! What is not there.

crate::registry::checks! {
    frame_rate_missing,
    lens_unnamed,
    calibration_missing,
    marks_too_few,
    channel_mostly_missing,
    channel_all_zero,
    distortion_model_missing,
    name_misspelt,
}
