//! Feet and inches were typed as decimal feet all over a scale.

use ringmark_model::{Change, Edit, Ring, Severity};
use ringmark_quantity::Unit;

use super::edits::value;
use super::hypothesis::Fault;
use super::judgement::Judgement;
use super::whole_scale::{self, Said, clear, sure};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;
use crate::words;

const ID: &str = "feet-inches-as-decimals";
const THRESHOLDS: [ThresholdInfo; 2] = [sure(ID, "1000 to 1 that the scale is in feet and inches; between 20 to 1 and this, the finding is a warning"), clear(ID)];

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: ID,
        title: "Feet and inches were typed as decimal feet all over a scale",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("feet_inches_as_decimals.md"),
        thresholds: &THRESHOLDS,
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    whole_scale::report(view, THRESHOLDS, out, |ring, judgement| {
        if judgement.fault != Fault::FeetInches {
            return None;
        }
        let typed: Vec<usize> = (0..judgement.points.len()).filter(|at| changed(judgement, *at)).collect();
        let mark = ring.marks.get(judgement.points.get(*typed.first()?)?.mark)?;
        Some(Said {
            message: format!(
                "{} marks of the focus scale seem to be feet and inches typed as decimal feet, one is {}",
                typed.len(),
                words::mark(ring, mark)
            ),
            help: "compare one of these marks with the barrel",
            points: typed,
            value: None,
            action: "declare the scale as feet and inches (ft-in) and write the marks as 5'6\"".to_owned(),
            edits: in_feet_inches(view.index, ring, judgement),
        })
    });
}

/// Whether the fault changed this point.
fn changed(judgement: &Judgement, at: usize) -> bool {
    let (typed, meant) = (judgement.points.get(at), judgement.mended.get(at));
    typed.map(|point| point.distance) != meant.map(|point| point.distance)
}

/// The unit of the scale, and every mark with its text in it.
fn in_feet_inches(lens: usize, ring: &Ring, judgement: &Judgement) -> Vec<Edit> {
    let change = |change| Edit { lens, axis: ring.axis, change };
    let marks = judgement.mended.iter().map(|point| change(value(ring, Unit::FeetInches, point.mark, point.distance)));
    std::iter::once(change(Change::Unit(Unit::FeetInches))).chain(marks).collect()
}
