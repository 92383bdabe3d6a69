//! A small reader of delimited text into the pieces of a document, for tests of checks. The real one is a plugin.
#![allow(clippy::unwrap_used, missing_docs, dead_code)]

use std::sync::Arc;

use ringmark_checks::{
    CameraPattern, Checker, Expected, LensPattern, Record, RecordBuilder, Settings, Show,
};
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, EncoderRange, Extra, ExtraValue, Finding,
    FramePlaces, Lens, LensKind, Mark, NumberColumn, Origin, Piece, Place, Ring, ScaleQuantity,
    Take, TextColumn, TextForm,
};
use ringmark_quantity::{
    Angle, CountingMode, DistanceReference, FNumber, FrameRate, Length, NominalFocalLength, TStop,
    Unit, parse,
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

/// `300 deg`
fn degrees(text: &str) -> Angle {
    Angle::from_degrees(text.strip_suffix(" deg").unwrap().parse().unwrap())
}

/// `0..65535`
fn range(text: &str) -> EncoderRange {
    let (low, high) = text.split_once("..").unwrap();
    let (low, high) = (low.parse().unwrap(), high.parse().unwrap());
    EncoderRange { low, high }
}

/// Sets a fact of the lens; `false` if it is none.
fn lens_fact(lens: &mut Lens, key: &str, value: &str) -> bool {
    match key {
        "maker" | "lens maker" => lens.maker = Some(value.to_owned()),
        "model" | "lens model" => lens.model = Some(value.to_owned()),
        "serial" | "lens serial" => lens.serial = Some(value.to_owned()),
        "kind" | "lens kind" => lens.kind = LensKind::from_name(value),
        "focal length" => {
            let range = value.strip_suffix(" mm").unwrap();
            let (min, max) = range.split_once('-').unwrap_or((range, range));
            lens.focal_length = Some((millimetres(min), millimetres(max)));
        }
        "squeeze" => lens.squeeze = Some(value.parse().unwrap()),
        "image circle" => lens.image_circle = Some(length(value)),
        "close focus" => lens.close_focus = Some(length(value)),
        "widest f-number" => lens.widest_f = FNumber::new(value.parse().unwrap()).ok(),
        "smallest f-number" => lens.smallest_f = FNumber::new(value.parse().unwrap()).ok(),
        "widest T-stop" => lens.widest_t = TStop::new(value.parse().unwrap()).ok(),
        "smallest T-stop" => lens.smallest_t = TStop::new(value.parse().unwrap()).ok(),
        _ => return false,
    }
    true
}

/// The name of the fact that a key of a lens means.
fn fact_name(key: &str) -> String {
    match key {
        "maker" | "model" | "serial" | "kind" => format!("lens-{key}"),
        "focal length" => "focal-length-min".to_owned(),
        _ => key.to_lowercase().replace(' ', "-"),
    }
}

/// The pieces of a calibration or a take; frames in batches of `size`.
pub fn pieces(text: &str, size: usize) -> Vec<Piece> {
    let mut lens = Lens::default();
    let mut take = Take::default();
    let (mut is_lens, mut has_facts) = (false, false);
    let mut reference = DistanceReference::Unstated;
    let mut encoder = None;
    let mut rotation = None;
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
            "reel" => take.reel = Some(value.to_owned()),
            "camera label" => take.camera.label = Some(value.to_owned()),
            "frame rate" => take.frame_rate = Some(FrameRate::parse(value).unwrap()),
            "timecode" => {
                take.counting = Some(if value == "drop-frame" {
                    CountingMode::DropFrame
                } else {
                    CountingMode::NonDrop
                });
            }
            "capture rate" => take.capture_rate = Some(FrameRate::parse(value).unwrap()),
            "start timecode" => take.start_timecode = Some(value.to_owned()),
            "distortion model" => take.distortion_model = Some(value.to_owned()),
            "sensor width" => take.sensor_mm.get_or_insert((0.0, 0.0)).0 = length(value).mm(),
            "sensor height" => take.sensor_mm.get_or_insert((0.0, 0.0)).1 = length(value).mm(),
            "resolution width" => take.resolution.get_or_insert((1, 1)).0 = value.parse().unwrap(),
            "resolution height" => take.resolution.get_or_insert((1, 1)).1 = value.parse().unwrap(),
            "focus rotation" => rotation = Some(degrees(value)),
            "calibrated" => lens.extras.push(Extra {
                name: key.to_owned(),
                value: ExtraValue::Text(TextForm::Text, value.to_owned()),
            }),
            // The second one is misspelt on purpose.
            "rangefinder offset" | "sensor widht" => take.extras.push(Extra {
                name: key.to_owned(),
                value: ExtraValue::Text(TextForm::Text, value.to_owned()),
            }),
            "focus encoder" => encoder = Some(range(value)),
            "measured from" => {
                reference = DistanceReference::from_name(&value.replace(' ', "-")).unwrap();
            }
            _ => {
                assert!(lens_fact(&mut lens, key, value), "unknown fact {key}");
                lens.places.push((fact_name(key), Place::record(0, offset)));
                has_facts = true;
            }
        }
    }
    let header = rows.remove(0).1;
    let cells = |line: &str| -> Vec<String> { csv_cells(line) };
    let names = cells(header);
    if is_lens {
        lens.rings = rings(&names, &rows, reference);
        let focus = lens
            .rings
            .iter_mut()
            .filter(|ring| ring.axis == Axis::Focus);
        focus.for_each(|ring| {
            ring.encoder = encoder;
            ring.rotation = rotation;
        });
        return vec![Piece::Lens(lens)];
    }
    take.encoders
        .extend(encoder.map(|range| (Axis::Focus, range)));
    let mut pieces = Vec::new();
    if has_facts {
        pieces.push(Piece::Lens(lens));
        take.lens = Some(0);
    }
    pieces.push(Piece::Take(take));
    for (n, rows) in rows.chunks(size).enumerate() {
        pieces.push(Piece::Frames(batch(
            &names,
            rows,
            (n * size) as u64,
            reference,
        )));
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

fn head(channel: Channel, reference: DistanceReference) -> Arc<ColumnHead> {
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: channel
            .unit()
            .map_or(String::new(), |unit| unit.symbol().to_owned()),
        reference: channel.is_distance().then_some(reference),
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

fn batch(
    names: &[String],
    rows: &[(u64, &str)],
    first: u64,
    reference: DistanceReference,
) -> Batch {
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
                .push(TextColumn::from_texts(head(channel, reference), texts));
        } else {
            // The one other unit that tests need; all are the plugin's.
            let feet = name.ends_with("[ft]");
            let one = if feet { 0.3048 } else { 1.0 };
            let values = column
                .map(|cell| {
                    if cell.is_empty() {
                        f64::NAN
                    } else {
                        one * cell.parse::<f64>().unwrap()
                    }
                })
                .collect();
            let mut head = ColumnHead::clone(&head(channel, reference));
            head.source_unit = feet.then(|| "ft".to_owned());
            batch.numbers.push(NumberColumn {
                head: Arc::new(head),
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

/// What the profile of an example expects. The real reader of profiles is the program's.
pub fn expected(profile: &str) -> Expected {
    let table: toml::Table = profile.parse().unwrap();
    let list = |kind: &str| -> Vec<toml::Value> {
        let list = table.get("expected").and_then(|e| e.get(kind));
        list.and_then(|l| l.as_array()).cloned().unwrap_or_default()
    };
    let text = |entry: &toml::Value, key: &str| {
        let text = entry.get(key).and_then(|v| v.as_str());
        text.map(str::to_owned)
    };
    let lens = |entry: &toml::Value| LensPattern {
        maker: text(entry, "maker"),
        model: text(entry, "model"),
        serial: text(entry, "serial"),
    };
    let camera = |entry: &toml::Value| CameraPattern {
        label: text(entry, "label"),
        model: text(entry, "model"),
        serial: text(entry, "serial"),
    };
    let value = |key: &str| table.get("expected").and_then(|e| e.get(key));
    let rate = value("frame-rate").and_then(|v| v.as_str());
    Expected {
        lenses: list("lens").iter().map(lens).collect(),
        cameras: list("camera").iter().map(camera).collect(),
        frame_rate: rate.map(|text| FrameRate::parse(text).unwrap()),
        calibrated_since: value("calibrated-since").map(|v| v.to_string()),
    }
}

/// All findings, frames in batches of `size`.
pub fn check_in(text: &str, calibration: Option<&str>, size: usize) -> Vec<Finding> {
    check_with(text, calibration, Expected::default(), size)
}

/// All findings, with what was prepared for the show.
pub fn check_with(
    text: &str,
    calibration: Option<&str>,
    expected: Expected,
    size: usize,
) -> Vec<Finding> {
    check_against(text, None, calibration, expected, size)
}

/// A take, held to be compared with.
pub fn record(text: &str, size: usize) -> Record {
    let mut builder = None;
    for piece in pieces(text, size) {
        match (&piece, &mut builder) {
            (Piece::Take(take), _) => {
                builder = Some(RecordBuilder::new(take, "other.csv", Vec::new()))
            }
            (Piece::Frames(batch), Some(builder)) => builder.frames(batch),
            _ => {}
        }
    }
    builder.unwrap().finish()
}

/// All findings of a take that is compared with another record of it.
pub fn check_against(
    text: &str,
    other: Option<&str>,
    calibration: Option<&str>,
    expected: Expected,
    size: usize,
) -> Vec<Finding> {
    let calibration = calibration.map(|text| match pieces(text, 1).remove(0) {
        Piece::Lens(lens) => lens,
        _ => panic!("no calibration"),
    });
    let settings = Settings {
        expected,
        ..Settings::default()
    };
    let mut checker = Checker::with_calibration(&settings, calibration);
    let other = other.map(|text| Arc::new(record(text, size)));
    for piece in pieces(text, size) {
        if let (Piece::Take(_), Some(other)) = (&piece, &other) {
            checker.compare_next(Arc::clone(other), Vec::new());
        }
        checker.piece(&piece);
    }
    checker.finish()
}

/// All findings.
pub fn check(text: &str) -> Vec<Finding> {
    check_in(text, None, 512)
}

/// All findings in the second of two documents of a show.
pub fn check_show(first: &str, second: &str, size: usize) -> Vec<Finding> {
    let mut show = Show::default();
    let settings = Settings::default();
    let mut found = Vec::new();
    for (name, text) in [("first", first), ("second", second)] {
        let mut checker = Checker::new(&settings);
        for piece in pieces(text, size) {
            checker.piece(&piece);
        }
        let takes = checker.takes();
        found = checker.finish();
        found.extend(show.document(name, &takes, &settings));
    }
    found
}
