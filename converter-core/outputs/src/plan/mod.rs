//! Marks to take next: a sheet for the person at the bench, as text and to print, and a document by
//! `schemas/plan.schema.json`.

mod json;
mod sheet;
mod text;

use ringmark_model::Ring;

pub use json::write_plan_json;
pub use sheet::write_plan_svg;
pub use text::write_plan_text;

use crate::show::scale_words as words;

/// How to read a mark, and what its expected position is not.
const ADVICE: [&str; 3] = [
    "Tape each distance from where the scale counts, usually the image plane. Turn to focus from the same side each time, and write what encoder or ring reads.",
    "The mark that pays most comes first: you may stop after any of them.",
    "Expected positions are only where to look: do not write them down as readings.",
];

/// Marks to take next.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanReport {
    /// The lens.
    pub lens: String,
    /// The file its marks are in.
    pub calibration: String,
    /// Its focus ring, if it has one.
    pub ring: Option<Ring>,
    /// What depths of field rest on, in words.
    pub depth: String,
    /// Nearest distance that is to be on the scale, in metres.
    pub near: f64,
    /// The widest band to reach, in full depths of field; `None` where marks are counted.
    pub target: Option<f64>,
    /// Reading error that was planned with, one standard deviation in travel.
    pub reading_error: f64,
    /// The band as it is, at its widest; `None` where the marks give no curve.
    pub now: Option<PlanWidest>,
    /// The marks in the order in which they pay.
    pub marks: Vec<PlannedMark>,
}

/// The widest place of the 95 % band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanWidest {
    /// Half width in full depths of field; infinite where the scale does not reach or tells nothing.
    pub depths: f64,
    /// Where, in metres.
    pub metres: f64,
}

/// A mark to take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlannedMark {
    /// Distance in metres, maybe infinity.
    pub metres: f64,
    /// Where the ring is expected to stand.
    pub position: Option<f64>,
    /// The widest place once this mark and those before it are taken.
    pub after: PlanWidest,
}

impl PlanReport {
    /// The band once all marks are taken.
    fn then(&self) -> Option<PlanWidest> {
        self.marks.last().map(|mark| mark.after).or(self.now)
    }

    /// Whether the target is met, where there is one.
    fn meets_target(&self) -> Option<bool> {
        let then = self.then().map_or(f64::INFINITY, |widest| widest.depths);
        self.target.map(|target| then <= target)
    }

    /// Marks that the lens has.
    fn taken(&self) -> usize {
        self.ring.as_ref().map_or(0, |ring| ring.marks.len())
    }

    /// Where the ring is expected for a mark: position, degrees, count, as far as they are known.
    fn expected(&self, mark: &PlannedMark) -> [String; 3] {
        let (Some(ring), Some(position)) = (&self.ring, mark.position) else {
            return [const { String::new() }; 3];
        };
        [
            words::position(position),
            words::degrees(ring, position),
            words::counts(ring, position),
        ]
    }

    /// What there is to say above the table.
    fn head(&self) -> Vec<String> {
        let count = match self.taken() {
            0 => "no marks".to_owned(),
            1 => "1 mark".to_owned(),
            count => format!("{count} marks"),
        };
        let mut lines = vec![
            format!("Lens {}, {count} in {}", self.lens, self.calibration),
            match &self.now {
                Some(now) => format!("95 % band now, at its widest: {}", widest(now)),
                None => "the marks give no scale yet: planned for a lens with an even drive, read to 0.1 % of travel".to_owned(),
            },
            format!("full depth of field {}", self.depth),
        ];
        let more = match self.marks.len() {
            0 => "no mark is needed".to_owned(),
            1 => "1 more mark".to_owned(),
            count => format!("{count} more marks"),
        };
        lines.push(match (self.target, self.meets_target()) {
            (Some(target), Some(true)) => {
                format!("{more} for ± {} of the depth", words::two_digits(target))
            }
            (Some(target), _) => format!(
                "± {} of the depth is out of reach with marks read as these are: {more} as far as they help",
                words::two_digits(target)
            ),
            _ => more,
        });
        lines
    }
}

/// `± 0.31 of the depth of field, at 2.00 m (6'6 3/4")`
fn widest(widest: &PlanWidest) -> String {
    match widest.depths.is_finite() {
        true => format!(
            "± {} of the depth of field, at {}",
            words::two_digits(widest.depths),
            words::both(widest.metres)
        ),
        false => format!("nothing is known at {}", words::both(widest.metres)),
    }
}

#[cfg(test)]
#[path = "samples.rs"]
mod samples;
