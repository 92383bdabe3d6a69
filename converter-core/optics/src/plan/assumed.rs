//! Where marks are expected on a ring of which nothing is known yet.

/// Ring position of a distance on a drive that is even and goes from close focus at 0 to infinity at 1: a thin lens that
/// moves as a whole, `d = f²/e + 2 f + e` (Newton's equation, physics of ring and distance in any textbook), or, without a
/// focal length, even in reciprocal distance. `metres` is not nearer than `near`, which is above four focal lengths;
/// nearer ones have no image at less than life size, and the ring is taken as even in reciprocal distance.
pub(super) fn position(metres: f64, near: f64, focal_length: Option<f64>) -> f64 {
    let straight = 1.0 - near / metres;
    let Some(f) = focal_length else {
        return straight;
    };
    let extension = |metres: f64| {
        let reach = metres - 2.0 * f;
        2.0 * f * f / (reach + (reach * reach - 4.0 * f * f).sqrt())
    };
    let position = 1.0 - extension(metres) / extension(near);
    if position.is_finite() {
        position
    } else {
        straight
    }
}

#[cfg(test)]
mod tests {
    use super::position;

    #[test]
    fn a_thin_lens_between_its_ends() {
        assert_eq!(position(0.5, 0.5, Some(0.05)), 0.0);
        assert_eq!(position(f64::INFINITY, 0.5, Some(0.05)), 1.0);
        // e = 5 mm at 0.605 m by d = f²/e + 2f + e; 0.5 m is e = 6.771 mm: 400 = 2500/e + e.
        let near = (400.0 - f64::sqrt(400.0 * 400.0 - 10_000.0)) / 2.0;
        assert!((position(0.605, 0.5, Some(0.05)) - (1.0 - 5.0 / near)).abs() < 1e-12);
        assert_eq!(position(1.0, 0.5, None), 0.5);
        // 0.15 m is nearer than a lens of 50 mm can be focused at.
        assert_eq!(position(0.3, 0.15, Some(0.05)), 0.5);
    }
}
