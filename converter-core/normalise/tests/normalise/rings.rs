//! Scales of rings: what they read, positions of every kind, and the way back.

use ringmark_model::raw::{RawFact, RawItem, RawRing};
use ringmark_model::{Lens, Piece, Ring, ScaleQuantity};
use ringmark_quantity::{DistanceReference, Unit};

use crate::make::*;

fn one(raw: RawRing) -> Ring {
    let (mut lens, remarks) = read_ring(raw).unwrap();
    assert_eq!((remarks.len(), &lens.extras), (0, &vec![]));
    lens.rings.pop().unwrap()
}

fn encoder(low: f64, high: f64, unit: &str) -> Vec<RawFact> {
    vec![
        number("encoder-low", low, unit),
        number("encoder-high", high, unit),
    ]
}

fn write_ring(ring: &Ring) -> RawRing {
    let lens = Lens {
        rings: vec![ring.clone()],
        ..Lens::default()
    };
    let manifest = everything();
    let (items, losses) = write(&manifest, &[Piece::Lens(lens)]);
    assert_eq!(losses, []);
    match items.into_iter().next() {
        Some(RawItem::Lens(mut lens)) => lens.rings.pop().unwrap(),
        other => panic!("{other:?}"),
    }
}

/// Writes the ring, reads it again, and says what the writer got.
fn there_and_back(ring: &Ring) -> RawRing {
    let written = write_ring(ring);
    assert_eq!(one(written.clone()), *ring);
    written
}

#[test]
fn each_axis_reads_its_quantity_in_any_unit() {
    for (axis, unit, value, quantity, canonical) in [
        ("focus", "ft-in", 66.0, ScaleQuantity::FocusDistance, 1.6764),
        ("focus", "D", 0.0, ScaleQuantity::FocusDistance, INF),
        ("iris", "T", 2.8, ScaleQuantity::TStop, 2.8),
        ("iris", "f", 2.8, ScaleQuantity::FNumber, 2.8),
        ("zoom", "mm", 50.0, ScaleQuantity::FocalLength, 50.0),
        ("zoom", "in", 2.0, ScaleQuantity::FocalLength, 50.8),
    ] {
        let read = one(ring(
            axis,
            ("0..1", unit),
            vec![],
            vec![mark(0.5, value, "")],
        ));
        assert_eq!(read.quantity, quantity);
        assert_eq!(read.source_unit, Unit::from_symbol(unit).unwrap());
        assert_eq!(read.marks[0].value, canonical);
        assert_eq!(read.marks[0].engraved, None);
        assert_eq!(read.reference.is_some(), axis == "focus");
    }
}

#[test]
fn a_scale_without_unit_is_refused() {
    let bare = |axis| read_ring(ring(axis, ("0..1", ""), vec![], vec![]));
    refused(
        bare("focus"),
        "the focus scale has no unit",
        "keeps it in m",
    );
    refused(bare("zoom"), "the zoom scale has no unit", "keeps it in mm");
    refused(
        bare("iris"),
        "the iris scale has no unit",
        "T for T-stops or f for f-numbers",
    );
}

#[test]
fn a_scale_of_another_kind_is_refused() {
    for (axis, unit) in [("focus", "T"), ("iris", "mm"), ("zoom", "deg")] {
        refused(
            read_ring(ring(axis, ("0..1", unit), vec![], vec![])),
            &format!("the {axis} scale: “{unit}” does not convert"),
            "give it in",
        );
    }
    refused(
        read_ring(ring("tilt", ("0..1", "m"), vec![], vec![])),
        "a ring called 'tilt'",
        "focus, iris or zoom",
    );
}

#[test]
fn the_reference_of_a_scale_is_kept_unstated_or_refused() {
    let read = |axis, unit, facts| read_ring(ring(axis, ("0..1", unit), facts, vec![]));
    let of = |axis, unit, facts| read(axis, unit, facts).unwrap().0.rings[0].reference;
    let plane = || vec![text("reference", "image-plane")];
    assert_eq!(
        of("focus", "m", plane()),
        Some(DistanceReference::ImagePlane)
    );
    assert_eq!(of("focus", "m", vec![]), Some(DistanceReference::Unstated));
    assert_eq!(of("iris", "T", plane()), None, "stops are no distances");
    refused(
        read("focus", "m", vec![text("reference", "mount")]),
        "the focus scale is measured from 'mount'",
        "image-plane",
    );
}

#[test]
fn positions_of_every_kind_become_ratios() {
    for (unit, facts, raw, ratio) in [
        ("0..1", vec![], 0.25, 0.25),
        ("%", vec![], 25.0, 0.25),
        ("count", encoder(1000.0, 61_000.0, "count"), 16_000.0, 0.25),
        ("count", encoder(61_000.0, 1000.0, ""), 16_000.0, 0.75),
        ("deg", encoder(10.0, 290.0, "deg"), 80.0, 0.25),
        ("deg", vec![number("rotation", 280.0, "deg")], 70.0, 0.25),
        (
            "deg",
            vec![number("rotation", 16_800.0, "arcmin")],
            70.0,
            0.25,
        ),
    ] {
        let raw_ring = ring(
            "focus",
            (unit, "m"),
            facts,
            vec![mark(raw, 1.5, "1.5"), mark(raw, 2.0, "2")],
        );
        let read = one(raw_ring);
        assert_eq!(read.marks[0].position, ratio, "{raw} {unit}");
        assert_eq!(read.marks[0].raw, (unit != "0..1").then_some(raw));
        assert_eq!(read.encoder.is_some(), ["count", "deg"].contains(&unit));
        // Positions and texts go back as they came.
        let written = there_and_back(&read);
        assert_eq!(written.position_unit, unit);
        assert_eq!(written.marks[0], mark(raw, 1.5, "1.5"));
        assert_eq!(written.marks[1].engraved, "2");
    }
}

#[test]
fn engraved_feet_go_back_as_engraved() {
    let read = one(ring(
        "focus",
        ("count", "ft-in"),
        encoder(0.0, 65_535.0, "count"),
        vec![mark(65_535.0, INF, "∞"), mark(8000.0, 66.0, "5'6\"")],
    ));
    assert_eq!(read.marks[1].value, 1.6764);
    let written = there_and_back(&read);
    assert_eq!(written.value_unit, "ft-in");
    assert_eq!(written.marks[0], mark(65_535.0, INF, "∞"));
    assert_eq!(written.marks[1], mark(8000.0, 66.0, "5'6\""));
}

#[test]
fn positions_without_a_range_are_refused() {
    let read = |unit, facts| read_ring(ring("focus", (unit, "m"), facts, vec![]));
    refused(
        read("count", vec![]),
        "the focus scale has positions in encoder counts, but no range",
        "'# focus encoder: 0..65535'",
    );
    refused(
        read("deg", vec![number("encoder-low", 0.0, "deg")]),
        "positions in degrees, but no range",
        "'# focus encoder: 0..300 deg'",
    );
    refused(
        read("count", encoder(7.0, 7.0, "count")),
        "the focus scale: “7 count” is no ring range",
        "both end stops",
    );
    refused(
        read("deg", encoder(0.0, 65_535.0, "count")),
        "positions in degrees, but a range in encoder counts",
        "same unit",
    );
    refused(
        read("", vec![]),
        "the focus scale's position has no unit",
        "0..1",
    );
    refused(
        read("mm", vec![]),
        "positions in millimetres",
        "0..1, %, count or deg",
    );
}

#[test]
fn a_range_is_kept_even_where_positions_are_ratios() {
    for unit in ["0..1", "%"] {
        let read = one(ring(
            "zoom",
            (unit, "mm"),
            encoder(100.0, 900.0, "count"),
            vec![mark(0.5, 40.0, "")],
        ));
        let range = read.encoder.unwrap();
        assert_eq!((range.low, range.high), (100.0, 900.0));
        assert_eq!(there_and_back(&read).position_unit, unit);
    }
}

#[test]
fn degrees_at_both_end_stops_say_how_far_the_ring_turns() {
    let read = one(ring(
        "focus",
        ("deg", "m"),
        encoder(290.0, 10.0, "deg"),
        vec![],
    ));
    assert_eq!(read.rotation.unwrap().degrees(), 280.0);
    let read = one(ring(
        "focus",
        ("count", "m"),
        encoder(0.0, 280.0, "count"),
        vec![],
    ));
    assert_eq!(read.rotation, None);
}

#[test]
fn encoder_limits_go_back_in_the_unit_of_the_positions() {
    let read = one(ring(
        "focus",
        ("deg", "m"),
        encoder(0.0, 280.0, "deg"),
        vec![],
    ));
    let mut manifest = everything();
    manifest.carries.facts = vec![carried_fact("encoder-low", "count")];
    let lens = Lens {
        rings: vec![read],
        ..Lens::default()
    };
    let (items, _) = write(&manifest, &[Piece::Lens(lens)]);
    let Some(RawItem::Lens(written)) = items.first() else {
        panic!("{items:?}")
    };
    let ends: Vec<(&str, &str)> = written.rings[0]
        .facts
        .iter()
        .map(|f| (f.name.as_str(), f.unit.as_str()))
        .collect();
    let reference = ("reference", "");
    let expected = [
        reference,
        ("encoder-low", "deg"),
        ("encoder-high", "deg"),
        ("rotation", "deg"),
    ];
    assert_eq!(ends, expected);
}

#[test]
fn a_mark_without_position_or_value_is_kept() {
    let read = one(ring(
        "focus",
        ("count", "m"),
        encoder(0.0, 100.0, "count"),
        vec![mark(NAN, 1.0, ""), mark(50.0, NAN, "?"), mark(0.0, INF, "")],
    ));
    assert!(read.marks[0].position.is_nan());
    assert_eq!(
        read.marks[0].raw, None,
        "a document holds finite raw positions"
    );
    assert!(read.marks[1].value.is_nan());
    assert_eq!(read.marks[2].value, INF);
    let written = write_ring(&read);
    assert_eq!(written.position_unit, "count");
    assert!(written.marks[0].position.is_nan());
    assert_eq!(written.marks[1].position, 50.0);
}

#[test]
fn raw_positions_that_do_not_fit_their_range_give_way_to_ratios() {
    let mut read = one(ring(
        "focus",
        ("count", "m"),
        encoder(0.0, 100.0, "count"),
        vec![mark(50.0, 1.0, "")],
    ));
    read.marks[0].position = 0.75;
    let written = write_ring(&read);
    assert_eq!(
        (written.position_unit.as_str(), written.marks[0].position),
        ("0..1", 0.75)
    );
}

#[test]
fn an_infinite_rotation_becomes_a_remark() {
    let facts = vec![number("rotation", INF, "deg")];
    let (lens, remarks) = read_ring(ring("iris", ("0..1", "T"), facts, vec![])).unwrap();
    assert_eq!(lens.rings[0].rotation, None);
    assert_eq!(
        remarks[0].message,
        "rotation is inf deg: expected a finite number"
    );
}
