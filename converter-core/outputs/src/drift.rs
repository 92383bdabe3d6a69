//! How the focus scale of a lens moves from take to take, as text and by `schemas/drift.schema.json`.

use std::fmt::{self, Write};
use std::io;

use ringmark_quantity::print;
use serde::Serialize;

use crate::safe;
use crate::table::Table;

/// Version of the document.
const DRIFT_VERSION: &str = "1.0";

/// A number with the half width of its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Uncertain {
    /// The number.
    pub value: f64,
    /// Half width.
    pub half_width_95: f64,
}

/// One take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DriftTake {
    /// The file it is in.
    pub file: String,
    /// Clip name.
    pub clip: String,
    /// Time code of its first frame.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_timecode: Option<String>,
    /// Frames in which ring and rangefinder are recorded.
    pub frames: u64,
    /// Frames that the rangefinder is late.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lag_frames: Option<Uncertain>,
    /// What added to the ring positions brings them where the rangefinder says, in travel.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ring_offset: Option<Uncertain>,
    /// What there is to say about it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
}

/// How the offsets run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DriftCourse {
    /// No offset that can be told from 0.
    None,
    /// One offset in all takes.
    Constant,
    /// A little more from take to take.
    Gradual,
    /// All at once.
    Step,
}

/// A lens over its takes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DriftReport {
    /// The lens.
    pub lens: String,
    /// The file its marks are in.
    pub calibration: String,
    /// The takes in their order.
    pub takes: Vec<DriftTake>,
    /// The mean offset in travel.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ring_offset: Option<Uncertain>,
    /// The same in degrees, where the rotation of the ring is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub degrees: Option<f64>,
    /// The same in encoder counts, where the marks were taken in counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub counts: Option<f64>,
    /// A distance on the scale, in metres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_m: Option<f64>,
    /// How much farther than that focus is where the scale reads it, in metres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub there_m: Option<f64>,
    /// The same in full depths of field at the widest stop.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub there_depths: Option<f64>,
    /// How the offsets run.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub course: Option<DriftCourse>,
    /// Travel a take, or the step.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub change: Option<Uncertain>,
    /// The first take after a step, counted from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step_at: Option<usize>,
    /// What is likely and what to do.
    pub advice: Vec<String>,
}

#[derive(Serialize)]
struct Document<'a> {
    drift_version: &'static str,
    program: &'a str,
    #[serde(flatten)]
    report: &'a DriftReport,
}

/// Writes the document; `program` is name and version.
pub fn write_drift_json(
    out: &mut dyn io::Write,
    program: &str,
    report: &DriftReport,
) -> io::Result<()> {
    let document = Document {
        drift_version: DRIFT_VERSION,
        program,
        report,
    };
    serde_json::to_writer_pretty(&mut *out, &document)?;
    out.write_all(b"\n")
}

/// Writes a table of the takes and what it comes to.
pub fn write_drift_text(out: &mut dyn Write, report: &DriftReport) -> fmt::Result {
    writeln!(
        out,
        "{}  (marks: {})",
        safe(&report.lens),
        safe(&report.calibration)
    )?;
    let mut table = Table::new([
        "take",
        "starts",
        "frames",
        "lag, frames",
        "ring offset, % of travel",
        "remark",
    ]);
    for take in &report.takes {
        table.row([
            safe(&take.clip).into_owned(),
            take.start_timecode
                .as_deref()
                .map(|text| safe(text).into_owned())
                .unwrap_or_default(),
            take.frames.to_string(),
            take.lag_frames
                .map(|lag| format!("{:+.1} ± {:.1}", lag.value, lag.half_width_95))
                .unwrap_or_default(),
            take.ring_offset
                .map(per_cent)
                .unwrap_or_else(|| "–".to_owned()),
            take.remark
                .as_deref()
                .map(|text| safe(text).into_owned())
                .unwrap_or_default(),
        ]);
    }
    table.without_empty_columns().write(out, 2)?;
    if let Some(offset) = report.ring_offset {
        let mut line = format!("ring offset {} % of travel", per_cent(offset));
        if let Some(degrees) = report.degrees {
            write!(line, ", {degrees:+.2}°")?;
        }
        if let Some(counts) = report.counts {
            write!(line, ", {counts:+.0} counts")?;
        }
        writeln!(out, "{line}")?;
    }
    if let (Some(at), Some(there)) = (report.at_m, report.there_m) {
        let at = format!("{} ({})", print::metric(at), print::imperial(at));
        let way = if there < 0.0 { "nearer" } else { "farther" };
        let depths = report.there_depths.map_or(String::new(), |depths| {
            format!(", {:.2} depths of field at the widest stop", depths.abs())
        });
        let by = format!(
            "{:.0} mm ({})",
            1000.0 * there.abs(),
            print::imperial(there.abs())
        );
        writeln!(
            out,
            "where the scale reads {at}, focus is {by} {way}{depths}"
        )?;
    }
    for line in &report.advice {
        writeln!(out, "{}", safe(line))?;
    }
    Ok(())
}

fn per_cent(offset: Uncertain) -> String {
    format!(
        "{:+.2} ± {:.2}",
        100.0 * offset.value,
        100.0 * offset.half_width_95
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;

    fn report() -> DriftReport {
        let take = |clip: &str, offset: Option<f64>| DriftTake {
            file: format!("{clip}.csv"),
            clip: clip.to_owned(),
            start_timecode: Some("14:05:12:00".to_owned()),
            frames: 480,
            lag_frames: Some(Uncertain {
                value: 3.4,
                half_width_95: 0.12,
            }),
            ring_offset: offset.map(|value| Uncertain {
                value,
                half_width_95: 0.0009,
            }),
            remark: offset
                .is_none()
                .then(|| "no rangefinder\u{1b}[31m".to_owned()),
        };
        DriftReport {
            lens: "Brannvik 40 #BV40-0117".to_owned(),
            calibration: "brannvik-40.lens.json".to_owned(),
            takes: vec![take("A012C003", Some(0.0042)), take("A012C004", None)],
            ring_offset: Some(Uncertain {
                value: 0.0042,
                half_width_95: 0.0011,
            }),
            degrees: Some(1.26),
            counts: Some(275.0),
            at_m: Some(2.0),
            there_m: Some(0.061),
            there_depths: Some(0.4),
            course: Some(DriftCourse::Constant),
            change: None,
            step_at: None,
            advice: vec!["do this".to_owned()],
        }
    }

    #[test]
    fn as_text() {
        let mut text = String::new();
        write_drift_text(&mut text, &report()).unwrap();
        assert!(!text.contains('\u{1b}'), "{text}");
        for line in [
            "ring offset +0.42 ± 0.11 % of travel, +1.26°, +275 counts",
            "where the scale reads 2.00 m (6'6 3/4\"), focus is 61 mm (2 3/8\") farther, 0.40 depths of field at the widest stop",
        ] {
            assert!(text.contains(line), "{text}");
        }
    }

    #[test]
    fn as_json_it_fits_its_schema() {
        let schema = include_str!("../../../schemas/drift.schema.json");
        let validator = jsonschema::validator_for(&serde_json::from_str(schema).unwrap()).unwrap();
        let mut empty = report();
        (
            empty.ring_offset,
            empty.at_m,
            empty.there_m,
            empty.there_depths,
        ) = (None, None, None, None);
        (empty.degrees, empty.counts, empty.course) = (None, None, None);
        let mut step = report();
        (step.course, step.step_at) = (Some(DriftCourse::Step), Some(2));
        step.change = Some(Uncertain {
            value: 0.01,
            half_width_95: 0.001,
        });
        for report in [report(), empty, step] {
            let mut bytes = Vec::new();
            write_drift_json(&mut bytes, "ringmark 0.1.0", &report).unwrap();
            let document: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
            let errors: Vec<String> = validator
                .iter_errors(&document)
                .map(|error| error.to_string())
                .collect();
            assert!(errors.is_empty(), "{errors:?}");
            assert_eq!(document["takes"].as_array().unwrap().len(), 2);
        }
    }
}
