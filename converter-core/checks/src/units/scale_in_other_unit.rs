//! A whole focus scale in another unit than declared.

use ringmark_model::{Axis, Change, Edit, Ring, ScaleQuantity, Severity};

use super::factor::{FACTORS, UnitFactor};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words::{self, Fill};

const NEAREST_LOW: ThresholdInfo = ThresholdInfo {
    check: "scale-in-other-unit",
    name: "nearest-mark-from",
    default: 0.9,
    unit: "of close focus",
    why: "read in the right unit, the nearest mark is at close focus or a little beyond",
};
const NEAREST_HIGH: ThresholdInfo = ThresholdInfo {
    check: "scale-in-other-unit",
    name: "nearest-mark-to",
    default: 1.35,
    unit: "of close focus",
    why: "the first engraved mark is seldom farther from close focus",
};
const FARTHEST: ThresholdInfo = ThresholdInfo {
    check: "scale-in-other-unit",
    name: "nearest-mark-at-most",
    default: 2.4,
    unit: "of close focus",
    why: "a scale without near marks may begin farther out; as declared it then has to be beyond this, or below close focus",
};
const ROUND: ThresholdInfo = ThresholdInfo {
    check: "scale-in-other-unit",
    name: "round-share",
    default: 0.8,
    unit: "of the marks",
    why: "engraved distances are round numbers in their own unit; by chance about a fifth would be",
};

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: "scale-in-other-unit",
        title: "A whole focus scale seems to be in another unit than declared",
        severity: Severity::Error,
        family: Family::Units,
        since: "0.1.0",
        explanation: include_str!("scale_in_other_unit.md"),
        thresholds: &[NEAREST_LOW, NEAREST_HIGH, FARTHEST, ROUND],
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    let (Some(ring), Some(close)) = (view.lens.ring(Axis::Focus), view.lens.close_focus) else { return };
    let values: Vec<f64> = ring.marks.iter().map(|mark| mark.value).filter(|value| *value > 0.0 && value.is_finite()).collect();
    let nearest = values.iter().copied().fold(f64::INFINITY, f64::min);
    if ring.quantity != ScaleQuantity::FocusDistance || values.len() < 3 || close.metres() <= 0.0 {
        return;
    }
    let fits = |unit: &UnitFactor| {
        let ratio = nearest / unit.factor / close.metres();
        (view.value(NEAREST_LOW)..=view.value(NEAREST_HIGH)).contains(&ratio)
    };
    // A scale may begin farther out; as declared it must then be out of all proportion.
    let far = |unit: &UnitFactor| {
        let (as_declared, meant) = (nearest / close.metres(), nearest / unit.factor / close.metres());
        !(0.7..view.value(FARTHEST)).contains(&as_declared) && (view.value(NEAREST_LOW)..view.value(FARTHEST)).contains(&meant)
    };
    let Some(unit) = FACTORS.into_iter().find(fits).or_else(|| FACTORS.into_iter().find(far)) else { return };
    let (before, after) = (round_share(&values, 1.0), round_share(&values, unit.factor));
    let rounder = after >= view.value(ROUND) && before < view.value(ROUND);
    report(view, ring, unit, (nearest, close.metres()), rounder.then_some(after), out);
}

/// Share of the distances that are numbers of two digits once divided by `factor`.
fn round_share(values: &[f64], factor: f64) -> f64 {
    let round = |value: &&f64| {
        let value = **value / factor;
        let digit = 10f64.powf(value.log10().floor() - 1.0);
        ((value / digit).round() * digit / value - 1.0).abs() < 0.004
    };
    values.iter().filter(round).count() as f64 / values.len() as f64
}

fn report(view: &LensView<'_>, ring: &Ring, unit: UnitFactor, (nearest, close): (f64, f64), rounder: Option<f64>, out: &mut Report<'_>) {
    let severity = if rounder.is_some() { Severity::Error } else { Severity::Warning };
    let Some(mark) = ring.marks.iter().find(|mark| mark.value == nearest) else { return };
    out.add(severity, view.subject(), |finding| {
        let message = format!(
            "the nearest mark is {} on a lens that focuses to {}: the scale looks like {}",
            words::distance(nearest),
            words::distance(close),
            unit.story
        );
        let mut evidence = format!(
            "divided by {}, the nearest mark is {}",
            words::short(unit.factor),
            words::distance(nearest / unit.factor)
        );
        if let Some(share) = rounder {
            evidence += &format!(", and {:.0} % of the marks become round numbers of metres", share * 100.0);
        }
        finding
            .says(message)
            .value("nearest mark", nearest, "m")
            .value("close focus", close, "m")
            .help("compare one mark with the barrel, then correct the unit of the scale or the close focus of the lens")
            .repair_with(format!("declare the other unit for the whole scale: {}", unit.story), evidence, edits(view, ring, unit))
            .at(mark.place.clone())
    });
}

/// Every value in the other unit; the texts stay as they are, and are then of that unit.
fn edits(view: &LensView<'_>, ring: &Ring, unit: UnitFactor) -> Vec<Edit> {
    let change = |change| Edit { lens: view.index, axis: ring.axis, change };
    let Some(meant) = unit.meant(ring.source_unit) else { return Vec::new() };
    let mut all = vec![change(Change::Unit(meant))];
    for (at, mark) in ring.marks.iter().enumerate().filter(|(_, mark)| mark.value.is_finite()) {
        all.push(change(Change::Value { mark: at, value: mark.value / unit.factor, engraved: mark.engraved.clone() }));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn metres_in_feet_are_round_as_metres() {
        let feet = [1.97, 2.30, 2.62, 2.95, 3.28, 3.94, 4.92, 5.91];
        assert!(round_share(&feet, 1.0 / 0.3048) > 0.9);
        assert!(round_share(&feet, 1.0) < 0.5);
    }
}
