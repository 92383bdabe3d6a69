//! In what a scale is nearly straight.

use ringmark_model::ScaleQuantity;

/// The coordinate in which a scale is interpolated: dioptres for focus (image blur is linear in them and infinity is
/// the ordinary point 0), `log2` of the squared stop for iris, the logarithm of the focal length for zoom.
#[inline]
pub fn coordinate(quantity: ScaleQuantity, value: f64) -> f64 {
    match quantity {
        ScaleQuantity::FocusDistance => 1.0 / value,
        ScaleQuantity::TStop | ScaleQuantity::FNumber => 2.0 * value.log2(),
        ScaleQuantity::FocalLength => value.ln(),
    }
}

#[inline]
pub(crate) fn from_coordinate(quantity: ScaleQuantity, y: f64) -> f64 {
    match quantity {
        ScaleQuantity::FocusDistance if y <= 0.0 => f64::INFINITY,
        ScaleQuantity::FocusDistance => 1.0 / y,
        ScaleQuantity::TStop | ScaleQuantity::FNumber => (y * 0.5).exp2(),
        ScaleQuantity::FocalLength => y.exp(),
    }
}
