//! The scale of a ring, from all candidates by how well each explains the marks.

use super::cam::{self, Candidate};
use super::fit::{self, Fit, Points};
use super::floor;
use super::law::FocusLaw;
use super::pchip::Pchip;

/// Intervals of the table between the end marks: the drive is smooth, and a cubic over 1/64 of it is exact to 1e-9.
const INTERVALS: u32 = 64;
/// How far the table goes on at a near end, in travel: a little more than is counted as the end mark.
const MARGIN: f64 = 0.006;
/// How far barrels turn past infinity (common practice, no source: 1 to 5 % of travel).
pub(crate) const PAST_INFINITY: f64 = 0.05;
/// Infinity is extrapolated by no more than this part of the marked travel.
const FARTHEST: f64 = 0.5;
/// Candidates less likely than this are left out.
const NEGLIGIBLE: f64 = 1e-3;

/// Fewer marks do not tell where a corner is.
const FEWEST_FOR_A_CORNER: usize = 6;

/// How many of the cells in which a corner may lie are tried, the most promising first.
const CORNERS: usize = 4;

/// A scale as a table.
#[derive(Debug, Clone)]
pub(crate) struct Scale {
    pub law: FocusLaw,
    /// Extension of the law over position.
    pub curve: Pchip,
    /// Standard deviations of the extension at the knots.
    pub spread: Vec<f64>,
    /// Reading error, one standard deviation, in travel.
    pub error: f64,
    pub freedom: f64,
    /// Root mean square standard deviation of the position between the end marks.
    pub doubt: f64,
    /// Whether an even drive explains the marks best.
    pub even: bool,
    /// Position of each mark minus what the others predict.
    pub left_out: Vec<f64>,
}

struct Weighed {
    fit: Fit,
    weight: f64,
}

struct Knot {
    position: f64,
    extension: f64,
    slope: f64,
    spread: f64,
}

/// The scale through marks; `None` where no candidate gives one that runs one way.
pub(crate) fn scale(points: &Points) -> Option<Scale> {
    let fits = weighed(points);
    let best = fits.iter().max_by(|a, b| a.weight.total_cmp(&b.weight))?;
    let law = best.fit.law;
    let travel = points.position.last()? - points.position.first()?;
    let mut knots = Vec::new();
    for extension in grid(points, &best.fit, travel) {
        let knot = knot(&fits, &law, extension)?;
        let inside = extension >= best.fit.extensions().0 && extension <= best.fit.extensions().1;
        let runs_on = knots
            .last()
            .is_none_or(|last: &Knot| (knot.position - last.position) * travel > 0.0);
        if runs_on && knot.slope * travel > 0.0 {
            knots.push(knot);
        } else if inside {
            return None;
        } else if extension < best.fit.extensions().0 {
            // What lies farther out is given up.
            knots.clear();
        }
    }
    let far = *points.position.first()?;
    knots.retain(|knot| (far - knot.position) / travel <= FARTHEST);
    if travel < 0.0 {
        knots.reverse();
    }
    let (low, high) = best.fit.extensions();
    let between = knots
        .iter()
        .filter(|k| low <= k.extension && k.extension <= high);
    let doubts: Vec<f64> = between.map(|k| k.spread / k.slope).collect();
    let column = |get: fn(&Knot) -> f64| knots.iter().map(get).collect::<Vec<f64>>();
    Some(Scale {
        law,
        curve: Pchip::with_slopes(
            column(|k| k.position),
            column(|k| k.extension),
            column(|k| k.slope),
        )?,
        spread: column(|k| k.spread),
        error: mean(&fits, |fit| fit.error * fit.error).sqrt(),
        doubt: floor::rms(&doubts),
        freedom: mean(&fits, |fit| fit.freedom),
        even: mean(&fits, |fit| if fit.candidate.is_even() { 1.0 } else { 0.0 }) >= 0.5,
        left_out: best.fit.left_out(points),
    })
}

fn mean(fits: &[Weighed], get: impl Fn(&Fit) -> f64) -> f64 {
    fits.iter().map(|w| w.weight * get(&w.fit)).sum()
}

/// Fits of the candidates that run one way, with weights that add up to 1. Corners are looked for unless an even drive is
/// the best of the others: then they could only follow the reading errors.
fn weighed(points: &Points) -> Vec<Weighed> {
    let mut fits: Vec<Fit> = Vec::new();
    let smooth = cam::smooth();
    for candidate in &smooth {
        // Neighbours in the list are alike: each starts where the one before it ended.
        let best = likeliest(&fits);
        fits.extend(fit::fit(points, candidate, fits.last(), best));
    }
    let even = likeliest(&fits).is_some_and(|best| best.candidate.is_even());
    if let (false, Some(plain)) = (
        even || points.position.len() < FEWEST_FOR_A_CORNER,
        fits.first(),
    ) {
        let mut corners: Vec<(f64, Candidate)> = cam::corners()
            .into_iter()
            .map(|corner| (plain.promise(points, &corner), corner))
            .collect();
        corners.sort_by(|a, b| b.0.total_cmp(&a.0));
        let many = points.position.len() >= fit::MANY;
        // Many marks tell the place well.
        let found = corners.iter().take(if many { 2 } else { CORNERS });
        let best = likeliest(&fits);
        let found: Vec<Fit> = found
            .filter_map(|(_, corner)| fit::fit(points, corner, fits.first(), best))
            .collect();
        fits.extend(found);
    }
    let Some(best) = likeliest(&fits).map(Fit::weight) else {
        return Vec::new();
    };
    let mut fits: Vec<Weighed> = fits
        .into_iter()
        .map(|fit| Weighed {
            weight: (fit.weight() - best).exp(),
            fit,
        })
        .filter(|w| w.weight > NEGLIGIBLE && w.fit.runs_one_way())
        .collect();
    let total: f64 = fits.iter().map(|w| w.weight).sum();
    fits.iter_mut().for_each(|w| w.weight /= total);
    fits
}

fn likeliest(fits: &[Fit]) -> Option<&Fit> {
    fits.iter().max_by(|a, b| a.weight().total_cmp(&b.weight()))
}

/// Extensions of the table, rising: past the far end, between the marks, past the near end.
fn grid(points: &Points, best: &Fit, travel: f64) -> Vec<f64> {
    let (low, high) = best.extensions();
    let per_travel = (high - low) / travel.abs();
    let margin = (MARGIN * per_travel).min(0.25 * (high - low));
    let mut grid = Vec::new();
    if points.focus {
        let past = (PAST_INFINITY * per_travel).min(0.5 * (high - low));
        grid.extend((1..=4).rev().map(|k| -past * f64::from(k) / 4.0));
        if low > 0.0 {
            grid.extend((0..16).map(|k| low * f64::from(k) / 16.0));
        }
    } else {
        grid.extend([low - margin, low - 0.5 * margin]);
    }
    let step = (high - low) / f64::from(INTERVALS);
    grid.extend((0..INTERVALS).map(|k| low + step * f64::from(k)));
    grid.extend([high, high + 0.5 * margin, high + margin]);
    grid
}

fn knot(fits: &[Weighed], law: &FocusLaw, extension: f64) -> Option<Knot> {
    let coordinate = law.dioptres(extension);
    let models: Vec<_> = fits.iter().map(|w| (w, w.fit.at(coordinate))).collect();
    let position: f64 = models
        .iter()
        .map(|(w, model)| w.weight * model.position)
        .sum();
    let slope: f64 = models.iter().map(|(w, model)| w.weight * model.slope).sum();
    let variance = |(w, model): &(&Weighed, fit::Model)| {
        w.weight * (w.fit.variance(model) + (model.position - position).powi(2))
    };
    let variance: f64 = models.iter().map(variance).sum();
    let slope = 1.0 / (slope * law.rate(extension));
    let knot = Knot {
        position,
        extension,
        slope,
        spread: variance.sqrt() * slope.abs(),
    };
    (position.is_finite() && slope.is_finite() && knot.spread.is_finite()).then_some(knot)
}
