//! Infinity seems to be read at the end stop.

use ringmark_model::{Edit, Ring, Severity};
use ringmark_optics::Infinity;
use ringmark_quantity::print;

use super::edits::position;
use super::hypothesis::Fault;
use super::judgement::{Judgement, curve_of};
use super::whole_scale::{self, Said, clear, sure};
use crate::info::{CheckInfo, Family, ThresholdInfo};
use crate::registry::Check;
use crate::report::Report;
use crate::view::LensView;

const ID: &str = "infinity-at-end-stop";
const THRESHOLDS: [ThresholdInfo; 2] = [sure(ID, "1000 to 1 that infinity lies before the end stop; between 20 to 1 and this, the finding is a warning"), clear(ID)];

pub(crate) static CHECK: Check = Check {
    info: CheckInfo {
        id: ID,
        title: "Infinity seems to be read at the end stop",
        severity: Severity::Error,
        family: Family::Marks,
        since: "0.1.0",
        explanation: include_str!("infinity_at_end_stop.md"),
        thresholds: &THRESHOLDS,
    },
    lens: Some(lens),
    take: None,
};

fn lens(view: &LensView<'_>, out: &mut Report<'_>) {
    whole_scale::report(view, THRESHOLDS, out, |ring, judgement| {
        let Fault::EndStop { at } = judgement.fault else { return None };
        let mark = ring.marks.get(judgement.points.get(at)?.mark)?;
        let infinity = curve_of(ring, &judgement.mended).and_then(|curve| curve.infinity())?;
        Some(Said {
            message: format!(
                "infinity stands at the end of the ring, {}, but the other marks put it at {}",
                print::position(mark.position),
                print::position(infinity.position)
            ),
            help: "rings turn past infinity: read the position of the ∞ mark, not of the end stop",
            points: vec![at],
            value: Some(("expected position", infinity.position, "0..1")),
            action: format!("put infinity at {}", print::position(infinity.position)),
            edits: at_position(view.index, ring, judgement, at, infinity),
        })
    });
}

fn at_position(lens: usize, ring: &Ring, judgement: &Judgement, at: usize, infinity: Infinity) -> Vec<Edit> {
    let change = judgement.points.get(at).map(|point| position(point, infinity.position));
    change.into_iter().map(|change| Edit { lens, axis: ring.axis, change }).collect()
}
