//! `ringmark plan`

use anyhow::{Context, Result, bail};
use ringmark_model::{Axis, Lens, Ring, ScaleQuantity};
use ringmark_optics::plan::{self, Bench, Goal, Widest};
use ringmark_outputs::{
    PlanReport, PlanWidest, PlannedMark, System, round_values, write_plan_json, write_plan_svg,
    write_plan_text,
};
use ringmark_quantity::{DistanceReference, Unit};

use crate::args::{Plan, PrintedUnit};
use crate::calibrate::read_lens;
use crate::exit::Exit;
use crate::pipeline::program;
use crate::scale::{self, Depth, Sharpness};
use crate::screen::Screen;
use crate::sheets::{self, Form, Sheets};

/// Farther than this nobody tapes, in metres; infinity is offered apart.
const FARTHEST: f64 = 40.0;

/// A mark this much farther than close focus is the close focus mark, as catalogues round.
const SAME: f64 = 0.97;

/// A mark this near to an end stop, in travel, leaves no room for one beyond it.
const AT_STOP: f64 = 0.02;

/// Says which marks to take next, and writes the sheet where it was asked to.
pub fn plan(args: &Plan, screen: &Screen) -> Result<Exit> {
    let goal = match args.marks {
        Some(count) => Goal::Marks(count),
        None => Goal::Depths(part(&args.target)?),
    };
    let sharp = &args.sharp;
    let sharpness = Sharpness::of(
        sharp.f_number.as_deref(),
        sharp.circle_of_confusion.as_deref(),
    )?;
    let sheets = Sheets::of(&args.output)?;
    let name = args.lens.display().to_string();
    let (lens, _) = read_lens(&args.lens)?;
    let report = report(&lens, &name, goal, args.unit, sharpness)?;
    let made = |form: Form| -> Result<Vec<u8>> {
        let mut bytes = Vec::new();
        match form {
            Form::Json => write_plan_json(&mut bytes, &program(), &report)?,
            Form::Svg => write_plan_svg(&mut bytes, &report)?,
            Form::Text => {
                let mut text = String::new();
                write_plan_text(&mut text, &report)?;
                bytes = text.into_bytes();
            }
        }
        Ok(bytes)
    };
    sheets.write(args.force, std::slice::from_ref(&args.lens), made)?;
    sheets::show(args.json, screen, made)?;
    Ok(Exit::Clean)
}

/// A part, as 1/4 or 0.25.
fn part(text: &str) -> Result<f64> {
    let number = |text: &str| text.trim().parse::<f64>().ok();
    let value = match text.split_once('/') {
        Some((above, below)) => number(above).zip(number(below)).map(|(a, b)| a / b),
        None => number(text),
    };
    value
        .filter(|part| *part > 0.0 && part.is_finite())
        .with_context(|| format!("--target {text}: expected a part above 0, as 1/4 or 0.25"))
}

fn report(
    lens: &Lens,
    name: &str,
    goal: Goal,
    unit: Option<PrintedUnit>,
    sharpness: Sharpness,
) -> Result<PlanReport> {
    let ring = lens
        .ring(Axis::Focus)
        .filter(|ring| ring.quantity == ScaleQuantity::FocusDistance);
    // Two marks make a scale; marks that contradict one another have to be put right first.
    if let Some(ring) = ring.filter(|ring| ring.marks.len() >= 2) {
        scale::focus_curve(ring, name)?;
    }
    let reference = ring.map_or(DistanceReference::ImagePlane, |ring| {
        ring.reference.unwrap_or_default()
    });
    let depth = match Depth::of(lens, reference, sharpness) {
        Ok(depth) => depth,
        Err(why) => bail!("{name}: no depth of field to plan for: {why}"),
    };
    let near = near(lens, ring, reference)
        .with_context(|| format!("{name}: neither a close focus nor a scale to plan for"))?;
    let taken: Vec<(f64, f64)> = ring.map_or(Vec::new(), |ring| {
        ring.marks
            .iter()
            .map(|mark| (mark.position, mark.value))
            .collect()
    });
    let full = |metres| depth.dioptres(metres);
    let bench = Bench {
        near,
        focal_length: lens.focal_length.map(|(_, longest)| longest.mm() / 1000.0),
        depth: &full,
    };
    let found = plan::plan(&bench, &taken, &offered(ring, unit), goal);
    let widest = |widest: Widest| PlanWidest {
        depths: widest.depths,
        metres: widest.metres,
    };
    Ok(PlanReport {
        lens: lens.label(),
        calibration: name.to_owned(),
        ring: ring.cloned(),
        depth: depth.words(),
        near,
        target: match goal {
            Goal::Depths(target) => Some(target),
            Goal::Marks(_) => None,
        },
        reading_error: found.reading_error,
        now: found.now.map(widest),
        marks: found
            .marks
            .iter()
            .map(|mark| PlannedMark {
                metres: mark.metres,
                position: mark.position,
                after: widest(mark.after),
            })
            .collect(),
    })
}

/// The nearest distance that is to be on the scale: close focus, or the nearest mark where that is it, where the lens
/// states none from the same point, or where the ring has no room beyond.
fn near(lens: &Lens, ring: Option<&Ring>, reference: DistanceReference) -> Option<f64> {
    let stated = lens
        .close_focus
        .map(|length| length.metres())
        .filter(|metres| {
            *metres > 0.0
                && lens
                    .close_focus_reference
                    .is_none_or(|from| from == reference)
        });
    let marks = ring.map_or(&[][..], |ring| &ring.marks);
    let nearest = marks
        .iter()
        .filter(|_| marks.len() >= 2)
        .min_by(|a, b| a.value.total_cmp(&b.value));
    let Some(nearest) = nearest else {
        return stated;
    };
    let at_stop = nearest.position.min(1.0 - nearest.position) < AT_STOP;
    match stated {
        Some(stated) if stated < SAME * nearest.value && !at_stop => Some(stated),
        _ => Some(nearest.value),
    }
}

/// Distances that people tape out, round in what the scale is engraved in.
fn offered(ring: Option<&Ring>, unit: Option<PrintedUnit>) -> Vec<f64> {
    let engraved = ring.map(|ring| ring.source_unit);
    let system = match (unit, engraved) {
        (Some(PrintedUnit::FtIn), _) => System::Imperial,
        (None, Some(Unit::Foot | Unit::Inch | Unit::FeetInches)) => System::Imperial,
        _ => System::Metric,
    };
    let mut distances = round_values(ScaleQuantity::FocusDistance, system);
    distances.retain(|metres| *metres <= FARTHEST);
    distances
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::part;

    #[test]
    fn parts_as_people_write_them() {
        for (text, value) in [
            ("1/4", 0.25),
            ("0.25", 0.25),
            (" 1 / 8 ", 0.125),
            ("2", 2.0),
        ] {
            assert_eq!(part(text).unwrap(), value, "{text}");
        }
        for text in [
            "", "0", "-1/4", "1/0", "0/0", "1/4/2", "quarter", "inf", "nan",
        ] {
            assert!(part(text).is_err(), "{text}");
        }
    }
}
