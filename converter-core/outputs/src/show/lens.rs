//! A lens: who it is, what it can do, and the scale of each ring as a table and a curve.

use std::fmt::{self, Write};

use ringmark_model::{Lens, Ring, ScaleQuantity};
use ringmark_quantity::{Unit, print};
use unicode_width::UnicodeWidthStr;

use super::{Facts, Scale, ShowOptions, Span, distance, reference_words, write_plot};
use crate::plot::Canvas;
use crate::report::number;
use crate::safe::safe;
use crate::table::Table;

const CURVE_ROWS: usize = 10;

/// Writes a lens.
pub fn show_lens(out: &mut dyn Write, lens: &Lens, options: ShowOptions) -> fmt::Result {
    writeln!(
        out,
        "{}",
        options
            .paint()
            .bold(format!("Lens {}", safe(&lens.label())))
    )?;
    facts(lens).write(out)?;
    for ring in &lens.rings {
        writeln!(out)?;
        show_ring(out, ring, options)?;
    }
    for table in &lens.tables {
        let rows = table.columns.first().map_or(0, |c| c.values.len()) as u64;
        let columns: Vec<String> = table
            .columns
            .iter()
            .map(|c| safe(&c.head.key.name()).into_owned())
            .collect();
        writeln!(
            out,
            "\nTable {}: {} of {}",
            safe(&table.name),
            number(rows, "row"),
            columns.join(", ")
        )?;
    }
    Ok(())
}

fn facts(lens: &Lens) -> Facts {
    let mut facts = Facts::default();
    facts.add("maker", lens.maker.as_deref());
    facts.add("model", lens.model.as_deref());
    facts.add("serial", lens.serial.as_deref());
    facts.add("firmware", lens.firmware.as_deref());
    facts.add("kind", lens.kind.map(|k| k.name()));
    let focal_length = lens
        .focal_length
        .map(|(short, long)| (short.mm(), long.mm()));
    facts.add(
        "focal length",
        focal_length.map(|(short, long)| match short == long {
            true => print::focal_length(short),
            false => format!(
                "{} to {}",
                print::focal_length(short),
                print::focal_length(long)
            ),
        }),
    );
    let from = lens
        .close_focus_reference
        .map(|r| format!(", {}", reference_words(r)))
        .unwrap_or_default();
    facts.add(
        "close focus",
        lens.close_focus.map(|l| distance(l.metres()) + &from),
    );
    let stops = |t: Option<f64>, f: Option<f64>| {
        let stops: Vec<String> = t
            .map(print::t_stop)
            .into_iter()
            .chain(f.map(print::f_number))
            .collect();
        (!stops.is_empty()).then(|| stops.join(", "))
    };
    facts.add(
        "widest",
        stops(
            lens.widest_t.map(|t| t.value()),
            lens.widest_f.map(|f| f.value()),
        ),
    );
    facts.add(
        "smallest",
        stops(
            lens.smallest_t.map(|t| t.value()),
            lens.smallest_f.map(|f| f.value()),
        ),
    );
    facts.add("squeeze", lens.squeeze.map(|s| print::value(s, Unit::One)));
    facts.add(
        "image circle",
        lens.image_circle
            .map(|l| print::value(l.mm(), Unit::Millimetre)),
    );
    facts.extras(&lens.extras);
    facts
}

fn show_ring(out: &mut dyn Write, ring: &Ring, options: ShowOptions) -> fmt::Result {
    let mut about = vec![
        number(ring.marks.len() as u64, "mark"),
        format!("engraved in {}", ring.source_unit.name()),
    ];
    about.extend(ring.reference.map(|r| reference_words(r).to_owned()));
    about.extend(
        ring.rotation
            .map(|a| format!("{} of rotation", print::angle(a.degrees()))),
    );
    about.extend(ring.encoder.map(|e| {
        let count = |value| print::value(value, Unit::One);
        format!("encoder {} to {}", count(e.low), count(e.high))
    }));
    let title = options.paint().bold(format!("{} ring", ring.axis.name()));
    writeln!(out, "{title}: {}", about.join(", "))?;
    marks(ring).write(out, 2)?;
    show_curve(out, ring, options)
}

fn marks(ring: &Ring) -> Table {
    let head = match ring.quantity {
        ScaleQuantity::FocusDistance => {
            ["position", "raw", "engraved", "metres", "feet and inches"]
        }
        ScaleQuantity::TStop => ["position", "raw", "engraved", "T-stop", ""],
        ScaleQuantity::FNumber => ["position", "raw", "engraved", "f-number", ""],
        ScaleQuantity::FocalLength => ["position", "raw", "engraved", "focal length", ""],
    };
    let mut table = Table::new(head);
    for mark in &ring.marks {
        let imperial = match ring.quantity {
            ScaleQuantity::FocusDistance => print::imperial(mark.value),
            _ => String::new(),
        };
        table.row([
            print::position(mark.position),
            mark.raw
                .map(|raw| print::value(raw, Unit::One))
                .unwrap_or_default(),
            mark.engraved
                .as_deref()
                .map(|e| safe(e).into_owned())
                .unwrap_or_default(),
            value(ring.quantity, mark.value),
            imperial,
        ]);
    }
    table.without_empty_columns()
}

fn value(quantity: ScaleQuantity, value: f64) -> String {
    match quantity {
        ScaleQuantity::FocusDistance => print::metric(value),
        ScaleQuantity::TStop => print::t_stop(value),
        ScaleQuantity::FNumber => print::f_number(value),
        ScaleQuantity::FocalLength => print::focal_length(value),
    }
}

/// The marks as points, joined in the order of their positions.
fn show_curve(out: &mut dyn Write, ring: &Ring, options: ShowOptions) -> fmt::Result {
    let is_distance = ring.quantity == ScaleQuantity::FocusDistance;
    let scale = Scale::of(ring.quantity.unit(), is_distance);
    let mut points: Vec<(f64, f64, f64)> = ring
        .marks
        .iter()
        .filter(|mark| mark.position.is_finite())
        .filter_map(|mark| Some((mark.position, scale.height(mark.value)?, mark.value)))
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let x = Span::around(points.iter().map(|p| p.0).chain([0.0, 1.0]));
    let y = Span::around(points.iter().map(|p| p.1));
    let (Some(x), Some(y), true) = (x, y, points.len() > 1) else {
        return Ok(());
    };
    let label = |height: f64| {
        let point = points.iter().find(|p| p.1 == height);
        point.map_or(String::new(), |p| match is_distance {
            true => distance(p.2),
            false => value(ring.quantity, p.2),
        })
    };
    let (top, bottom) = (label(y.high), label(y.low));
    let taken = top.width().max(bottom.width()) + 4;
    let mut canvas = Canvas::new(options.width.saturating_sub(taken).max(20), CURVE_ROWS);
    let at = |p: &(f64, f64, f64)| (x.part(p.0), y.part(p.1));
    for (a, b) in points.iter().zip(points.iter().skip(1)) {
        canvas.line(at(a), at(b));
    }
    for point in &points {
        let (x, y) = at(point);
        canvas.mark(x, y, 'o');
    }
    let ends = (print::position(x.low), print::position(x.high));
    writeln!(
        out,
        "  {} over ring position{}",
        ring.axis.name(),
        scale.title()
    )?;
    write_plot(out, &canvas, &top, &bottom, (&ends.0, &ends.1))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, missing_docs)]
    use super::*;
    use proptest::prelude::*;
    use ringmark_model::{Axis, EncoderRange, Extra, ExtraValue, LensKind, Mark};
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

    #[test]
    fn snapshot() {
        let mut out = String::new();
        show_lens(&mut out, &zoom(), ShowOptions::default()).unwrap();
        assert!(!out.chars().any(|c| c != '\n' && c.is_control()));
        insta::assert_snapshot!(out);
    }

    #[test]
    fn a_lens_of_which_nothing_is_known() {
        let mut out = String::new();
        show_lens(
            &mut out,
            &Lens::default(),
            ShowOptions {
                colour: false,
                width: 0,
            },
        )
        .unwrap();
        assert_eq!(out, "Lens unnamed lens\n");
    }

    proptest! {
        #[test]
        fn never_panics(marks in proptest::collection::vec(any::<(f64, f64)>(), 0..6), width in 0usize..200) {
            for quantity in [ScaleQuantity::FocusDistance, ScaleQuantity::TStop, ScaleQuantity::FocalLength] {
                let marks = marks.iter().map(|&(position, value)| mark(position, value, "x")).collect();
                let lens = Lens { rings: vec![ring(Axis::Focus, quantity, Unit::One, marks)], ..Lens::default() };
                let mut out = String::new();
                show_lens(&mut out, &lens, ShowOptions { colour: true, width }).unwrap();
            }
        }
    }
}
