//! Marks of a ring against each other and against the lens's own data.

mod edits;
mod evidence;
mod hypothesis;
mod judgement;
mod leave_one_out;
mod order;
mod rewriting;
mod shift;
mod whole_scale;

pub(crate) use judgement::{Judged, judge};

crate::registry::checks! {
    ring_positions_not_monotonic,
    ring_values_not_monotonic,
    mark_repeated,
    infinity_mark_missing,
    close_focus_mark_missing,
    mark_below_close_focus,
    mark_outside_lens_range,
    mark_off_the_curve,
    marks_shifted,
    labels_shifted,
    scale_reversed,
    feet_inches_as_decimals,
    infinity_at_end_stop,
    scale_from_lens_front,
}
