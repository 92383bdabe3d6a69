//! Penalised least squares of a scale: ring position as a function of the value.
//!
//! Marks are read on the ring, so the reading error is in the position. With `z` the extension of the law, 0 and 1 at
//! the marks of smallest and largest coordinate, the model is
//!
//! `position = b0 + b1 w + Σ c[k] P[k](2 w - 1)`, k from 2, `w` a [warp](super::warp) of `z`,
//!
//! where `z` depends on the law's `a = A y` and `η = q / A²` (`y` the largest coordinate). All but `b0` and `b1` have an
//! expected value and a spread, and count as further observations of it. Solved by Gauss-Newton steps, halved until they
//! help; the reading error follows from the residuals and the number of parameters that the marks determine
//! (D. MacKay, "Bayesian interpolation", 1992). Candidates are compared by their evidence, in Laplace's approximation.

use super::cam::{self, Candidate};
use super::law::FocusLaw;
use super::solve::{Factor, Matrix, SIZE, Vector};
use super::warp::Warp;

/// A reading error to expect, in travel, and how many marks that expectation is worth.
const EXPECTED_ERROR: f64 = 1e-4;
const EXPECTED_WORTH: f64 = 0.5;

/// The same for the band: what a person reads from a ring is seldom better than this, however well a few marks fit.
const BAND_ERROR: f64 = 2e-4;
const BAND_WORTH: f64 = 1.0;

/// Expected `a`: distances end at three to ten times `2 f + H`; distances counted from the pupil or the front of the lens
/// and cams spread it.
const LAW_A: (f64, f64) = (0.25, 0.12);
/// Expected `η`: 1/4 where the principal planes coincide, less with `H > 0`.
const LAW_ETA: (f64, f64) = (0.17, 0.12);
/// The same where an inner group moves: the law fits, but its numbers are no lengths of the lens.
const INNER_A: (f64, f64) = (0.25, 0.3);
const INNER_ETA: (f64, f64) = (0.1, 1.0);
/// Spread that holds a parameter where it is.
const HELD: f64 = 1e-9;
/// The others say at least this much about a mark: one that alone decides a parameter cannot be judged by them.
const LEAST_SAY: f64 = 0.05;
/// Parameters before those of the warp: ends of the scale and the law.
const COMMON: usize = 4;

const STEPS: usize = 16;
/// After this many steps a fit that cannot come near the best one is given up.
const PATIENCE: usize = 3;
/// With fewer marks all fits are quick, and a few steps tell too little.
pub(crate) const MANY: usize = 20;
const HOPELESS: f64 = 7.0;
const SETTLED: f64 = 0.02;

/// The marks of a scale: position over coordinate, both finite, two or more, by rising coordinate.
#[derive(Debug, Clone)]
pub(crate) struct Points {
    pub coordinate: Vec<f64>,
    pub position: Vec<f64>,
    /// Whether the law of focusing applies; else the scale is nearly straight in its coordinate.
    pub focus: bool,
}

impl Points {
    /// All marks but one.
    pub fn without(&self, mark: usize) -> Self {
        let rest = |all: &[f64]| {
            let kept = all.iter().enumerate().filter(|(k, _)| *k != mark);
            kept.map(|(_, v)| *v).collect()
        };
        Self {
            coordinate: rest(&self.coordinate),
            position: rest(&self.position),
            focus: self.focus,
        }
    }

    fn ends(&self) -> (f64, f64) {
        let end = |y: Option<&f64>| y.copied().unwrap_or(f64::NAN);
        (end(self.coordinate.first()), end(self.coordinate.last()))
    }

    fn travel(&self) -> f64 {
        let end = |r: Option<&f64>| r.copied().unwrap_or(f64::NAN);
        end(self.position.last()) - end(self.position.first())
    }

    fn law(&self, parameters: &Vector) -> FocusLaw {
        if !self.focus {
            return FocusLaw::STRAIGHT;
        }
        let offset = parameters[2] / self.ends().1;
        FocusLaw {
            offset,
            product: parameters[3] * offset * offset,
        }
    }
}

/// A scale under one candidate.
#[derive(Debug, Clone)]
pub(crate) struct Fit {
    pub law: FocusLaw,
    parameters: Vector,
    /// Extensions at the ends of the marks, and their change with `a` and `η`.
    frame: Frame,
    factor: Factor,
    pub candidate: Candidate,
    /// Reading error, one standard deviation, in travel.
    pub error: f64,
    /// The error it was fitted with.
    start: f64,
    /// Square of how much wider the band is than the fit.
    widen: f64,
    /// Marks beyond those that determine parameters.
    pub freedom: f64,
    /// Logarithm of how likely the candidate makes the marks.
    pub evidence: f64,
}

/// Position at a coordinate, its change with the coordinate, and with each parameter.
pub(crate) struct Model {
    pub position: f64,
    pub slope: f64,
    gradient: Vector,
}

#[derive(Debug, Clone, Copy)]
struct Frame {
    law: FocusLaw,
    warp: Warp,
    /// Where the corrections begin, and end.
    terms: (usize, usize),
    /// 1 over the largest coordinate: scales `A`.
    unit: f64,
    eta: f64,
    low: Extension,
    high: Extension,
}

/// Extension of the law, and its change with `a` and `η`.
#[derive(Debug, Clone, Copy)]
struct Extension {
    u: f64,
    by_a: f64,
    by_eta: f64,
}

impl Frame {
    /// `None` where law or warp do not hold.
    fn new(points: &Points, candidate: &Candidate, parameters: &Vector) -> Option<Self> {
        let law = points.law(parameters);
        if points.focus && !law.holds_to(points.ends().1) {
            return None;
        }
        let first = COMMON + candidate.family.parameters().1;
        let warp = Warp::new(candidate.family, parameters.get(COMMON..first)?)?;
        let (low, high) = points.ends();
        // A straight scale has no law to move.
        let unit = if points.focus { 1.0 / high } else { 0.0 };
        let eta = parameters[3];
        Some(Self {
            law,
            warp,
            terms: (first, first + candidate.terms),
            unit,
            eta,
            low: extension(&law, unit, eta, low),
            high: extension(&law, unit, eta, high),
        })
    }

    fn model(&self, parameters: &Vector, y: f64) -> Model {
        let at = extension(&self.law, self.unit, self.eta, y);
        let span = self.high.u - self.low.u;
        let z = (at.u - self.low.u) / span;
        let shift = |at: f64, low: f64, high: f64| (at - (1.0 - z) * low - z * high) / span;
        let warped = self.warp.at(z);
        let mut gradient = [0.0; SIZE];
        let (mut position, mut by_w) = (parameters[0] + parameters[1] * warped.w, parameters[1]);
        let (first, end) = self.terms;
        if first < end {
            let (values, slopes) = cam::terms(warped.w);
            let terms = values
                .iter()
                .zip(slopes)
                .zip(parameters.iter().zip(&mut gradient).take(end).skip(first));
            for ((value, slope), (parameter, gradient)) in terms {
                position += parameter * value;
                by_w += parameter * slope;
                *gradient = *value;
            }
        }
        for (gradient, by) in gradient.iter_mut().take(first).skip(COMMON).zip(warped.by) {
            *gradient = by_w * by;
        }
        let by_z = by_w * warped.slope;
        gradient[0] = 1.0;
        gradient[1] = warped.w;
        gradient[2] = by_z * shift(at.by_a, self.low.by_a, self.high.by_a);
        gradient[3] = by_z * shift(at.by_eta, self.low.by_eta, self.high.by_eta);
        Model {
            position,
            slope: by_z / (span * self.law.rate(at.u)),
            gradient,
        }
    }
}

/// From `1 / u + A + q u = d`: `du/dA = u² (1 + u dq/dA) / (1 - q u²)`, `du/dη = A² u³ / (1 - q u²)`.
#[inline]
fn extension(law: &FocusLaw, unit: f64, eta: f64, y: f64) -> Extension {
    let u = law.extension(y);
    let u2 = u * u;
    let room = 1.0 - law.product * u2;
    Extension {
        u,
        by_a: unit * u2 * (1.0 + 2.0 * eta * law.offset * u) / room,
        by_eta: law.offset * law.offset * u2 * u / room,
    }
}

struct Prior {
    /// Parameters there are.
    size: usize,
    mean: Vector,
    /// Inverse squares of the spreads.
    weight: Vector,
}

impl Prior {
    fn new(points: &Points, candidate: &Candidate) -> Self {
        let (mut mean, mut weight) = ([0.0; SIZE], [0.0; SIZE]);
        let (a, eta) = if candidate.inner {
            (INNER_A, INNER_ETA)
        } else {
            (LAW_A, LAW_ETA)
        };
        (mean[2], mean[3]) = (a.0, eta.0);
        let held = |spread: f64| if points.focus { spread } else { HELD };
        weight[2] = held(a.1).powi(-2);
        weight[3] = held(eta.1).powi(-2);
        let (warp, size) = candidate.family.parameters();
        let slots = mean.iter_mut().zip(&mut weight).skip(COMMON);
        for ((mean, weight), (expected, spread)) in slots.zip(warp.into_iter().take(size)) {
            (*mean, *weight) = (expected, spread.powi(-2));
        }
        let terms = weight.iter_mut().skip(COMMON + size);
        for (weight, spread) in terms.zip(candidate.spread()) {
            *weight = (spread * points.travel()).powi(-2);
        }
        Self {
            size: COMMON + size + candidate.terms,
            mean,
            weight,
        }
    }

    fn cost(&self, parameters: &Vector) -> f64 {
        let all = self.weight.iter().zip(parameters).zip(&self.mean);
        all.map(|((w, p), m)| w * (p - m) * (p - m)).sum()
    }
}

/// Fits one candidate, from another fit of the same marks if there is one; `None` where the marks admit no fit.
pub(crate) fn fit(
    points: &Points,
    candidate: &Candidate,
    near: Option<&Fit>,
    best: Option<&Fit>,
) -> Option<Fit> {
    // What the reading error alone makes of the marks, without the parameters' share.
    let beat = best.map_or(f64::NEG_INFINITY, |best| {
        -(points.position.len() as f64 + EXPECTED_WORTH) * best.start.ln() - HOPELESS
    });
    let prior = Prior::new(points, candidate);
    let count = points.position.len() as f64;
    let mut parameters = prior.mean;
    parameters[0] = *points.position.first()?;
    parameters[1] = points.travel();
    let mut error = 1e-3;
    let steps = if points.position.len() < MANY {
        STEPS
    } else {
        STEPS / 2
    };
    let mut started = None;
    if let Some(near) = near {
        let same = near.candidate.family == candidate.family;
        let kept = if same { prior.size } else { COMMON };
        let mut tried = parameters;
        for (own, other) in tried.iter_mut().zip(&near.parameters).take(kept) {
            *own = *other;
        }
        if let Some(state) = State::new(points, candidate, &tried) {
            (parameters, started) = (tried, Some(state));
            if same {
                error = near.start;
            }
        }
    }
    let mut state = match started {
        Some(state) => state,
        None => State::new(points, candidate, &parameters)?,
    };
    for step in 0.. {
        let variance = error * error;
        let (factor, right) = normal_equations(&state, &prior, &parameters, variance)?;
        let determined = determined(&factor, &prior);
        let freedom = EXPECTED_WORTH + count - determined;
        let next =
            ((EXPECTED_WORTH * EXPECTED_ERROR * EXPECTED_ERROR + state.squares) / freedom).sqrt();
        let change = factor.solve(&right);
        // How far the parameters still are from their best, in squared standard deviations.
        let left: f64 = right.iter().zip(&change).map(|(a, b)| a * b).sum();
        let settled = (next / error - 1.0).abs() < 0.02 && left < SETTLED && step > 2;
        if step >= steps || settled {
            return finish(
                points,
                (&prior, candidate),
                parameters,
                state,
                factor,
                (error, freedom),
            );
        }
        if step >= PATIENCE && points.position.len() >= MANY {
            let forecast = state.squares - left * variance;
            let least =
                (EXPECTED_WORTH * EXPECTED_ERROR * EXPECTED_ERROR + forecast.max(0.0)) / freedom;
            if -0.5 * (count + EXPECTED_WORTH) * least.ln() < beat {
                return None;
            }
        }
        let cost = state.squares / variance + prior.cost(&parameters);
        let mut part = 1.0;
        for _ in 0..5 {
            let mut tried = parameters;
            for (value, change) in tried.iter_mut().zip(&change) {
                *value += part * change;
            }
            if let Some(after) = State::new(points, candidate, &tried)
                && after.squares / variance + prior.cost(&tried) <= cost * (1.0 + 1e-9)
            {
                (parameters, state) = (tried, after);
                break;
            }
            part *= 0.25;
        }
        // The first steps only find the place; judging the error before would lock it in.
        if step > 0 {
            error = next;
        }
    }
    None
}

/// Model and residuals at the marks.
struct State {
    frame: Frame,
    models: Vec<Model>,
    residuals: Vec<f64>,
    squares: f64,
}

impl State {
    fn new(points: &Points, candidate: &Candidate, parameters: &Vector) -> Option<Self> {
        let frame = Frame::new(points, candidate, parameters)?;
        let models: Vec<Model> = points
            .coordinate
            .iter()
            .map(|y| frame.model(parameters, *y))
            .collect();
        let residuals: Vec<f64> = points
            .position
            .iter()
            .zip(&models)
            .map(|(r, m)| r - m.position)
            .collect();
        let squares = residuals.iter().map(|r| r * r).sum();
        Some(Self {
            frame,
            models,
            residuals,
            squares,
        })
    }
}

/// `JᵀJ / σ² + Λ` and `Jᵀ r / σ² - Λ (θ - θ0)`.
fn normal_equations(
    state: &State,
    prior: &Prior,
    parameters: &Vector,
    variance: f64,
) -> Option<(Factor, Vector)> {
    let mut matrix: Matrix = [[0.0; SIZE]; SIZE];
    let mut right: Vector = [0.0; SIZE];
    for (model, residual) in state.models.iter().zip(&state.residuals) {
        for i in 0..prior.size {
            let scaled = model.gradient[i] / variance;
            right[i] += scaled * residual;
            for (cell, other) in matrix[i].iter_mut().zip(&model.gradient).take(i + 1) {
                *cell += scaled * other;
            }
        }
    }
    for i in 0..prior.size {
        matrix[i][i] += prior.weight[i];
        right[i] -= prior.weight[i] * (parameters[i] - prior.mean[i]);
    }
    Some((Factor::new(&matrix, prior.size)?, right))
}

/// How many parameters the marks determine: `p - tr(M⁻¹ Λ)`.
fn determined(factor: &Factor, prior: &Prior) -> f64 {
    let mut unit = [0.0; SIZE];
    let mut left = prior.size as f64;
    for (k, weight) in prior.weight.iter().enumerate() {
        if *weight > 0.0 {
            unit[k] = 1.0;
            left -= weight * factor.quadratic(&unit);
            unit[k] = 0.0;
        }
    }
    left
}

fn finish(
    points: &Points,
    (prior, candidate): (&Prior, &Candidate),
    parameters: Vector,
    state: State,
    factor: Factor,
    (error, freedom): (f64, f64),
) -> Option<Fit> {
    let variance = error * error;
    let expected = EXPECTED_WORTH * (EXPECTED_ERROR / error).powi(2);
    let log_weights: f64 = prior
        .weight
        .iter()
        .filter(|w| **w > 0.0)
        .map(|w| w.ln())
        .sum();
    let evidence = -0.5 * (state.squares / variance + prior.cost(&parameters) + expected)
        - (points.position.len() as f64 + EXPECTED_WORTH) * error.ln()
        + 0.5 * (log_weights - factor.log_determinant() - freedom.ln());
    let counted = (freedom - EXPECTED_WORTH + BAND_WORTH - 1.0).max(1.0);
    let band_error = ((BAND_WORTH * BAND_ERROR * BAND_ERROR + state.squares) / counted).sqrt();
    let fit = Fit {
        law: state.frame.law,
        parameters,
        frame: state.frame,
        factor,
        candidate: *candidate,
        error: band_error,
        start: error,
        widen: (band_error / error).max(1.0).powi(2),
        freedom: counted,
        evidence,
    };
    evidence.is_finite().then_some(fit)
}

impl Fit {
    /// Position and slope at a coordinate.
    pub fn at(&self, coordinate: f64) -> Model {
        self.frame.model(&self.parameters, coordinate)
    }

    /// Squared standard deviation of the position of a model.
    pub fn variance(&self, model: &Model) -> f64 {
        self.widen * self.factor.quadratic(&model.gradient)
    }

    /// Position of each mark minus what the others predict: the residual over one minus the mark's own say.
    pub fn left_out(&self, points: &Points) -> Vec<f64> {
        let marks = points.coordinate.iter().zip(&points.position);
        let off = marks.map(|(y, position)| {
            let model = self.at(*y);
            let say = self.factor.quadratic(&model.gradient) / (self.start * self.start);
            (position - model.position) / (1.0 - say).max(LEAST_SAY)
        });
        off.collect()
    }

    /// By how much the squared residuals would fall, in squared reading errors, if the main shape of another candidate,
    /// where it is expected, were added to this fit: a linear forecast.
    pub fn promise(&self, points: &Points, other: &Candidate) -> f64 {
        let (expected, size) = other.family.parameters();
        let at = expected.map(|(mean, _)| mean);
        let Some(warp) = at.get(..size).and_then(|at| Warp::new(other.family, at)) else {
            return 0.0;
        };
        let variance = self.start * self.start;
        let (mut own, mut with_residual, mut shared) = (0.0, 0.0, [0.0; SIZE]);
        for (y, position) in points.coordinate.iter().zip(&points.position) {
            let model = self.at(*y);
            let by = self.parameters[1] * warp.at(model.gradient[1]).by[0];
            own += by * by / variance;
            with_residual += by * (position - model.position) / variance;
            for (sum, gradient) in shared.iter_mut().zip(&model.gradient) {
                *sum += by * gradient / variance;
            }
        }
        let left = own - self.factor.quadratic(&shared);
        if left > 1e-9 * own {
            with_residual * with_residual / left
        } else {
            0.0
        }
    }

    /// Logarithm of how likely the candidate is after the marks were read, up to one constant for all.
    pub fn weight(&self) -> f64 {
        self.evidence + self.candidate.likely.ln()
    }

    /// Whether positions run one way between the end marks.
    pub fn runs_one_way(&self) -> bool {
        const STEPS: u32 = 32;
        let (low, high) = self.extensions();
        let slope = |k: u32| {
            let u = low + (high - low) * f64::from(k) / f64::from(STEPS);
            self.at(self.law.dioptres(u)).slope
        };
        let first = slope(0);
        (0..=STEPS).all(|k| slope(k) * first > 0.0)
    }

    /// Extensions at the ends of the marks.
    pub fn extensions(&self) -> (f64, f64) {
        (self.frame.low.u, self.frame.high.u)
    }
}

#[cfg(test)]
#[path = "fit_tests.rs"]
mod tests;
