//! Written, but not as it was: rounded, measured from elsewhere, or in the place of another channel.

use ringmark_model::manifest::{CarriedChannel, Carries, Keeping, Precision, References};
use ringmark_model::raw::{RawDatum, RawItem};
use ringmark_model::{
    Batch, Channel, Loss, LossItem, LossKind, LossReport, Manifest, NumberColumn, Piece, Take,
};
use ringmark_quantity::DistanceReference;

use crate::make::*;

fn takes(channels: Vec<CarriedChannel>, other_channels: Keeping) -> Manifest {
    manifest(Carries {
        channels,
        other_channels,
        takes: true,
        ..Carries::default()
    })
}

fn rounded(precision: Precision, unit: &str, values: &[f64]) -> Vec<Loss> {
    let mut channel = carried("focus-distance", unit);
    channel.precision = Some(precision);
    let manifest = takes(vec![channel], Keeping::Lost);
    let (written, losses) = write_columns(&manifest, vec![numbers(Channel::FocusDistance, values)]);
    assert_eq!(written[0].values.len(), values.len());
    losses
}

#[test]
fn values_that_a_32_bit_float_cannot_hold_are_named_with_the_error() {
    assert_eq!(rounded(Precision::Float32, "m", &[0.5, INF, NAN, 0.0]), []);
    let losses = rounded(Precision::Float32, "m", &[0.5, 1.2, 1.3]);
    let [only] = losses.as_slice() else {
        panic!("{losses:?}")
    };
    assert_eq!(
        (only.kind, only.reason.as_str(), only.frames),
        (LossKind::Rounded, "kept as a 32-bit float", 2)
    );
    let error = only.error.unwrap();
    // Half a unit in the last of 24 binary places (IEEE 754 binary32).
    assert!(error > 0.0 && error <= 2f64.powi(-24), "{error}");
    assert!(
        LossReport {
            format: String::new(),
            entries: losses
        }
        .is_lossless()
    );
}

#[test]
fn values_beyond_the_range_of_a_32_bit_float_are_not_rounded_but_refused() {
    let losses = rounded(Precision::Float32, "m", &[1e39, 1e-46, 0.0, 0.5]);
    assert_eq!(
        losses,
        [channel_loss(
            "focus-distance",
            LossKind::Lost,
            "the format does not allow the value",
            2
        )]
    );
}

#[test]
fn steps_are_those_of_the_writers_unit() {
    assert_eq!(
        rounded(Precision::Step(0.001), "m", &[1.234, 0.007, 29.999]),
        []
    );
    assert_eq!(rounded(Precision::Step(1.0), "mm", &[1.234]), []);
    let losses = rounded(Precision::Step(1.0), "mm", &[1.234, 1.2345, 2.0]);
    assert_eq!(losses[0].reason, "kept in steps of 1 mm");
    assert_eq!(losses[0].frames, 1);
    // 1234.5 mm becomes 1235 mm or 1234 mm.
    assert!((losses[0].error.unwrap() - 0.5 / 1234.5).abs() < 1e-15);
    assert!(
        !LossReport {
            format: String::new(),
            entries: losses
        }
        .is_lossless()
    );
}

#[test]
fn an_error_that_the_manifest_bounds_counts_for_all_values() {
    let losses = rounded(Precision::Relative(0.001), "m", &[1.0, NAN, INF, 3.0]);
    assert_eq!((losses[0].frames, losses[0].error), (2, Some(0.001)));
}

#[test]
fn numbers_of_facts_are_rounded_too() {
    let mut fact = carried_fact("sensor-width", "um");
    fact.precision = Some(Precision::Step(1.0));
    let manifest = manifest(Carries {
        facts: vec![fact, carried_fact("sensor-height", "um")],
        takes: true,
        ..Carries::default()
    });
    let take = |width| {
        Piece::Take(Take {
            sensor_mm: Some((width, 18.66)),
            ..Take::default()
        })
    };
    assert_eq!(write(&manifest, &[take(27.99)]).1, []);
    let (items, losses) = write(&manifest, &[take(27.9905)]);
    assert_eq!(losses[0].what, LossItem::Fact("sensor-width".to_owned()));
    assert_eq!((losses[0].kind, losses[0].frames), (LossKind::Rounded, 0));
    let Some(RawItem::Take(written)) = items.first() else {
        panic!("{items:?}")
    };
    let width = written.facts.iter().find(|f| f.name == "sensor-width");
    assert!(matches!(width.unwrap().value, RawDatum::Number(um) if (um - 27990.5).abs() < 1e-9));
}

fn distances(reference: DistanceReference, values: &[f64]) -> NumberColumn {
    NumberColumn {
        head: head(Channel::FocusDistance, Some(reference)),
        values: values.to_vec(),
    }
}

/// A format whose distances are all measured from `only`.
fn measured_from(only: &str, unit: &str) -> Manifest {
    let mut channel = carried("focus-distance", unit);
    channel.reference = References::Only(vec![only.to_owned()]);
    takes(
        vec![channel, carried("entrance-pupil-offset", "mm")],
        Keeping::Lost,
    )
}

#[test]
fn distances_change_their_reference_by_the_entrance_pupil_offset() {
    use DistanceReference::{EntrancePupil, ImagePlane};
    // 100 mm in front of the image plane, then 20 mm behind it.
    let offsets = numbers(Channel::EntrancePupilOffset, &[100.0, -20.0, NAN, 100.0]);
    for (from, to, unit, expected) in [
        (ImagePlane, "entrance-pupil", "m", [1.9, 2.02, NAN, INF]),
        (ImagePlane, "entrance-pupil", "cm", [190.0, 202.0, NAN, INF]),
        (EntrancePupil, "image-plane", "m", [2.1, 1.98, NAN, INF]),
    ] {
        let offsets = NumberColumn {
            values: vec![100.0, -20.0, NAN, NAN],
            ..offsets.clone()
        };
        let columns = vec![distances(from, &[2.0, 2.0, NAN, INF]), offsets];
        let (written, losses) = write_columns(&measured_from(to, unit), columns);
        let off =
            |(a, b): (&f64, &f64)| a != b && !(a.is_nan() && b.is_nan()) && (a - b).abs() > 1e-12;
        assert!(
            !written[0].values.iter().zip(&expected).any(off),
            "{written:?}"
        );
        assert_eq!(
            (written[0].reference.as_str(), written[0].unit.as_str()),
            (to, unit)
        );
        let reason = format!(
            "measured from the {}, by the entrance pupil offset",
            to.replace('-', " ")
        );
        assert_eq!(
            losses,
            [channel_loss(
                "focus-distance",
                LossKind::Converted,
                &reason,
                3
            )]
        );
    }
}

#[test]
fn a_distance_without_a_known_offset_keeps_its_reference_and_is_merged() {
    use DistanceReference::{FrontVertex, ImagePlane, Unstated};
    let manifest = measured_from("entrance-pupil", "m");
    let cannot = "the format cannot say that it is measured from the image plane";
    let vertex = "the format cannot say that it is measured from the front vertex";
    let says = "the format says that it is measured from the entrance pupil";
    for (from, offsets, reason) in [
        (ImagePlane, None, cannot),
        (ImagePlane, Some([100.0, NAN]), cannot),
        (FrontVertex, Some([100.0, 100.0]), vertex),
        (Unstated, Some([100.0, 100.0]), says),
    ] {
        let mut columns = vec![distances(from, &[2.0, 3.0])];
        columns.extend(offsets.map(|o| numbers(Channel::EntrancePupilOffset, &o)));
        let (written, losses) = write_columns(&manifest, columns);
        assert_eq!(written[0].values, [2.0, 3.0]);
        assert_eq!(written[0].reference, from.name());
        assert_eq!(
            losses,
            [channel_loss("focus-distance", LossKind::Merged, reason, 2)]
        );
    }
}

#[test]
fn the_first_frames_decide_whether_a_column_changes_its_reference() {
    let manifest = measured_from("entrance-pupil", "m");
    let batch = |first, offset: f64| {
        Piece::Frames(Batch {
            first,
            count: 1,
            numbers: vec![
                distances(DistanceReference::ImagePlane, &[2.0]),
                numbers(Channel::EntrancePupilOffset, &[offset]),
            ],
            ..Batch::default()
        })
    };
    let kinds = |offsets: [f64; 2]| {
        let pieces = [
            Piece::Take(Take::default()),
            batch(0, offsets[0]),
            batch(1, offsets[1]),
        ];
        let (items, losses) = write(&manifest, &pieces);
        let said: Vec<(String, f64)> = items
            .iter()
            .filter_map(|item| match item {
                RawItem::Frames(f) => {
                    Some((f.columns[0].reference.clone(), f.columns[0].values[0]))
                }
                _ => None,
            })
            .collect();
        let losses: Vec<(LossKind, u64)> = losses.iter().map(|l| (l.kind, l.frames)).collect();
        (said, losses)
    };
    let (said, losses) = kinds([100.0, NAN]);
    assert_eq!(said[0], ("entrance-pupil".to_owned(), 1.9));
    assert_eq!(said[1].0, "entrance-pupil");
    assert!(said[1].1.is_nan(), "{said:?}");
    assert_eq!(losses, [(LossKind::Converted, 1), (LossKind::Lost, 1)]);
    let (said, losses) = kinds([NAN, 100.0]);
    assert_eq!(
        said,
        [
            ("image-plane".to_owned(), 2.0),
            ("image-plane".to_owned(), 2.0)
        ]
    );
    assert_eq!(losses, [(LossKind::Merged, 2)]);
}

/// A format with one focal length.
fn one_focal_length() -> Manifest {
    let mut channel = carried("nominal-focal-length", "m");
    channel.stands_for = vec![
        "effective-focal-length".to_owned(),
        "pinhole-focal-length".to_owned(),
    ];
    takes(vec![channel], Keeping::Lost)
}

#[test]
fn one_focal_length_stands_in_for_the_one_a_format_has() {
    let pinhole = || numbers(Channel::PinholeFocalLength, &[50.5]);
    let effective = || numbers(Channel::EffectiveFocalLength, &[49.8]);
    let nominal = || numbers(Channel::NominalFocalLength, &[50.0]);
    let gone = |name: &str| channel_loss(name, LossKind::Lost, "the format has no place for it", 1);
    let merged =
        |name: &str| channel_loss(name, LossKind::Merged, "written as nominal focal length", 1);
    for (columns, metres, expected) in [
        (
            vec![pinhole()],
            0.0505,
            vec![merged("pinhole-focal-length")],
        ),
        (
            vec![pinhole(), effective()],
            0.0498,
            vec![
                gone("pinhole-focal-length"),
                merged("effective-focal-length"),
            ],
        ),
        (
            vec![pinhole(), nominal()],
            0.05,
            vec![gone("pinhole-focal-length")],
        ),
    ] {
        let (written, losses) = write_columns(&one_focal_length(), columns);
        assert_eq!(written.len(), 1);
        assert_eq!(
            (written[0].channel.as_str(), written[0].unit.as_str()),
            ("nominal-focal-length", "m")
        );
        assert!((written[0].values[0] - metres).abs() < 1e-15);
        assert_eq!(losses, expected);
    }
}
