//! Which lens it is.

crate::registry::checks! {
    lens_changes_in_take,
    lens_differs_from_take,
}
