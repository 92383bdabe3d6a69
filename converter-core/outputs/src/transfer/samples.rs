//! A lens on a ring, with all that can be there, and with as little as can be.

use ringmark_model::{Axis, EncoderRange, Mark, PreMarkedRing, PrintedMark, Ring, ScaleQuantity};
use ringmark_quantity::{Angle, DistanceReference, Length, Unit};

use super::*;

pub(super) fn report() -> TransferReport {
    let mark = |position, value| Mark {
        position,
        raw: None,
        value,
        engraved: None,
        place: None,
    };
    let printed = |text: &str, metres, position| PrintedMark {
        text: text.to_owned(),
        metres,
        position,
    };
    let target = |position, low, high| {
        Ok(TransferTarget {
            position,
            band: 0.0012,
            low,
            high,
        })
    };
    TransferReport {
        lens: "Orrin 50 #1\u{1b}[31m".to_owned(),
        calibration: "orrin-50.lens.json".to_owned(),
        ring: Ring {
            axis: Axis::Focus,
            quantity: ScaleQuantity::FocusDistance,
            reference: Some(DistanceReference::ImagePlane),
            source_unit: Unit::Metre,
            encoder: Some(EncoderRange {
                low: 60_000.0,
                high: 0.0,
            }),
            rotation: Some(Angle::from_degrees(280.0)),
            marks: vec![mark(0.0, 0.5), mark(0.5, 1.0), mark(0.96, f64::INFINITY)],
        },
        depth: Ok("at f/2".to_owned()),
        rings: vec![TransferRing {
            file: "rings.json".to_owned(),
            ring: PreMarkedRing {
                maker: Some("Sund & <Co>".to_owned()),
                name: Some("S1".to_owned()),
                rotation: Some(Angle::from_degrees(300.0)),
                length: Some(Length::from_mm(120.0)),
                marks: vec![
                    printed("1'6\"", 0.4572, 0.0),
                    printed("2'6\"", 0.762, 0.4),
                    printed("inf", f64::INFINITY, 1.0),
                ],
            },
            targets: vec![
                Err(Unreached::NearerThanScale),
                target(0.31234, 0.7612, 0.7628),
                target(0.96, 150.0, f64::INFINITY),
            ],
            travel_share: 0.674_645_8,
            largest_metres: None,
            largest_depths: Some(LargestError {
                error: -0.42,
                metres: 1.5,
                position: 0.7,
            }),
        }],
    }
}

/// No names, no encoder, no depth of field, nothing in reach.
pub(super) fn bare() -> TransferReport {
    let mut report = report();
    report.depth = Err("the lens states no focal length".to_owned());
    (report.ring.encoder, report.ring.rotation) = (None, None);
    for ring in &mut report.rings {
        ring.ring = PreMarkedRing {
            maker: None,
            name: None,
            rotation: None,
            length: None,
            marks: ring.ring.marks.clone(),
        };
        ring.targets = vec![
            Err(Unreached::NearerThanScale),
            Err(Unreached::EndStop),
            Err(Unreached::BeyondMarks),
        ];
        (ring.travel_share, ring.largest_depths) = (0.0, None);
    }
    report
}
