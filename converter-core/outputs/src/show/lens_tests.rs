#![allow(clippy::unwrap_used, missing_docs)]
use super::*;
use crate::show::{
    Drive, InfinityPlace, MarkResidual, ScaleAnswer, ScalePoint, Standing, show_answers,
};
use proptest::prelude::*;
use ringmark_model::{Axis, EncoderRange, Extra, ExtraValue, LensKind, Mark, Ring, ScaleQuantity};
use ringmark_quantity::{Angle, DistanceReference, FNumber, Length, NominalFocalLength, TStop};

fn mark(position: f64, value: f64, engraved: &str) -> Mark {
    Mark {
        position,
        raw: None,
        value,
        engraved: Some(engraved.to_owned()),
        place: None,
    }
}

fn ring(axis: Axis, quantity: ScaleQuantity, source_unit: Unit, marks: Vec<Mark>) -> Ring {
    Ring {
        axis,
        quantity,
        reference: (axis == Axis::Focus).then_some(DistanceReference::ImagePlane),
        source_unit,
        encoder: None,
        rotation: None,
        marks,
    }
}

fn zoom() -> Lens {
    let mut focus = ring(
        Axis::Focus,
        ScaleQuantity::FocusDistance,
        Unit::FeetInches,
        vec![
            mark(0.0, 0.6096, "2'"),
            mark(0.31, 0.9144, "3'"),
            mark(0.58, 1.6764, "5'6\""),
            mark(0.82, 3.048, "10'"),
            mark(1.0, f64::INFINITY, "∞"),
        ],
    );
    focus.encoder = Some(EncoderRange {
        low: 65535.0,
        high: 0.0,
    });
    focus.rotation = Some(Angle::from_degrees(310.0));
    focus.marks[0].raw = Some(65535.0);
    let iris = ring(
        Axis::Iris,
        ScaleQuantity::TStop,
        Unit::TStop,
        vec![
            mark(0.0, 2.8, "2.8"),
            mark(0.5, 5.6, "5.6"),
            mark(1.0, 22.0, "\u{1b}22"),
        ],
    );
    let zoom = ring(
        Axis::Zoom,
        ScaleQuantity::FocalLength,
        Unit::Millimetre,
        vec![
            mark(0.0, 24.0, "24"),
            mark(0.6, 50.0, "50"),
            mark(1.0, 75.0, "75"),
        ],
    );
    Lens {
        maker: Some("Halden Optikk".to_owned()),
        model: Some("Halden 24-75".to_owned()),
        serial: Some("H-2041".to_owned()),
        kind: Some(LensKind::Zoom),
        focal_length: Some((
            NominalFocalLength::from_mm(24.0).unwrap(),
            NominalFocalLength::from_mm(75.0).unwrap(),
        )),
        close_focus: Some(Length::from_metres(0.6096)),
        close_focus_reference: Some(DistanceReference::ImagePlane),
        widest_t: Some(TStop::new(2.8).unwrap()),
        widest_f: Some(FNumber::new(2.6).unwrap()),
        squeeze: Some(1.0),
        image_circle: Some(Length::from_mm(46.3)),
        extras: vec![Extra {
            name: "shelf\u{202e}".to_owned(),
            value: ExtraValue::Number(4.0, "row".to_owned()),
        }],
        rings: vec![focus, iris, zoom],
        ..Lens::default()
    }
}

/// Straight lines in dioptres between the marks of a focus ring: what a curve is, is not for this crate to know.
fn focus_report(ring: &Ring) -> ScaleReport {
    let place = |position: f64| {
        let pairs = || ring.marks.iter().zip(ring.marks.iter().skip(1));
        let (a, b) = pairs()
            .find(|(_, b)| position <= b.position)
            .or_else(|| pairs().next_back())
            .unwrap();
        let part = (position - a.position) / (b.position - a.position);
        let dioptres = 1.0 / a.value + part * (1.0 / b.value - 1.0 / a.value);
        let half = 0.5 * position * (1.0 - position);
        let metres = |dioptres: f64| 1.0 / dioptres.max(0.0);
        ScalePoint {
            position,
            value: metres(dioptres),
            low: metres(dioptres + half),
            high: metres(dioptres - half),
            standing: match position {
                p if p < 0.98 => Standing::Marked,
                _ => Standing::PastInfinity,
            },
            sharp: Some((metres(dioptres + 0.1), metres(dioptres - 0.1))),
        }
    };
    ScaleReport {
        drive: Drive::Cam,
        reading_error: 0.001_23,
        infinity: Some(InfinityPlace {
            position: 0.98,
            band: 0.002,
            extrapolated: true,
        }),
        depth: Some(Ok("at f/2.6 (full aperture), 75 mm".to_owned())),
        curve: (0..=200).map(|k| place(f64::from(k) / 200.0)).collect(),
        marks: [0.001, -0.0021, 0.000_4, f64::NAN, 0.0]
            .map(|travel| MarkResidual {
                travel,
                depths: travel * 40.0,
            })
            .to_vec(),
        metric: vec![place(0.25), place(0.6)],
        imperial: vec![place(0.31), place(0.99)],
    }
}

fn zoom_report() -> ScaleReport {
    let point = |position: f64| ScalePoint {
        position,
        value: 24.0 + 51.0 * position,
        low: 23.9 + 51.0 * position,
        high: 24.1 + 51.0 * position,
        standing: Standing::Extrapolated,
        sharp: None,
    };
    ScaleReport {
        drive: Drive::Marks,
        reading_error: 0.000_2,
        infinity: None,
        depth: None,
        curve: (0..=100).map(|k| point(f64::from(k) / 100.0)).collect(),
        marks: Vec::new(),
        metric: vec![point(0.5)],
        imperial: Vec::new(),
    }
}

fn reports(lens: &Lens) -> Vec<Result<ScaleReport, String>> {
    vec![
        Ok(focus_report(&lens.rings[0])),
        Err("marks 2.8 and \u{1b}22 run against the rest".to_owned()),
        Ok(zoom_report()),
    ]
}

#[test]
fn snapshot() {
    let mut out = String::new();
    let lens = zoom();
    show_lens(&mut out, &lens, &reports(&lens), ShowOptions::default()).unwrap();
    assert!(!out.chars().any(|c| c != '\n' && c.is_control()));
    insta::assert_snapshot!(out);
}

#[test]
fn every_width_holds_its_lines() {
    let lens = zoom();
    for width in [60, 80, 100, 132, 200] {
        let mut out = String::new();
        let options = ShowOptions {
            colour: false,
            width,
        };
        show_lens(&mut out, &lens, &reports(&lens), options).unwrap();
        // Everything from the first table on; facts above wrap as text does.
        let lines = out.lines().skip_while(|line| !line.contains("position"));
        let scales = lines.filter(|line| {
            line.contains(['│', '┤', '├']) || line.starts_with("  0") || line.contains("95 %")
        });
        let widest = scales.map(unicode_width::UnicodeWidthStr::width).max();
        assert!(
            widest.unwrap() <= width.max(80),
            "{width}: {widest:?}\n{out}"
        );
        let plots = out.lines().filter(|line| line.contains('├'));
        assert!(plots.clone().count() == 1, "{out}");
        for line in plots {
            // The last column stays free: some terminals wrap at it.
            assert_eq!(
                unicode_width::UnicodeWidthStr::width(line),
                width - 1,
                "{out}"
            );
        }
    }
}

#[test]
fn answers_in_metric_and_imperial() {
    let lens = zoom();
    let focus = focus_report(&lens.rings[0]);
    let answer = |asked: &str, answer| ScaleAnswer {
        asked: asked.to_owned(),
        answer,
    };
    let answers = [
        answer("5'\u{1b}", Ok((0, focus.metric[1]))),
        answer("50mm", Ok((2, zoom_report().metric[0]))),
        answer("0.2m", Err("off the scale".to_owned())),
    ];
    let mut out = String::new();
    show_answers(&mut out, &lens, &answers, ShowOptions::default()).unwrap();
    insta::assert_snapshot!(out);
}

#[test]
fn a_lens_of_which_nothing_is_known() {
    let mut out = String::new();
    show_lens(
        &mut out,
        &Lens::default(),
        &[],
        ShowOptions {
            colour: false,
            width: 0,
        },
    )
    .unwrap();
    assert_eq!(out, "Lens unnamed lens\n");
}

fn any_point() -> impl Strategy<Value = ScalePoint> {
    let standing = prop_oneof![
        Just(Standing::Marked),
        Just(Standing::Extrapolated),
        Just(Standing::PastInfinity)
    ];
    (any::<[f64; 4]>(), standing, any::<Option<(f64, f64)>>()).prop_map(
        |([position, value, low, high], standing, sharp)| ScalePoint {
            position,
            value,
            low,
            high,
            standing,
            sharp,
        },
    )
}

proptest! {
    #[test]
    fn never_panics(
        marks in proptest::collection::vec(any::<(f64, f64)>(), 0..6),
        points in proptest::collection::vec(any_point(), 0..6),
        numbers in any::<[f64; 3]>(),
        width in 0usize..200,
    ) {
        let [reading_error, position, band] = numbers;
        let report = ScaleReport {
            drive: Drive::Even,
            reading_error,
            infinity: Some(InfinityPlace { position, band, extrapolated: false }),
            depth: None,
            curve: points.clone(),
            marks: marks.iter().map(|&(travel, depths)| MarkResidual { travel, depths }).collect(),
            metric: points.clone(),
            imperial: points.clone(),
        };
        for quantity in [ScaleQuantity::FocusDistance, ScaleQuantity::TStop, ScaleQuantity::FocalLength] {
            let marks = marks.iter().map(|&(position, value)| mark(position, value, "x")).collect();
            let mut ring = ring(Axis::Focus, quantity, Unit::One, marks);
            ring.rotation = Some(Angle::from_degrees(band));
            ring.encoder = Some(EncoderRange { low: position, high: band });
            let lens = Lens { rings: vec![ring], ..Lens::default() };
            let options = ShowOptions { colour: true, width };
            let mut out = String::new();
            show_lens(&mut out, &lens, &[Ok(report.clone())], options).unwrap();
            show_lens(&mut out, &lens, &[Err("why".to_owned())], options).unwrap();
            let answers = points.iter().map(|&point| ScaleAnswer { asked: "x".to_owned(), answer: Ok((0, point)) });
            show_answers(&mut out, &lens, &answers.collect::<Vec<_>>(), options).unwrap();
        }
    }
}
