//! What a format cannot carry, and that nothing else is touched.

use std::sync::Arc;

use ringmark_model::manifest::{Carries, Keeping, References};
use ringmark_model::raw::{RawDatum, RawItem};
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, Extra, ExtraValue, Finding, Lens, LensTable,
    LossItem, LossKind, Manifest, NumberColumn, Piece, Ring, ScaleQuantity, Severity, Subject,
    Take, TextColumn, TextForm,
};
use ringmark_quantity::{Angle, DistanceReference, Length, Unit};

use crate::make::*;

const NO_PLACE: &str = "the format has no place for it";
const NO_INFINITY: &str = "the format has no way to write infinity";
const NOT_ALLOWED: &str = "the format does not allow the value";

/// A format of takes with one channel; the rest fares as `other` says.
fn takes(
    channel: Option<ringmark_model::manifest::CarriedChannel>,
    other_channels: Keeping,
) -> Manifest {
    manifest(Carries {
        channels: channel.into_iter().collect(),
        other_channels,
        takes: true,
        ..Carries::default()
    })
}

#[test]
fn a_writer_gets_the_unit_it_asks_for() {
    let manifest = takes(Some(carried("focus-distance", "ft")), Keeping::Lost);
    let distances = numbers(Channel::FocusDistance, &[1.524, INF, NAN]);
    let (written, losses) = write_columns(&manifest, vec![distances]);
    assert_eq!(
        (written[0].unit.as_str(), losses.as_slice()),
        ("ft", &[][..])
    );
    assert!(same(&written[0].values, &[5.0, INF, NAN]));
    // No unit asked for: the canonical one.
    let manifest = takes(Some(carried("focus-distance", "")), Keeping::Lost);
    let distances = numbers(Channel::FocusDistance, &[1.524]);
    let (written, _) = write_columns(&manifest, vec![distances]);
    assert_eq!(
        (written[0].unit.as_str(), written[0].values[0]),
        ("m", 1.524)
    );
}

#[test]
fn a_unit_that_no_one_knows_is_the_manifests_fault() {
    let manifest = takes(Some(carried("focus-distance", "furlong")), Keeping::Lost);
    let batch = Batch {
        numbers: vec![numbers(Channel::FocusDistance, &[])],
        ..Batch::default()
    };
    refused(
        ringmark_normalise::ForWriter::new(&manifest).item(&Piece::Frames(batch)),
        "the manifest of 'sheet' asks for focus-distance in 'furlong'",
        "author of the plugin",
    );
}

#[test]
fn infinity_that_cannot_be_written_is_lost_or_kept_aside() {
    let channel = || {
        let mut channel = carried("focus-distance", "m");
        channel.infinity = false;
        channel
    };
    let distances = || numbers(Channel::FocusDistance, &[INF, 2.0, NAN, INF]);
    for (other, kind, expected) in [
        (Keeping::Lost, LossKind::Lost, [NAN, 2.0, NAN, NAN]),
        (Keeping::Aside, LossKind::Aside, [INF, 2.0, NAN, INF]),
        // Other channels have places of their own; these values have none.
        (Keeping::Native, LossKind::Lost, [NAN, 2.0, NAN, NAN]),
    ] {
        let (written, losses) = write_columns(&takes(Some(channel()), other), vec![distances()]);
        assert!(same(&written[0].values, &expected), "{other:?}");
        let expected = channel_loss("focus-distance", kind, NO_INFINITY, 2);
        assert_eq!(losses, [expected]);
    }
}

#[test]
fn values_outside_the_limits_are_counted_in_the_writers_unit() {
    let limited = |above, at_least, at_most, whole| {
        let mut channel = carried("shutter-angle", "deg");
        (channel.above, channel.at_least) = (above, at_least);
        (channel.at_most, channel.whole) = (at_most, whole);
        channel
    };
    let found = [NAN, 0.0, 172.8, 180.0, 360.0, 361.0];
    for (channel, left) in [
        (
            limited(Some(0.0), None, None, false),
            [NAN, NAN, 172.8, 180.0, 360.0, 361.0],
        ),
        (limited(None, Some(0.0), None, false), found),
        (
            limited(None, Some(180.0), None, false),
            [NAN, NAN, NAN, 180.0, 360.0, 361.0],
        ),
        (
            limited(None, None, Some(360.0), false),
            [NAN, 0.0, 172.8, 180.0, 360.0, NAN],
        ),
        (
            limited(None, None, None, true),
            [NAN, 0.0, NAN, 180.0, 360.0, 361.0],
        ),
    ] {
        let angles = || vec![numbers(Channel::ShutterAngle, &found)];
        let gone = left.iter().filter(|v| v.is_nan()).count() as u64 - 1;
        for other in [Keeping::Lost, Keeping::Aside] {
            let (written, losses) = write_columns(&takes(Some(channel.clone()), other), angles());
            let (expected, kind) = match other {
                Keeping::Aside => (&found, LossKind::Aside),
                _ => (&left, LossKind::Lost),
            };
            assert!(same(&written[0].values, expected), "{channel:?}");
            let loss = channel_loss("shutter-angle", kind, NOT_ALLOWED, gone);
            assert_eq!(losses, if gone > 0 { vec![loss] } else { vec![] });
        }
    }
    let mut channel = carried("shutter-angle", "arcmin");
    channel.at_most = Some(21_600.0);
    let angles = numbers(Channel::ShutterAngle, &[360.0, 361.0]);
    let (written, losses) = write_columns(&takes(Some(channel), Keeping::Lost), vec![angles]);
    assert!(same(&written[0].values, &[21_600.0, NAN]));
    assert_eq!(losses.len(), 1);
}

#[test]
fn a_reference_that_cannot_be_stated_is_merged_or_kept_aside() {
    let mut channel = carried("focus-distance", "m");
    channel.reference = References::Any(false);
    let column = |reference, value| NumberColumn {
        head: head(Channel::FocusDistance, Some(reference)),
        values: vec![value, 2.0],
    };
    for (other, kind) in [
        (Keeping::Lost, LossKind::Merged),
        (Keeping::Aside, LossKind::Aside),
    ] {
        let manifest = takes(Some(channel.clone()), other);
        for reference in DistanceReference::ALL {
            let (written, losses) = write_columns(&manifest, vec![column(reference, NAN)]);
            assert_eq!(written[0].reference, reference.name());
            let reason = match reference {
                DistanceReference::Unstated => {
                    assert_eq!(losses, []);
                    continue;
                }
                DistanceReference::ImagePlane => "image plane",
                DistanceReference::EntrancePupil => "entrance pupil",
                DistanceReference::FrontVertex => "front vertex",
            };
            let reason = format!("the format cannot say that it is measured from the {reason}");
            assert_eq!(losses, [channel_loss("focus-distance", kind, &reason, 1)]);
        }
    }
}

#[test]
fn a_reference_without_a_distance_is_no_loss() {
    let mut channel = carried("focus-distance", "m");
    channel.reference = References::Any(false);
    let column = NumberColumn {
        head: head(Channel::FocusDistance, Some(DistanceReference::ImagePlane)),
        values: vec![NAN],
    };
    let (_, losses) = write_columns(&takes(Some(channel), Keeping::Lost), vec![column]);
    assert_eq!(losses, []);
}

#[test]
fn degrees_of_an_encoder_become_counts_and_that_is_said() {
    let raw = vec![column("iris-ring-raw", "deg", &[12.5, NAN])];
    let batch = columns(raw).unwrap();
    let manifest = takes(Some(carried("iris-ring-raw", "count")), Keeping::Lost);
    let (written, losses) = write_columns(&manifest, batch.numbers);
    assert_eq!(written[0].unit, "count");
    assert!(same(&written[0].values, &[12.5, NAN]));
    let reason = "the format cannot say that the encoder counts degrees";
    let merged = channel_loss("iris-ring-raw", LossKind::Merged, reason, 1);
    assert_eq!(losses, [merged]);
}

#[test]
fn channels_without_a_place_are_lost_or_kept_aside() {
    for (other, kept, loss) in [
        (Keeping::Lost, false, Some(LossKind::Lost)),
        (Keeping::Aside, true, Some(LossKind::Aside)),
        (Keeping::Native, true, None),
    ] {
        let column = numbers(Channel::TStop, &[2.0, NAN, 2.8]);
        let (written, losses) = write_columns(&takes(None, other), vec![column]);
        assert_eq!(written.len(), usize::from(kept));
        assert!(written.iter().all(|c| same(&c.values, &[2.0, NAN, 2.8])));
        let expected = loss.map(|kind| channel_loss("t-stop", kind, NO_PLACE, 2));
        assert_eq!(losses, Vec::from_iter(expected));
    }
}

#[test]
fn a_listed_channel_fares_as_its_row_says() {
    let mut aside = carried("frame", "");
    (aside.keeping, aside.whole) = (Keeping::Aside, true);
    let column = || vec![numbers(Channel::Frame, &[0.5])];
    let (written, losses) = write_columns(&takes(Some(aside), Keeping::Lost), column());
    assert_eq!(
        written[0].values,
        [0.5],
        "limits are those of the place of its own"
    );
    assert_eq!(
        losses,
        [channel_loss("frame", LossKind::Aside, NO_PLACE, 1)]
    );
    let mut lost = carried("frame", "");
    lost.keeping = Keeping::Lost;
    let (written, losses) = write_columns(&takes(Some(lost), Keeping::Native), column());
    assert_eq!(written, []);
    assert_eq!(losses, [channel_loss("frame", LossKind::Lost, NO_PLACE, 1)]);
    let mut only_read = carried("frame", "");
    only_read.writes = false;
    let (written, _) = write_columns(&takes(Some(only_read), Keeping::Lost), column());
    assert_eq!(
        written,
        [],
        "a channel that is only read is none of the writer's"
    );
}

#[test]
fn a_column_without_a_recorded_value_is_no_loss() {
    let column = numbers(Channel::TStop, &[NAN, NAN]);
    let (_, losses) = write_columns(&takes(None, Keeping::Lost), vec![column]);
    assert_eq!(losses, []);
}

fn texts(key: ColumnKey, form: TextForm, texts: &[Option<&str>]) -> TextColumn {
    let head = ColumnHead {
        key,
        form: Some(form),
        ..ColumnHead::clone(&head(Channel::Lens, None))
    };
    TextColumn::from_texts(Arc::new(head), texts.iter().copied())
}

#[test]
fn texts_and_extras_of_frames_fare_as_the_manifest_says() {
    let timecode = ColumnKey::Channel(Channel::Timecode);
    let note = ColumnKey::Extra("note".into());
    let pace = NumberColumn {
        head: Arc::new(ColumnHead {
            key: ColumnKey::Extra("pace".into()),
            unit: "furlong".to_owned(),
            ..ColumnHead::clone(&head(Channel::Frame, None))
        }),
        values: vec![1.0, 2.0, NAN],
    };
    let batch = Batch {
        count: 3,
        numbers: vec![pace],
        texts: vec![
            texts(timecode, TextForm::Text, &[Some("01:00:00:00"), None, None]),
            texts(note, TextForm::Json, &[None, Some("{}"), Some("{}")]),
        ],
        ..Batch::default()
    };
    let pieces = [Piece::Take(Take::default()), Piece::Frames(batch)];
    for (channels, extras) in [
        (Keeping::Native, Keeping::Native),
        (Keeping::Lost, Keeping::Aside),
        (Keeping::Aside, Keeping::Lost),
    ] {
        let mut manifest = takes(None, channels);
        manifest.carries.extras = extras;
        let (items, losses) = write(&manifest, &pieces);
        let Some(RawItem::Frames(frames)) = items.last() else {
            panic!("{items:?}")
        };
        let kept: Vec<(&str, &str)> = frames
            .labels
            .iter()
            .map(|l| (l.channel.as_str(), l.form.as_str()))
            .collect();
        let all = [("timecode", "text"), ("extra/note", "json")];
        let of = |kept: Keeping, label| (kept != Keeping::Lost).then_some(label);
        let expected: Vec<_> = [of(channels, all[0]), of(extras, all[1])]
            .into_iter()
            .flatten()
            .collect();
        assert_eq!(kept, expected);
        if extras != Keeping::Lost {
            assert_eq!(frames.columns[0].channel, "extra/pace");
            assert_eq!(frames.columns[0].unit, "furlong");
        }
        let kind = |keeping| match keeping {
            Keeping::Native => None,
            Keeping::Aside => Some(LossKind::Aside),
            Keeping::Lost => Some(LossKind::Lost),
        };
        let extra = |name: &str| LossItem::Extra(name.to_owned());
        let expected: Vec<_> = [
            kind(extras).map(|kind| loss(extra("pace"), kind, NO_PLACE, 2)),
            kind(channels).map(|kind| channel_loss("timecode", kind, NO_PLACE, 1)),
            kind(extras).map(|kind| loss(extra("note"), kind, NO_PLACE, 2)),
        ]
        .into_iter()
        .flatten()
        .collect();
        assert_eq!(losses, expected);
    }
}

#[test]
fn losses_of_all_batches_add_up() {
    let batch = |first| {
        Piece::Frames(Batch {
            first,
            count: 2,
            numbers: vec![numbers(Channel::TStop, &[2.0, 2.0])],
            ..Batch::default()
        })
    };
    let pieces = [Piece::Take(Take::default()), batch(0), batch(2)];
    let (_, losses) = write(&takes(None, Keeping::Lost), &pieces);
    assert_eq!(
        losses,
        [channel_loss("t-stop", LossKind::Lost, NO_PLACE, 4)]
    );
}

fn lens() -> Lens {
    Lens {
        serial: Some("K-0417".to_owned()),
        close_focus: Some(Length::from_metres(0.4572)),
        image_circle: Some(Length::from_mm(3.97)),
        rings: vec![Ring {
            axis: Axis::Iris,
            quantity: ScaleQuantity::TStop,
            reference: None,
            source_unit: Unit::TStop,
            encoder: None,
            rotation: Some(Angle::from_degrees(90.0)),
            marks: Vec::new(),
        }],
        tables: vec![LensTable {
            name: "pupil".to_owned(),
            columns: vec![numbers(Channel::TStop, &[2.0])],
        }],
        extras: vec![Extra {
            name: "colour".to_owned(),
            value: ExtraValue::Text(TextForm::Text, "grey".to_owned()),
        }],
        ..Lens::default()
    }
}

#[test]
fn facts_fare_as_the_manifest_says() {
    let mut manifest = manifest(Carries {
        facts: vec![
            carried_fact("close-focus", "in"),
            carried_fact("image-circle", ""),
        ],
        other_facts: Keeping::Aside,
        extras: Keeping::Lost,
        marks: true,
        tables: true,
        ..Carries::default()
    });
    let pieces = [Piece::Lens(lens())];
    let (items, losses) = write(&manifest, &pieces);
    let Some(RawItem::Lens(written)) = items.first() else {
        panic!("{items:?}")
    };
    let of = |name: &str| written.facts.iter().find(|f| f.name == name);
    let close = of("close-focus").unwrap();
    assert_eq!(
        (&close.value, close.unit.as_str()),
        (&RawDatum::Number(18.0), "in")
    );
    let circle = of("image-circle").unwrap();
    assert_eq!(
        (&circle.value, circle.unit.as_str()),
        (&RawDatum::Number(3.97), "mm")
    );
    assert!(of("lens-serial").is_some() && of("extra/colour").is_none());
    assert_eq!(written.rings[0].facts[0].name, "rotation");
    let fact = |name: &str| LossItem::Fact(name.to_owned());
    assert_eq!(
        losses,
        [
            loss(fact("lens-serial"), LossKind::Aside, NO_PLACE, 0),
            loss(
                LossItem::Extra("colour".to_owned()),
                LossKind::Lost,
                NO_PLACE,
                0
            ),
            // What is said about a ring is a fact like any other.
            loss(fact("rotation"), LossKind::Aside, NO_PLACE, 0),
        ]
    );
    manifest.carries.facts[0].keeping = Keeping::Lost;
    let (_, losses) = write(&manifest, &pieces);
    let gone = loss(fact("close-focus"), LossKind::Lost, NO_PLACE, 0);
    assert!(losses.contains(&gone), "{losses:?}");
}

#[test]
fn rings_and_tables_that_cannot_be_written_are_lost() {
    let mut manifest = everything();
    (manifest.carries.marks, manifest.carries.tables) = (false, false);
    let (items, losses) = write(&manifest, &[Piece::Lens(lens())]);
    let Some(RawItem::Lens(written)) = items.first() else {
        panic!("{items:?}")
    };
    assert_eq!((written.rings.len(), written.tables.len()), (0, 0));
    let marks = LossItem::Marks("iris".to_owned());
    let table = LossItem::Table("pupil".to_owned());
    assert_eq!(
        losses,
        [
            loss(marks, LossKind::Lost, "the format holds no calibration", 0),
            loss(table, LossKind::Lost, "the format holds no lens tables", 0),
        ]
    );
}

#[test]
fn marks_beside_takes_are_lost_where_a_file_holds_one_of_them() {
    let mut manifest = everything();
    let (lens, take) = (Piece::Lens(lens()), Piece::Take(Take::default()));
    let reason = "the format holds a calibration or a take, not both; convert the lens apart";
    let both = loss(
        LossItem::Marks("all rings".to_owned()),
        LossKind::Lost,
        reason,
        0,
    );
    for (together, pieces, expected) in [
        (true, vec![lens.clone(), take.clone()], vec![]),
        (false, vec![lens.clone()], vec![]),
        (false, vec![take.clone()], vec![]),
        (
            false,
            vec![lens.clone(), take.clone(), take.clone()],
            vec![both.clone()],
        ),
        (false, vec![take, lens], vec![both]),
    ] {
        manifest.carries.marks_with_takes = together;
        assert_eq!(write(&manifest, &pieces).1, expected);
    }
}

#[test]
fn takes_that_cannot_be_written_are_lost_by_name() {
    let mut manifest = everything();
    manifest.carries.takes = false;
    let take = |clip: &str| {
        Piece::Take(Take {
            clip: Some(clip.to_owned()),
            ..Take::default()
        })
    };
    let frames = |take, count| {
        Piece::Frames(Batch {
            take,
            count,
            ..Batch::default()
        })
    };
    let pieces = [
        take("A012C003"),
        frames(0, 24),
        frames(0, 6),
        take("A012C004"),
    ];
    let (items, losses) = write(&manifest, &pieces);
    assert_eq!(items, []);
    let gone = |clip: &str, frames| {
        let take = LossItem::Take(clip.to_owned());
        loss(take, LossKind::Lost, "the format holds no takes", frames)
    };
    assert_eq!(losses, [gone("A012C003", 30), gone("A012C004", 0)]);
}

#[test]
fn remarks_and_provenance_are_for_no_writer() {
    let remark = Finding::new("row-too-short", Severity::Note, Subject::File, "short");
    let pieces = [Piece::Remark(remark), Piece::End(Vec::new())];
    let (items, losses) = write(&everything(), &pieces);
    assert_eq!((items.len(), losses.len()), (0, 0));
}
