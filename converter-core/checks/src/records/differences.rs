//! Where the values of two records cannot be one number written twice.

use ringmark_model::Channel;

use super::align::Alignment;
use super::record::{Record, RecordColumn};

/// Runs of differing frames that are this near are one.
const GAP: usize = 2;
/// More runs than this in one channel are told as one.
const MOST_RUNS: usize = 20;
/// 32-bit floats, and what conversions of units round.
const ROUNDING: f64 = 1e-6;

/// One channel differs over a stretch of frames.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Difference {
    pub channel: Channel,
    /// First and last frame of the own record, and how many in between differ.
    pub first: usize,
    pub last: usize,
    pub count: u64,
    /// Frame of the largest difference, with both values there.
    pub worst: usize,
    pub own: f64,
    pub other: f64,
    /// What all the differences have in common.
    pub constant: Option<Constant>,
}

/// A difference that is the same in every frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Constant {
    /// Own value over the other one.
    Factor(f64),
    /// Own value less the other one.
    Shift(f64),
}

/// A number in the terms in which the eye or the ring sees it: dioptres, logarithms of stops and focal lengths.
pub(crate) fn natural(channel: Channel, value: f64) -> f64 {
    match channel {
        Channel::FocusDistance | Channel::RangefinderDistance => 1.0 / value,
        Channel::TStop
        | Channel::FNumber
        | Channel::NominalFocalLength
        | Channel::PinholeFocalLength
        | Channel::EffectiveFocalLength
        | Channel::ExposureTime
        | Channel::Sensitivity => value.ln(),
        _ => value,
    }
}

/// All differences of two records, channel by channel. Distances that say to be from different points of the
/// lens are not compared.
pub(crate) fn differences(own: &Record, other: &Record, alignment: &Alignment) -> Vec<Difference> {
    let mut all = Vec::new();
    for column in &own.columns {
        if let Some(partner) = other.column(column.channel)
            && column.is_comparable(partner)
        {
            all.extend(of_channel(column, partner, alignment));
        }
    }
    all
}

fn of_channel(own: &RecordColumn, other: &RecordColumn, alignment: &Alignment) -> Vec<Difference> {
    let relative = own.relative + other.relative + ROUNDING;
    let steps = 0.5 * (own.step + other.step) * (1.0 + ROUNDING);
    let mut runs: Vec<Vec<(usize, f64, f64)>> = Vec::new();
    for (frame, partner) in alignment.pairs() {
        let (Some(&a), Some(&b)) = (own.values.get(frame), other.values.get(partner)) else {
            continue;
        };
        if a.is_nan() || b.is_nan() || a == b {
            continue;
        }
        let same = (a - b).abs() <= steps + relative * a.abs().max(b.abs());
        // Not so for one infinity.
        if same && a.is_finite() && b.is_finite() {
            continue;
        }
        match runs
            .last_mut()
            .filter(|run| run.last().is_some_and(|last| frame - last.0 <= GAP))
        {
            Some(run) => run.push((frame, a, b)),
            None => runs.push(vec![(frame, a, b)]),
        }
    }
    if runs.len() > MOST_RUNS {
        runs = vec![runs.concat()];
    }
    runs.iter()
        .filter_map(|run| difference(own.channel, run, steps))
        .collect()
}

fn difference(channel: Channel, run: &[(usize, f64, f64)], steps: f64) -> Option<Difference> {
    let (first, last) = (run.first()?, run.last()?);
    let off = |(_, a, b): &&(usize, f64, f64)| {
        let off = (natural(channel, *a) - natural(channel, *b)).abs();
        if off.is_nan() { f64::INFINITY } else { off }
    };
    let worst = run.iter().max_by(|a, b| off(a).total_cmp(&off(b)))?;
    Some(Difference {
        channel,
        first: first.0,
        last: last.0,
        count: run.len() as u64,
        worst: worst.0,
        own: worst.1,
        other: worst.2,
        constant: constant(run, steps),
    })
}

/// A factor or a shift that all frames of a run share, if they are enough and their values move.
fn constant(run: &[(usize, f64, f64)], steps: f64) -> Option<Constant> {
    let finite: Vec<(f64, f64)> = run
        .iter()
        .map(|r| (r.1, r.2))
        .filter(|(a, b)| (a * b).is_finite())
        .collect();
    if finite.len() < 8 {
        return None;
    }
    let median = |mut of: Vec<f64>| {
        of.sort_by(f64::total_cmp);
        of.get(of.len() / 2).copied()
    };
    let factor = median(finite.iter().map(|(a, b)| a / b).collect())?;
    let shift = median(finite.iter().map(|(a, b)| a - b).collect())?;
    let scale = finite.iter().map(|(a, _)| a.abs()).fold(0.0, f64::max);
    let slack = 2.0 * steps + 1e-4 * scale;
    let share = |fits: &dyn Fn(f64, f64) -> bool| {
        finite.iter().filter(|(a, b)| fits(*a, *b)).count() as f64 / finite.len() as f64
    };
    let by_factor = share(&|a, b| (a - factor * b).abs() <= slack * factor.abs().max(1.0));
    let by_shift = share(&|a, b| (a - b - shift).abs() <= slack);
    if by_factor < 0.95 && by_shift < 0.95 {
        return None;
    }
    // Values that hardly move fit both: then the difference alone is told.
    if by_factor >= 0.95 && by_shift >= 0.95 {
        return None;
    }
    Some(if by_factor > by_shift {
        Constant::Factor(factor)
    } else {
        Constant::Shift(shift)
    })
}
