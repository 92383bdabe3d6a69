//! What the forms look like, and what writers refuse.

use std::sync::Arc;

use ringmark_model::json::{
    DocumentKind, DocumentWriter, JsonLinesWriter, LineEncoder, encode_batch,
};
use ringmark_model::{
    Axis, Batch, Channel, ColumnHead, ColumnKey, Extra, ExtraValue, Lens, Mark, NumberColumn,
    Origin, Piece, Provenance, Ring, ScaleQuantity, Take, TextColumn, TextForm,
};
use ringmark_quantity::{DistanceReference, FrameRate, Length, Unit};

use crate::{document, lines, read};

fn head(channel: Channel) -> Arc<ColumnHead> {
    let unit = channel.unit().map_or("", Unit::symbol);
    let origin = if channel.is_distance() {
        Origin::Converted
    } else {
        Origin::Recorded
    };
    Arc::new(ColumnHead {
        key: ColumnKey::Channel(channel),
        unit: unit.to_owned(),
        reference: channel
            .is_distance()
            .then_some(DistanceReference::ImagePlane),
        origin,
        source_unit: channel.is_distance().then(|| "ft".to_owned()),
        form: channel.is_text().then_some(TextForm::Text),
    })
}

fn numbers(channel: Channel, values: &[f64]) -> NumberColumn {
    NumberColumn {
        head: head(channel),
        values: values.to_vec(),
    }
}

fn lens() -> Piece {
    Piece::Lens(Lens {
        maker: Some("Halden".to_owned()),
        model: Some("Fjell 50".to_owned()),
        image_circle: Some(Length::from_metres(0.0463)),
        rings: vec![Ring {
            axis: Axis::Focus,
            quantity: ScaleQuantity::FocusDistance,
            reference: Some(DistanceReference::ImagePlane),
            source_unit: Unit::FeetInches,
            encoder: None,
            rotation: None,
            marks: vec![
                Mark {
                    position: 0.0755,
                    raw: None,
                    value: 0.4572,
                    engraved: Some("18\"".to_owned()),
                    place: None,
                },
                Mark {
                    position: 1.0,
                    raw: None,
                    value: f64::INFINITY,
                    engraved: Some("∞".to_owned()),
                    place: None,
                },
            ],
        }],
        extras: vec![
            Extra {
                name: "coating".to_owned(),
                value: ExtraValue::Text(TextForm::Text, "multi".to_owned()),
            },
            Extra {
                name: "weight".to_owned(),
                value: ExtraValue::Number(2.5, "kg".to_owned()),
            },
            Extra {
                name: "shims".to_owned(),
                value: ExtraValue::Text(TextForm::Json, "[1, 2]".to_owned()),
            },
        ],
        ..Lens::default()
    })
}

fn take() -> Piece {
    Piece::Take(Take {
        clip: Some("A003C012".to_owned()),
        frame_rate: Some(FrameRate::new(24_000, 1001).unwrap()),
        lens: Some(0),
        ..Take::default()
    })
}

fn frames() -> Batch {
    let timecode = ["01:00:00:00", "01:00:00:01"].map(Some);
    Batch {
        count: 3,
        numbers: vec![
            numbers(Channel::FocusDistance, &[1.2, f64::INFINITY, f64::NAN]),
            numbers(Channel::Frame, &[1001.0, 1002.0, f64::NAN]),
        ],
        texts: vec![TextColumn::from_texts(
            head(Channel::Timecode),
            timecode.into_iter().chain([None]),
        )],
        ..Batch::default()
    }
}

fn end() -> Piece {
    Piece::End(vec![Provenance {
        file: "a.csv".to_owned(),
        files: 1,
        size: 120,
        program: "ringmark 0.1.0".to_owned(),
        ..Provenance::default()
    }])
}

fn pieces() -> Vec<Piece> {
    vec![lens(), take(), Piece::Frames(frames()), end()]
}

#[test]
fn a_take_as_lines() {
    let expected = r#"{"lens_data":"1.0","form":"lines","lenses":[{"maker":"Halden","model":"Fjell 50","image_circle_mm":46.3,"rings":[{"axis":"focus","quantity":"focus-distance","reference":"image-plane","unit":"m","source_unit":"ft-in","marks":[{"position":0.0755,"value":0.4572,"engraved":"18\""},{"position":1,"value":"inf","engraved":"∞"}]}],"extras":{"coating":"multi","weight":{"number":2.5,"unit":"kg"},"shims":{"json":"[1, 2]"}}}],"takes":[{"clip":"A003C012","frame_rate":"24000/1001","lens":0,"channels":{"frame":{"origin":"recorded"},"timecode":{"origin":"recorded"},"focus-distance":{"unit":"m","reference":"image-plane","origin":"converted","source_unit":"ft"}}}]}
{"frame":1001,"timecode":"01:00:00:00","focus-distance":1.2}
{"frame":1002,"timecode":"01:00:00:01","focus-distance":"inf"}
{}
{"end":{"lines":4,"frames":[3],"provenance":[{"file":"a.csv","files":1,"size":120,"program":"ringmark 0.1.0"}]}}
"#;
    assert_eq!(String::from_utf8(lines(&pieces())).unwrap(), expected);
}

#[test]
fn a_take_as_document() {
    let expected = r#"{
  "lens_data": "1.0",
  "lenses": [
    {
      "maker": "Halden",
      "model": "Fjell 50",
      "image_circle_mm": 46.3,
      "rings": [
        {
          "axis": "focus",
          "quantity": "focus-distance",
          "reference": "image-plane",
          "unit": "m",
          "source_unit": "ft-in",
          "marks": [
            {"position": 0.0755, "value": 0.4572, "engraved": "18\""},
            {"position": 1, "value": "inf", "engraved": "∞"}
          ]
        }
      ],
      "extras": {
        "coating": "multi",
        "weight": {"number": 2.5, "unit": "kg"},
        "shims": {"json": "[1, 2]"}
      }
    }
  ],
  "takes": [
    {
      "clip": "A003C012",
      "frame_rate": "24000/1001",
      "lens": 0,
      "frames": 3,
      "channels": {
        "frame": {
          "origin": "recorded",
          "values": [1001, 1002, null]
        },
        "timecode": {
          "origin": "recorded",
          "values": ["01:00:00:00", "01:00:00:01", null]
        },
        "focus-distance": {
          "unit": "m",
          "reference": "image-plane",
          "origin": "converted",
          "source_unit": "ft",
          "values": [1.2, "inf", null]
        }
      }
    }
  ],
  "provenance": [
    {
      "file": "a.csv",
      "files": 1,
      "size": 120,
      "program": "ringmark 0.1.0"
    }
  ]
}
"#;
    let text = document(DocumentKind::Takes, &pieces());
    assert_eq!(String::from_utf8(text).unwrap(), expected);
}

#[test]
fn columns_and_takes_that_come_later_get_a_line() {
    let more = Batch {
        first: 3,
        count: 1,
        numbers: vec![numbers(Channel::TStop, &[2.8])],
        ..Batch::default()
    };
    let other = Batch {
        take: 1,
        count: 1,
        numbers: vec![numbers(Channel::Frame, &[7.0])],
        ..Batch::default()
    };
    let mut all = pieces();
    let end = all.pop().unwrap();
    all.extend([Piece::Frames(more), take(), Piece::Frames(other), end]);
    let text = String::from_utf8(lines(&all)).unwrap();
    let tail: Vec<&str> = text.lines().skip(4).collect();
    assert_eq!(
        tail[0],
        r#"{"take":0,"channels":{"t-stop":{"unit":"T","origin":"recorded"}}}"#
    );
    assert_eq!(tail[1], r#"{"t-stop":2.8}"#);
    assert_eq!(
        tail[2],
        r#"{"takes":[{"clip":"A003C012","frame_rate":"24000/1001","lens":0,"channels":{"frame":{"origin":"recorded"}}}]}"#
    );
    assert_eq!(tail[3], r#"{"take":1,"frame":7}"#);
    assert!(tail[4].starts_with(r#"{"end":{"lines":8,"frames":[4,1],"#));
}

/// A column whose head changes is declared anew in lines, and refused in documents.
#[test]
fn a_column_may_change_in_lines() {
    let column = |origin, values: &[f64]| NumberColumn {
        head: Arc::new(ColumnHead {
            origin,
            ..(*head(Channel::TStop)).clone()
        }),
        values: values.to_vec(),
    };
    let batch = |first, column| {
        Piece::Frames(Batch {
            first,
            count: 1,
            numbers: vec![column],
            ..Batch::default()
        })
    };
    let all = vec![
        lens(),
        take(),
        batch(0, column(Origin::Recorded, &[2.0])),
        batch(1, column(Origin::Derived, &[2.1])),
        end(),
    ];
    let origins: Vec<Origin> = read(&lines(&all))
        .unwrap()
        .iter()
        .filter_map(|piece| match piece {
            Piece::Frames(batch) => batch.number_column(Channel::TStop).map(|c| c.head.origin),
            _ => None,
        })
        .collect();
    assert_eq!(origins, [Origin::Recorded, Origin::Derived]);
    let mut writer = DocumentWriter::new(DocumentKind::Takes, Vec::new());
    let refused = all
        .iter()
        .find_map(|piece| writer.put(piece).err())
        .unwrap();
    assert!(
        refused.to_string().contains("`t-stop` changes"),
        "{refused}"
    );
    assert_eq!(
        refused.help(),
        Some("write a .take.jsonl, where a column may change")
    );
}

/// Batches encoded apart give the bytes of the writer.
#[test]
fn batches_can_be_encoded_apart() {
    let mut encoder = LineEncoder::new();
    let mut whole = Vec::new();
    for piece in &pieces() {
        let mut ahead = Vec::new();
        let layout = encoder.piece(piece, &mut ahead).unwrap();
        let mut behind = Vec::new();
        if let (Some(layout), Piece::Frames(batch)) = (layout, piece) {
            encode_batch(&layout, batch, &mut behind).unwrap();
        }
        whole.extend([ahead, behind].concat());
    }
    assert_eq!(whole, lines(&pieces()));
}

#[test]
fn places_are_those_in_the_document() {
    let text = String::from_utf8(lines(&pieces())).unwrap();
    let back = read(text.as_bytes()).unwrap();
    let at = |place: &ringmark_model::Place| {
        let start = place.offset as usize;
        &text[start..start + place.length as usize]
    };
    let [
        Piece::Lens(lens),
        Piece::Take(take),
        Piece::Frames(batch),
        _,
    ] = &back[..]
    else {
        panic!("{back:?}");
    };
    assert_eq!(at(&lens.place_of("lens-maker").unwrap()), "\"Halden\"");
    assert_eq!(at(&lens.place_of("image-circle").unwrap()), "46.3");
    assert_eq!(at(&take.place_of("frame-rate").unwrap()), "\"24000/1001\"");
    let mark = lens.rings[0].marks[1].place.as_ref().unwrap();
    assert_eq!(at(mark), r#"{"position":1,"value":"inf","engraved":"∞"}"#);
    let (_, second) = batch.place(1).unwrap();
    assert!(text[second as usize..].starts_with("{\"frame\":1002"));

    let text = String::from_utf8(document(DocumentKind::Takes, &pieces())).unwrap();
    let back = read(text.as_bytes()).unwrap();
    let Some(Piece::Frames(batch)) = back.get(2) else {
        panic!("{back:?}");
    };
    assert!(text[batch.place(1).unwrap().1 as usize..].starts_with("1002, null]"));
}

#[test]
fn long_takes_come_in_batches() {
    let count = 10_000;
    let values: Vec<f64> = (0..count).map(f64::from).collect();
    let batch = Batch {
        count: values.len(),
        numbers: vec![numbers(Channel::Frame, &values)],
        ..Batch::default()
    };
    let all = vec![lens(), take(), Piece::Frames(batch), end()];
    for text in [lines(&all), document(DocumentKind::Takes, &all)] {
        let mut firsts = Vec::new();
        let mut back = Vec::new();
        for piece in read(&text).unwrap() {
            if let Piece::Frames(batch) = piece {
                firsts.push((batch.first, batch.count));
                back.extend_from_slice(batch.numbers(Channel::Frame).unwrap());
            }
        }
        assert_eq!(firsts, [(0, 4096), (4096, 4096), (8192, 1808)]);
        assert_eq!(back, values);
    }
}

fn refusal(pieces: &[Piece]) -> String {
    let mut writer = JsonLinesWriter::new(Vec::new());
    let found = pieces.iter().find_map(|piece| writer.put(piece).err());
    found.expect("it was written").to_string()
}

fn changed(change: impl FnOnce(&mut Batch)) -> Vec<Piece> {
    let mut batch = frames();
    change(&mut batch);
    vec![lens(), take(), Piece::Frames(batch)]
}

#[test]
fn pieces_that_make_no_document_are_refused() {
    let feet = Arc::new(ColumnHead {
        unit: "ft".to_owned(),
        ..(*head(Channel::FocusDistance)).clone()
    });
    for (pieces, expected) in [
        (vec![take()], "only 0 lenses"),
        (changed(|b| b.take = 1), "only 1 takes"),
        (changed(|b| b.first = 9), "go on at 9 after 0 frames"),
        (changed(|b| b.count = 4), "has 3 values for 4 frames"),
        (
            changed(|b| b.numbers.push(b.numbers[0].clone())),
            "`focus-distance` stands twice",
        ),
        (changed(|b| b.numbers[0].head = feet), "is always in `m`"),
        (vec![end(), end()], "after the end"),
        (
            vec![
                Piece::Lens(Lens {
                    squeeze: Some(f64::NAN),
                    ..Lens::default()
                }),
                end(),
            ],
            "squeeze is NaN",
        ),
    ] {
        let said = refusal(&pieces);
        assert!(said.contains(expected), "{said}");
    }
    let said = JsonLinesWriter::new(Vec::new())
        .finish()
        .unwrap_err()
        .to_string();
    assert_eq!(said, "the document has no end");
}

#[test]
fn too_much_for_a_document_is_refused() {
    let batch = Batch {
        count: 200_001,
        numbers: vec![numbers(Channel::Frame, &vec![1.0; 200_001])],
        ..Batch::default()
    };
    let mut writer = DocumentWriter::new(DocumentKind::Takes, Vec::new());
    writer.put(&lens()).unwrap();
    writer.put(&take()).unwrap();
    let refused = writer.put(&Piece::Frames(batch)).unwrap_err();
    assert!(
        refused.to_string().starts_with("more than 200000 frames"),
        "{refused}"
    );
    assert_eq!(refused.help(), Some("write a .take.jsonl"));
    let refused = DocumentWriter::new(DocumentKind::Lenses, Vec::new())
        .put(&take())
        .unwrap_err();
    assert!(
        refused.to_string().contains("holds lenses only"),
        "{refused}"
    );
}
