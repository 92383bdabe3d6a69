//! A small reader of delimited text into the pieces of a document, for tests of checks. The real one is a plugin.
#![allow(clippy::unwrap_used, missing_docs, dead_code)]

use std::sync::Arc;

use ringmark_checks::{Checker, Settings};
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, Finding, FramePlaces, Lens, LensKind, Mark,
    NumberColumn, Origin, Piece, Place, Ring, ScaleQuantity, Take, TextColumn,
};
use ringmark_quantity::{
    CountingMode, DistanceReference, FNumber, FrameRate, Length, NominalFocalLength, TStop, Unit,
    parse,
};

/// Lines with their byte offsets.
fn lines(text: &str) -> impl Iterator<Item = (u64, &str)> {
    let mut at = 0;
    text.split_inclusive('\n').map(move |line| {
        let offset = at;
        at += line.len() as u64;
        (offset, line.trim_end())
    })
}

fn length(text: &str) -> Length {
    let (number, unit) = text.rsplit_once(' ').unwrap();
    Length::of(number.parse().unwrap(), Unit::from_symbol(unit).unwrap()).unwrap()
}

fn millimetres(text: &str) -> NominalFocalLength {
    NominalFocalLength::from_mm(text.trim().parse().unwrap()).unwrap()
}

/// Sets a fact of the lens; `false` if it is none.
fn lens_fact(lens: &mut Lens, key: &str, value: &str) -> bool {
    match key {
        "maker" => lens.maker = Some(value.to_owned()),
        "model" => lens.model = Some(value.to_owned()),
        "serial" => lens.serial = Some(value.to_owned()),
        "kind" | "lens kind" => lens.kind = LensKind::from_name(value),
        "focal length" => {
            let range = value.strip_suffix(" mm").unwrap();
            let (min, max) = range.split_once('-').unwrap_or((range, range));
            lens.focal_length = Some((millimetres(min), millimetres(max)));
        }
        "close focus" => lens.close_focus = Some(length(value)),
        "widest f-number" => lens.widest_f = FNumber::new(value.parse().unwrap()).ok(),
        "smallest f-number" => lens.smallest_f = FNumber::new(value.parse().unwrap()).ok(),
        "widest T-stop" => lens.widest_t = TStop::new(value.parse().unwrap()).ok(),
        "smallest T-stop" => lens.smallest_t = TStop::new(value.parse().unwrap()).ok(),
        _ => return false,
    }
    true
}

/// The pieces of a calibration or a take; frames in batches of `size`.
pub fn pieces(text: &str, size: usize) -> Vec<Piece> {
    let mut lens = Lens::default();
    let mut take = Take::default();
    let (mut is_lens, mut has_facts) = (false, false);
    let mut reference = DistanceReference::Unstated;
    let mut rows = Vec::new();
    for (offset, line) in lines(text) {
        let Some(fact) = line.strip_prefix('#') else {
            rows.push((offset, line));
            continue;
        };
        let (key, value) = fact.trim().split_once(": ").unwrap();
        match key {
            "document" => is_lens = value == "ring calibration",
            "clip" => take.clip = Some(value.to_owned()),
            "frame rate" => take.frame_rate = Some(FrameRate::parse(value).unwrap()),
            "timecode" => {
                take.counting = Some(if value == "drop-frame" {
                    CountingMode::DropFrame
                } else {
                    CountingMode::NonDrop
                });
            }
            "measured from" => reference = DistanceReference::from_name(value).unwrap(),
            _ => {
                assert!(lens_fact(&mut lens, key, value), "unknown fact {key}");
                has_facts = true;
            }
        }
    }
    let header = rows.remove(0).1;
    let cells = |line: &str| -> Vec<String> { csv_cells(line) };
    let names = cells(header);
    if is_lens {
        lens.rings = rings(&names, &rows, reference);
        return vec![Piece::Lens(lens)];
    }
    let mut pieces = Vec::new();
    if has_facts {
        pieces.push(Piece::Lens(lens));
        take.lens = Some(0);
    }
    pieces.push(Piece::Take(take));
    for (n, rows) in rows.chunks(size).enumerate() {
        pieces.push(Piece::Frames(batch(&names, rows, (n * size) as u64)));
    }
    pieces
}

/// Cells of a line; a quote inside a cell, as in feet and inches, is kept.
fn csv_cells(line: &str) -> Vec<String> {
    line.split(',').map(|cell| cell.trim().to_owned()).collect()
}

fn rings(names: &[String], rows: &[(u64, &str)], reference: DistanceReference) -> Vec<Ring> {
    let mut rings: Vec<Ring> = Vec::new();
    let symbol = names[2].split_once('[').unwrap().1.trim_end_matches(']');
    let unit = Unit::from_symbol(symbol).unwrap();
    for (offset, row) in rows {
        let cells = csv_cells(row);
        let axis = Axis::from_name(&cells[0]).unwrap();
        let (quantity, value) = match unit {
            Unit::TStop => (ScaleQuantity::TStop, cells[2].parse().unwrap()),
            Unit::Millimetre => (ScaleQuantity::FocalLength, cells[2].parse().unwrap()),
            _ => (ScaleQuantity::FocusDistance, metres(&cells[2], unit)),
        };
        let mark = Mark {
            position: cells[1].parse().unwrap(),
            raw: None,
            value,
            engraved: Some(cells[2].clone()),
            place: Some(Place::record(0, *offset)),
        };
        match rings.iter_mut().find(|ring| ring.axis == axis) {
            Some(ring) => ring.marks.push(mark),
            None => rings.push(Ring {
                axis,
                quantity,
                reference: (axis == Axis::Focus).then_some(reference),
                source_unit: unit,
                encoder: None,
                rotation: None,
                marks: vec![mark],
            }),
        }
    }
    rings
}

fn metres(text: &str, unit: Unit) -> f64 {
    match (text, unit) {
        ("inf", _) => f64::INFINITY,
        (_, Unit::FeetInches) => {
            let (number, unit) = parse::length(text, unit).unwrap();
            Length::of(number, unit).unwrap().metres()
        }
        _ => Length::of(text.parse().unwrap(), unit).unwrap().metres(),
    }
}

fn head(channel: Channel) -> Arc<ColumnHead> {
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: channel
            .unit()
            .map_or(String::new(), |unit| unit.symbol().to_owned()),
        reference: channel.is_distance().then_some(DistanceReference::Unstated),
        origin: Origin::Recorded,
        source_unit: None,
        form: None,
    })
}

fn channel(name: &str) -> Channel {
    let plain = name.split('[').next().unwrap().trim();
    match plain {
        "focal length" => Channel::NominalFocalLength,
        "rangefinder" => Channel::RangefinderDistance,
        _ => Channel::from_name(&plain.to_lowercase().replace(' ', "-"))
            .unwrap_or_else(|| panic!("column {name}")),
    }
}

fn batch(names: &[String], rows: &[(u64, &str)], first: u64) -> Batch {
    let cells: Vec<Vec<String>> = rows.iter().map(|(_, row)| csv_cells(row)).collect();
    let mut batch = Batch {
        first,
        count: rows.len(),
        ..Batch::default()
    };
    for (at, name) in names.iter().enumerate() {
        let channel = channel(name);
        let column = cells.iter().map(|row| row[at].as_str());
        if channel.is_text() {
            let texts = column.map(|cell| (!cell.is_empty()).then_some(cell));
            batch
                .texts
                .push(TextColumn::from_texts(head(channel), texts));
        } else {
            let values = column
                .map(|cell| {
                    if cell.is_empty() {
                        f64::NAN
                    } else {
                        cell.parse().unwrap()
                    }
                })
                .collect();
            batch.numbers.push(NumberColumn {
                head: head(channel),
                values,
            });
        }
    }
    batch.places = FramePlaces {
        inputs: Vec::new(),
        offsets: rows.iter().map(|(offset, _)| *offset).collect(),
    };
    batch
}

/// All findings, frames in batches of `size`.
pub fn check_in(text: &str, calibration: Option<&str>, size: usize) -> Vec<Finding> {
    let calibration = calibration.map(|text| match pieces(text, 1).remove(0) {
        Piece::Lens(lens) => lens,
        _ => panic!("no calibration"),
    });
    let mut checker = Checker::with_calibration(&Settings::default(), calibration);
    for piece in pieces(text, size) {
        checker.piece(&piece);
    }
    checker.finish()
}

/// All findings.
pub fn check(text: &str) -> Vec<Finding> {
    check_in(text, None, 512)
}
