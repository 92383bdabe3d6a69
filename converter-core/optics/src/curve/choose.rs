//! What a curve rests on: a drive, the marks themselves, or all marks but one.

use super::fit::Points;
use super::floor;
use super::ring::Shape;
use super::scale::{self, Scale};

/// Residuals below this, one standard deviation in travel, are plain reading errors.
const SUSPECT: f64 = 2e-3;
/// With fewer marks the others do not tell which one is wrong.
const FEWEST: usize = 7;
/// A mark is set aside if it lies farther from where the others put it than this, in travel,
const FAR: f64 = 0.01;
/// and than this many reading errors of the others,
const OUTSIDE: f64 = 8.0;
/// and if they fit this much better without it.
const BETTER: f64 = 3.0;

pub(crate) struct Chosen {
    pub scale: Scale,
    pub shape: Shape,
    /// The mark that the curve does not follow.
    pub aside: Option<usize>,
}

/// The curve for marks; `None` for fewer than two.
pub(crate) fn choose(points: &Points) -> Option<Chosen> {
    let fitted = scale::scale(points);
    if let Some(chosen) = fitted.as_ref().and_then(|scale| without_one(points, scale)) {
        return Some(chosen);
    }
    let alone = floor::left_out(points);
    let fitted = fitted.filter(|scale| !floor::is_safer(&alone, scale));
    let shape = match &fitted {
        Some(scale) if scale.even => Shape::Even,
        Some(_) => Shape::Cam,
        None => Shape::Marks,
    };
    Some(Chosen {
        scale: fitted.or_else(|| floor::through_marks(points, &alone))?,
        shape,
        aside: None,
    })
}

/// The curve of all marks but one, if that one is plainly wrong. Only inner marks are judged: without an end mark the
/// rest says too little about it.
fn without_one(points: &Points, scale: &Scale) -> Option<Chosen> {
    let count = points.position.len();
    if count < FEWEST || scale.error < SUSPECT {
        return None;
    }
    let mut inner: Vec<(usize, f64)> = scale.left_out.iter().copied().enumerate().collect();
    inner.retain(|(mark, _)| 0 < *mark && mark + 1 < count);
    inner.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    let tried = inner.iter().take(2).filter_map(|(mark, _)| {
        let rest = points.without(*mark);
        let mut found = scale::scale(&rest)?;
        let (y, position) = (points.coordinate.get(*mark)?, points.position.get(*mark)?);
        let off = position - found.curve.position_of(found.law.extension(*y));
        let plain = off.abs() > FAR.max(OUTSIDE * found.error)
            && found.error * BETTER < scale.error
            && !floor::is_safer(&floor::left_out(&rest), &found);
        found.left_out.insert(*mark, off);
        plain.then_some((*mark, found))
    });
    let (mark, scale) = tried.min_by(|a, b| a.1.error.total_cmp(&b.1.error))?;
    Some(Chosen {
        shape: if scale.even { Shape::Even } else { Shape::Cam },
        scale,
        aside: Some(mark),
    })
}
