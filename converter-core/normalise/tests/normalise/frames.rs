//! Batches: names, references, duplicates, ring positions.

use ringmark_model::raw::{RawItem, RawRemark, RawTake};
use ringmark_model::{Axis, Channel, Origin, Piece, Severity, Subject, TextForm};
use ringmark_quantity::DistanceReference;

use crate::make::*;

#[test]
fn what_a_distance_is_measured_from_is_kept() {
    for reference in DistanceReference::ALL {
        let distance = from(reference.name(), column("focus-distance", "m", &[1.0]));
        let batch = columns(vec![distance]).unwrap();
        let head = &batch.number_column(Channel::FocusDistance).unwrap().head;
        assert_eq!(head.reference, Some(reference));
    }
}

#[test]
fn a_distance_that_does_not_say_is_unstated() {
    let batch = columns(vec![column("near-limit", "m", &[1.0])]).unwrap();
    let head = &batch.number_column(Channel::NearLimit).unwrap().head;
    assert_eq!(head.reference, Some(DistanceReference::Unstated));
    let batch = columns(vec![column("t-stop", "T", &[2.0])]).unwrap();
    assert_eq!(batch.numbers[0].head.reference, None);
}

#[test]
fn an_unknown_reference_is_refused() {
    refused(
        columns(vec![from("tripod", column("focus-distance", "m", &[1.0]))]),
        "focus-distance is measured from 'tripod'",
        "image-plane, entrance-pupil, front-vertex or unstated",
    );
}

#[test]
fn an_unknown_channel_is_refused() {
    refused(
        columns(vec![column("focus", "m", &[1.0])]),
        "the channel 'focus', which ringmark does not know",
        "called 'extra/focus'",
    );
}

#[test]
fn numbers_and_texts_stay_apart() {
    refused(
        columns(vec![column("timecode", "", &[1.0])]),
        "numbers for 'timecode', which holds texts",
        "author of the plugin",
    );
    let text = labels("t-stop", "text", "2.8", 1);
    refused(
        batch_of(vec![], frames(vec![], vec![text])),
        "texts for 't-stop', which holds numbers",
        "author of the plugin",
    );
}

#[test]
fn texts_say_how_to_read_them() {
    for (form, expected) in [
        ("text", TextForm::Text),
        ("json", TextForm::Json),
        ("hex", TextForm::Hex),
    ] {
        let batch = batch_of(
            vec![],
            frames(vec![], vec![labels("extra/note", form, "00", 2)]),
        );
        let batch = batch.unwrap();
        assert_eq!(batch.texts[0].head.form, Some(expected));
        assert_eq!(batch.texts[0].get(1), Some("00"));
    }
    for form in ["", "xml"] {
        let text = labels("extra/note", form, "00", 1);
        let message = format!("texts of the form '{form}'");
        refused(
            batch_of(vec![], frames(vec![], vec![text])),
            &message,
            "text, json or hex",
        );
    }
    let label = labels("timecode", "hex", "00", 1);
    refused(
        batch_of(vec![], frames(vec![], vec![label])),
        "'timecode' as hex",
        "author of the plugin",
    );
}

#[test]
fn a_column_comes_once_a_batch() {
    refused(
        columns(vec![
            column("t-stop", "T", &[2.0]),
            column("t-stop", "", &[2.0]),
        ]),
        "'t-stop' twice in one batch",
        "author of the plugin",
    );
    let twice = frames(
        vec![column("extra/a", "", &[2.0])],
        vec![labels("extra/a", "text", "b", 1)],
    );
    refused(batch_of(vec![], twice), "'extra/a' twice", "author");
}

#[test]
fn a_column_may_change_its_unit_between_batches() {
    let mut second = frames(vec![column("focus-distance", "ft", &[5.0])], vec![]);
    second.first = 1;
    let pieces = read(vec![
        RawItem::Take(RawTake::default()),
        RawItem::Frames(frames(vec![column("focus-distance", "m", &[5.0])], vec![])),
        RawItem::Frames(second),
    ])
    .unwrap();
    let values: Vec<f64> = pieces
        .iter()
        .filter_map(|piece| match piece {
            Piece::Frames(batch) => Some(values(batch, Channel::FocusDistance)[0]),
            _ => None,
        })
        .collect();
    assert_eq!(values, [5.0, 1.524]);
}

#[test]
fn frames_before_the_head_of_their_take_are_refused() {
    refused(
        read(vec![RawItem::Frames(frames(vec![], vec![]))]),
        "frames of take 0 before its head",
        "author of the plugin",
    );
}

#[test]
fn a_take_of_a_lens_that_was_not_delivered_is_refused() {
    let take = RawTake {
        lens: Some(0),
        facts: vec![],
    };
    refused(
        read(vec![RawItem::Take(take)]),
        "a take of lens 0, but 0 lenses before it",
        "counted from 0",
    );
}

#[test]
fn places_of_frames_are_kept() {
    let mut raw = frames(vec![column("t-stop", "T", &[2.0, 2.8])], vec![]);
    (raw.first, raw.inputs, raw.offsets) = (40, vec![0, 1], vec![100, 0]);
    let batch = batch_of(vec![], raw).unwrap();
    assert_eq!((batch.first, batch.count, batch.take), (40, 2, 0));
    assert_eq!(batch.place(0), Some((0, 100)));
    assert_eq!(batch.place(1), Some((1, 0)));
}

fn range(low: f64, high: f64, unit: &str) -> Vec<ringmark_model::raw::RawFact> {
    vec![
        number("focus-encoder-low", low, unit),
        number("focus-encoder-high", high, unit),
    ]
}

#[test]
fn raw_positions_give_ring_positions_once() {
    let raw = column(
        "focus-ring-raw",
        "count",
        &[1000.0, 31_000.0, 61_000.0, NAN],
    );
    let frames = frames(vec![raw], vec![]);
    let batch = batch_of(range(1000.0, 61_000.0, "count"), frames).unwrap();
    assert!(same(
        values(&batch, Channel::FocusRing),
        &[0.0, 0.5, 1.0, NAN]
    ));
    let raw = values(&batch, Channel::FocusRingRaw);
    assert!(same(raw, &[1000.0, 31_000.0, 61_000.0, NAN]));
    assert_eq!(batch.numbers.len(), 2);
    let head = &batch.number_column(Channel::FocusRing).unwrap().head;
    assert_eq!(head.origin, Origin::Converted);
    assert_eq!(head.source_unit.as_deref(), Some("count"));
}

#[test]
fn a_reversed_encoder_falls_as_the_ring_turns_up() {
    let raw = column("focus-ring-raw", "count", &[61_000.0, 16_000.0]);
    let batch = batch_of(range(61_000.0, 1000.0, ""), frames(vec![raw], vec![])).unwrap();
    assert_eq!(values(&batch, Channel::FocusRing), [0.0, 0.75]);
}

#[test]
fn recorded_ring_positions_win() {
    let both = frames(
        vec![
            column("focus-ring-raw", "count", &[0.0, 100.0]),
            column("focus-ring", "%", &[2.0, 98.0]),
        ],
        vec![],
    );
    let batch = batch_of(range(0.0, 100.0, "count"), both).unwrap();
    assert_eq!(values(&batch, Channel::FocusRing), [0.02, 0.98]);
    assert_eq!(batch.numbers.len(), 2);
}

#[test]
fn raw_positions_without_a_range_stay_raw() {
    let raw = || frames(vec![column("iris-ring-raw", "count", &[5.0])], vec![]);
    for facts in [vec![], range(0.0, 10.0, "count")] {
        let batch = batch_of(facts, raw()).unwrap();
        assert_eq!(batch.numbers.len(), 1, "no range of the iris ring");
    }
}

#[test]
fn a_range_of_no_width_gives_no_positions_but_a_remark() {
    let (take, remarks) = take_of(range(5.0, 5.0, "count")).unwrap();
    assert_eq!(take.encoder(Axis::Focus).unwrap().low, 5.0, "kept as it is");
    assert_eq!(remarks.len(), 1);
    assert!(
        remarks[0]
            .message
            .contains("expected two different end stops"),
        "{remarks:?}"
    );
    let raw = frames(vec![column("focus-ring-raw", "count", &[5.0])], vec![]);
    let batch = batch_of(range(5.0, 5.0, "count"), raw).unwrap();
    assert_eq!(batch.numbers(Channel::FocusRing), None);
}

#[test]
fn an_encoder_in_degrees_keeps_its_numbers() {
    let raw = frames(vec![column("focus-ring-raw", "deg", &[70.0])], vec![]);
    let batch = batch_of(range(0.0, 280.0, "deg"), raw).unwrap();
    assert_eq!(values(&batch, Channel::FocusRing), [0.25]);
    assert_eq!(values(&batch, Channel::FocusRingRaw), [70.0]);
    let head = &batch.number_column(Channel::FocusRingRaw).unwrap().head;
    // A document holds raw positions as counts; the head says what they are.
    assert_eq!(head.unit, "count");
    assert_eq!(head.source_unit.as_deref(), Some("deg"));
    let ratio = &batch.number_column(Channel::FocusRing).unwrap().head;
    assert_eq!(ratio.source_unit.as_deref(), Some("deg"));
}

#[test]
fn positions_in_another_unit_than_their_range_are_refused() {
    let raw = frames(vec![column("focus-ring-raw", "deg", &[70.0])], vec![]);
    refused(
        batch_of(range(0.0, 65_535.0, "count"), raw),
        "focus-ring-raw is in deg, but its encoder range is in count",
        "give both in the same unit",
    );
}

#[test]
fn remarks_of_the_reader_pass() {
    let remark = |severity: &str, help: &str| {
        RawItem::Remark(RawRemark {
            severity: severity.to_owned(),
            check: "row-too-short".to_owned(),
            message: "5 cells, expected 6".to_owned(),
            help: help.to_owned(),
            at: None,
        })
    };
    for (severity, expected) in [
        ("note", Severity::Note),
        ("warning", Severity::Warning),
        ("error", Severity::Error),
        // Severities are an open set: a new one never breaks a compiled plugin.
        ("fatal", Severity::Warning),
    ] {
        let pieces = read(vec![remark(severity, "")]).unwrap();
        let [Piece::Remark(finding)] = pieces.as_slice() else {
            panic!("{pieces:?}")
        };
        assert_eq!(finding.severity, expected);
        assert_eq!(
            (finding.check.as_ref(), &finding.help),
            ("row-too-short", &None)
        );
        assert_eq!(finding.subject, Subject::File);
    }
    let pieces = read(vec![remark("note", "add a cell")]).unwrap();
    assert!(matches!(&pieces[0], Piece::Remark(f) if f.help.as_deref() == Some("add a cell")));
}
