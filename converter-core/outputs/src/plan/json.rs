//! The document by `schemas/plan.schema.json`.

use std::io;

use serde::Serialize;

use super::{PlanReport, PlanWidest};
use crate::or_infinity::OrInfinity;

/// Version of the document.
const PLAN_VERSION: &str = "1.0";

#[derive(Serialize)]
struct Document<'a> {
    plan_version: &'static str,
    program: &'a str,
    lens: &'a str,
    calibration: &'a str,
    depth_of_field: &'a str,
    near_m: f64,
    marks_taken: usize,
    reading_error: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    target_depths: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    target_met: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    now: Option<Widest>,
    marks: Vec<Mark>,
}

#[derive(Serialize)]
struct Widest {
    half_width_95_depths: OrInfinity,
    at_m: OrInfinity,
}

#[derive(Serialize)]
struct Mark {
    distance_m: OrInfinity,
    #[serde(skip_serializing_if = "Option::is_none")]
    expected_position: Option<f64>,
    after: Widest,
}

impl From<PlanWidest> for Widest {
    fn from(widest: PlanWidest) -> Self {
        Widest {
            half_width_95_depths: OrInfinity(widest.depths),
            at_m: OrInfinity(widest.metres),
        }
    }
}

/// Writes the document; `program` is name and version.
pub fn write_plan_json(
    out: &mut dyn io::Write,
    program: &str,
    report: &PlanReport,
) -> io::Result<()> {
    let document = Document {
        plan_version: PLAN_VERSION,
        program,
        lens: &report.lens,
        calibration: &report.calibration,
        depth_of_field: &report.depth,
        near_m: report.near,
        marks_taken: report.taken(),
        reading_error: report.reading_error,
        target_depths: report.target,
        target_met: report.meets_target(),
        now: report.now.map(Widest::from),
        marks: report
            .marks
            .iter()
            .map(|mark| Mark {
                distance_m: OrInfinity(mark.metres),
                expected_position: mark.position,
                after: mark.after.into(),
            })
            .collect(),
    };
    serde_json::to_writer_pretty(&mut *out, &document)?;
    out.write_all(b"\n")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::samples;
    use super::*;

    #[test]
    fn it_fits_its_schema() {
        let schema = include_str!("../../../../schemas/plan.schema.json");
        let validator = jsonschema::validator_for(&serde_json::from_str(schema).unwrap()).unwrap();
        for (name, report) in samples::all() {
            let mut bytes = Vec::new();
            write_plan_json(&mut bytes, "ringmark 0.1.0", &report).unwrap();
            let document: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
            let errors: Vec<String> = validator
                .iter_errors(&document)
                .map(|error| format!("{}: {error}", error.instance_path()))
                .collect();
            assert!(errors.is_empty(), "{name}: {errors:?}");
            let marks = document["marks"].as_array().unwrap();
            assert_eq!(marks.len(), report.marks.len(), "{name}");
        }
    }
}
