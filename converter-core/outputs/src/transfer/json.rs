//! The document by `schemas/transfer.schema.json`.

use std::io;

use serde::Serialize;

use super::{CAUTION, LargestError, TransferReport, TransferRing};
use crate::or_infinity::OrInfinity;

/// Version of the document.
const TRANSFER_VERSION: &str = "1.0";

/// Writes the document; `program` is name and version.
pub fn write_transfer_json(
    out: &mut dyn io::Write,
    program: &str,
    report: &TransferReport,
) -> io::Result<()> {
    let encoder = report.ring.encoder.map(|range| (range.low, range.high));
    let document = Document {
        transfer_version: TRANSFER_VERSION,
        program,
        lens: &report.lens,
        calibration: &report.calibration,
        measured_from: report.ring.reference.unwrap_or_default().name(),
        rotation_deg: report.ring.rotation.map(|turn| turn.degrees()),
        encoder,
        depth_of_field: report.depth.as_deref().ok(),
        caution: CAUTION,
        rings: report
            .rings
            .iter()
            .map(|ring| Ring::of(report, ring))
            .collect(),
    };
    serde_json::to_writer_pretty(&mut *out, &document)?;
    out.write_all(b"\n")
}

#[derive(Serialize)]
struct Document<'a> {
    transfer_version: &'static str,
    program: &'a str,
    lens: &'a str,
    calibration: &'a str,
    measured_from: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    rotation_deg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    encoder: Option<(f64, f64)>,
    #[serde(skip_serializing_if = "Option::is_none")]
    depth_of_field: Option<&'a str>,
    caution: &'static str,
    rings: Vec<Ring<'a>>,
}

#[derive(Serialize)]
struct Ring<'a> {
    file: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    maker: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rotation_deg: Option<f64>,
    out_of_reach: usize,
    travel_share: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    largest_error_m: Option<Largest>,
    #[serde(skip_serializing_if = "Option::is_none")]
    largest_error_depths: Option<Largest>,
    marks: Vec<Mark<'a>>,
}

#[derive(Serialize)]
struct Largest {
    error: f64,
    at_m: OrInfinity,
    at_position: f64,
}

#[derive(Serialize)]
struct Mark<'a> {
    mark: &'a str,
    distance_m: OrInfinity,
    position: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    target: Option<Target>,
    #[serde(skip_serializing_if = "Option::is_none")]
    out_of_reach: Option<&'static str>,
}

#[derive(Serialize)]
struct Target {
    position: f64,
    half_width_95: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    degrees: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    count: Option<i64>,
    distance_95_m: (OrInfinity, OrInfinity),
}

impl Ring<'_> {
    fn of<'a>(report: &TransferReport, ring: &'a TransferRing) -> Ring<'a> {
        let largest = |found: Option<LargestError>| {
            found.map(|found| Largest {
                error: found.error,
                at_m: OrInfinity(found.metres),
                at_position: found.position,
            })
        };
        let marks = ring.ring.marks.iter().zip(&ring.targets);
        Ring {
            file: &ring.file,
            maker: ring.ring.maker.as_deref(),
            name: ring.ring.name.as_deref(),
            rotation_deg: ring.ring.rotation.map(|turn| turn.degrees()),
            out_of_reach: ring.out_of_reach(),
            travel_share: ring.travel_share,
            largest_error_m: largest(ring.largest_metres),
            largest_error_depths: largest(ring.largest_depths),
            marks: marks
                .map(|(printed, target)| Mark {
                    mark: &printed.text,
                    distance_m: OrInfinity(printed.metres),
                    position: printed.position,
                    target: target.ok().map(|target| Target {
                        position: target.position,
                        half_width_95: target.band,
                        degrees: report.degrees(target.position),
                        count: report.count(target.position),
                        distance_95_m: (OrInfinity(target.low), OrInfinity(target.high)),
                    }),
                    out_of_reach: target.err().map(|why| why.name()),
                })
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::samples;
    use super::*;

    #[test]
    fn it_fits_its_schema() {
        let schema = include_str!("../../../../schemas/transfer.schema.json");
        let validator = jsonschema::validator_for(&serde_json::from_str(schema).unwrap()).unwrap();
        for report in [samples::report(), samples::bare()] {
            let mut bytes = Vec::new();
            write_transfer_json(&mut bytes, "ringmark 0.1.0", &report).unwrap();
            let document: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
            let errors: Vec<String> = validator
                .iter_errors(&document)
                .map(|error| format!("{}: {error}", error.instance_path()))
                .collect();
            assert!(errors.is_empty(), "{errors:?}");
            let marks = document["rings"][0]["marks"].as_array().unwrap();
            assert_eq!(marks.len(), report.rings[0].ring.marks.len());
            assert_eq!(marks.last().unwrap()["distance_m"], "inf");
        }
    }

    #[test]
    fn counts_are_whole_and_run_the_way_of_the_encoder() {
        let mut bytes = Vec::new();
        write_transfer_json(&mut bytes, "ringmark 0.1.0", &samples::report()).unwrap();
        let document: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
        let target = &document["rings"][0]["marks"][1]["target"];
        // 0.31234 of 60000 to 0.
        assert_eq!(target["count"], 41260);
        assert_eq!(target["degrees"].as_f64().unwrap(), 0.31234 * 280.0);
    }
}
