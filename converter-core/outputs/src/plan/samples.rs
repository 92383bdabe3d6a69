//! Plans of all kinds.

use ringmark_model::{Axis, EncoderRange, Mark, Ring, ScaleQuantity};
use ringmark_quantity::{Angle, DistanceReference, Unit};

use super::*;

fn planned(metres: f64, position: Option<f64>, depths: f64) -> PlannedMark {
    PlannedMark {
        metres,
        position,
        after: PlanWidest {
            depths,
            metres: f64::INFINITY,
        },
    }
}

/// A lens with a scale; one whose target is not met; one without marks; one that is good.
pub(super) fn all() -> [(&'static str, PlanReport); 4] {
    let mark = |position, value| Mark {
        position,
        raw: None,
        value,
        engraved: None,
        place: None,
    };
    let scale = PlanReport {
        lens: "Orrin 50 #1\u{1b}[31m".to_owned(),
        calibration: "orrin-50.lens.json".to_owned(),
        ring: Some(Ring {
            axis: Axis::Focus,
            quantity: ScaleQuantity::FocusDistance,
            reference: Some(DistanceReference::ImagePlane),
            source_unit: Unit::Metre,
            encoder: Some(EncoderRange {
                low: 0.0,
                high: 65535.0,
            }),
            rotation: Some(Angle::from_degrees(280.0)),
            marks: vec![mark(0.0, 0.5), mark(0.5, 1.0), mark(0.9, 5.0)],
        }),
        depth: "at f/2".to_owned(),
        near: 0.5,
        target: Some(0.25),
        reading_error: 0.0004,
        now: Some(PlanWidest {
            depths: 1.234,
            metres: 0.7,
        }),
        marks: vec![
            planned(f64::INFINITY, Some(0.9612), 0.61),
            planned(0.6, Some(0.21), 0.24),
        ],
    };
    let missed = PlanReport {
        target: Some(0.01),
        now: Some(PlanWidest {
            depths: f64::INFINITY,
            metres: 0.5,
        }),
        ..scale.clone()
    };
    let nothing = PlanReport {
        ring: None,
        now: None,
        target: None,
        marks: vec![
            planned(0.5, None, f64::INFINITY),
            planned(f64::INFINITY, None, 8.0),
        ],
        ..scale.clone()
    };
    let good = PlanReport {
        now: Some(PlanWidest {
            depths: 0.02,
            metres: 0.5,
        }),
        marks: Vec::new(),
        ..scale.clone()
    };
    [
        ("scale", scale),
        ("missed", missed),
        ("nothing", nothing),
        ("good", good),
    ]
}
