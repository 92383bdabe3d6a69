//! Frame numbers and timecode.

pub(crate) mod labels;
mod seconds;
mod sequence;
mod watch;

crate::registry::checks! {
    frame_number_gap,
    frame_number_repeated,
    frame_number_goes_back,
    timecode_gap,
    timecode_repeated,
    timecode_goes_back,
    timecode_impossible,
    timecode_rate_mismatch,
    start_timecode_mismatch,
    timecode_passes_midnight,
    off_speed_take,
    frame_rate_not_expected,
}
