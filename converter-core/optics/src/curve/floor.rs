//! The plain curve through the marks, for scales that no drive explains.

use super::fit::Points;
use super::law::FocusLaw;
use super::pchip::Pchip;
use super::scale::Scale;

/// Smallest reading error taken for marks that are met exactly, in travel.
const LEAST_ERROR: f64 = 2e-4;

/// The monotone cubic through the marks. What it is off between them is judged by leaving one out: the gap is then twice
/// as wide, so half of that.
pub(crate) fn through_marks(points: &Points, left_out: &[f64]) -> Option<Scale> {
    let (mut x, mut y) = (points.position.clone(), points.coordinate.clone());
    if x.first() > x.last() {
        x.reverse();
        y.reverse();
    }
    let curve = Pchip::new(x, y)?;
    let error = between_marks(left_out);
    let spread = steepest_around(&curve).map(|slope| error * slope).collect();
    Some(Scale {
        law: FocusLaw::STRAIGHT,
        curve,
        spread,
        error,
        doubt: error,
        freedom: left_out.len().max(1) as f64,
        even: false,
        left_out: left_out.to_vec(),
    })
}

/// What the curve through the marks is expected to be off between them, in travel.
fn between_marks(left_out: &[f64]) -> f64 {
    (0.5 * rms(left_out)).max(LEAST_ERROR)
}

/// Slopes at the knots are 0 where a cubic levels out; the secants around tell what an error of travel amounts to.
fn steepest_around(curve: &Pchip) -> impl Iterator<Item = f64> {
    let secants: Vec<f64> = (0..)
        .map_while(|k| curve.interval(k))
        .map(|piece| ((piece.y1 - piece.y0) / piece.h).abs())
        .collect();
    let at = move |k: Option<usize>| k.and_then(|k| secants.get(k)).copied().unwrap_or(0.0);
    (0..curve.x().len()).map(move |k| at(k.checked_sub(1)).max(at(Some(k))))
}

/// Position of each inner mark minus what the curve through the others predicts; ends are not judged.
pub(crate) fn left_out(points: &Points) -> Vec<f64> {
    let without = |k: usize| {
        let rest = points.without(k);
        let curve = Pchip::new(rest.coordinate, rest.position)?;
        Some(points.position.get(k)? - curve.value(*points.coordinate.get(k)?))
    };
    (1..points.position.len().saturating_sub(1))
        .filter_map(without)
        .collect()
}

pub(crate) fn rms(values: &[f64]) -> f64 {
    let squares: f64 = values.iter().map(|v| v * v).sum();
    (squares / values.len().max(1) as f64).sqrt()
}

/// Whether the curve through the marks is the safer one: it predicts the inner marks clearly better than the scale does,
/// so that chance does not decide; or better at all, where the scale predicts far worse than it fits, bending from mark
/// to mark; or the scale does that and misses by more than a smooth drive ever does; or its residuals are no reading
/// errors; or many drives explain the marks and lie farther apart than the cubic is expected to be off.
pub(crate) fn is_safer(left_out: &[f64], scale: &Scale) -> bool {
    /// Below the usual reading error, in travel, there is nothing to win.
    const WORTH_IT: f64 = 1e-3;
    const CLEARLY: f64 = 1.6;
    const FAR_WORSE: f64 = 4.0;
    const TOO_FAR: f64 = 4e-3;
    /// Twice the worst reading error, in travel.
    const NO_READING: f64 = 6e-3;
    /// More than reading errors leave open, in travel.
    const IN_DOUBT: f64 = 5e-3;
    if scale.error > NO_READING {
        return true;
    }
    let inner = scale
        .left_out
        .get(1..scale.left_out.len().saturating_sub(1));
    let (own, other) = (rms(inner.unwrap_or_default()), rms(left_out));
    if left_out.len() < 3 {
        return false;
    }
    if scale.doubt > IN_DOUBT.max(1.5 * between_marks(left_out)) {
        return true;
    }
    if own <= WORTH_IT {
        return false;
    }
    let bends = own > FAR_WORSE * scale.error;
    own > CLEARLY * other || (bends && (own > other || own > TOO_FAR))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn points(marks: &[(f64, f64)]) -> Points {
        Points {
            coordinate: marks.iter().map(|mark| mark.0).collect(),
            position: marks.iter().map(|mark| mark.1).collect(),
            focus: true,
        }
    }

    #[test]
    fn a_mark_off_a_line_is_seen_by_the_others() {
        let off = left_out(&points(&[(0.0, 1.0), (1.0, 0.8), (2.0, 0.5), (3.0, 0.4)]));
        // Without the second mark three are left, which are not on a line: only the sign is plain.
        assert_eq!(off.len(), 2);
        assert!(off[0] > 0.0 && off[1] < 0.0, "{off:?}");
        let line = left_out(&points(&[(0.0, 1.0), (1.0, 0.8), (2.0, 0.6), (3.0, 0.4)]));
        assert!(rms(&line) < 1e-12);
    }

    #[test]
    fn the_band_is_never_narrower_where_the_curve_is_level() {
        let marks = points(&[
            (0.0, 1.0),
            (0.001, 0.6),
            (1.0, 0.55),
            (1.001, 0.1),
            (2.0, 0.0),
        ]);
        let off = left_out(&marks);
        let scale = through_marks(&marks, &off).unwrap();
        assert_eq!(scale.spread.len(), 5);
        let least = scale.error * 0.002;
        assert!(
            scale.error > 0.02 && scale.spread.iter().all(|s| *s > least),
            "{scale:?}"
        );
    }
}
