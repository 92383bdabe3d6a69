//! The scale of a ring: its marks, what the curve through them rests on, and a table of round values.

use std::fmt::{self, Write};

use ringmark_model::{Lens, Ring, ScaleQuantity};
use ringmark_quantity::{Unit, print};

use super::curve::write_curve;
use super::round::System;
use super::scale_report::{Drive, ScaleAnswer, ScalePoint, ScaleReport, Standing};
use super::scale_words::{
    band, counts, degrees, engraved, fine, position, standing, travel, travel_in_units, two_digits,
};
use super::{Facts, ShowOptions, reference_words};
use crate::report::number;
use crate::safe::safe;
use crate::table::Table;

/// Writes a ring; `report` is its curve, or why its marks give none.
pub(super) fn show_ring(
    out: &mut dyn Write,
    ring: &Ring,
    report: Option<&Result<ScaleReport, String>>,
    options: ShowOptions,
) -> fmt::Result {
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
    match report {
        Some(Ok(report)) => {
            facts(ring, report).write(out)?;
            writeln!(out)?;
            marks(ring, Some(report))
                .fitting(options.width, &MARKS_DROPPED)
                .write(out, 2)?;
            writeln!(out)?;
            write_curve(out, ring, report, options)?;
            rounds(out, ring, report, options)
        }
        other => {
            if !ring.marks.is_empty() {
                marks(ring, None)
                    .fitting(options.width, &MARKS_DROPPED)
                    .write(out, 2)?;
            }
            match other {
                Some(Err(why)) => writeln!(out, "  no curve: {}", safe(why)),
                _ => Ok(()),
            }
        }
    }
}

/// What the curve rests on.
pub(crate) fn facts(ring: &Ring, report: &ScaleReport) -> Facts {
    let focus = ring.quantity == ScaleQuantity::FocusDistance;
    let mut facts = Facts::default();
    facts.add(
        "drive",
        Some(match (report.drive, focus) {
            (Drive::Even, true) => "even: the law of focusing alone explains the marks",
            (Drive::Even, false) => "even: a straight line explains the marks",
            (Drive::Cam, _) => "cam: the marks show a drive that is not even",
            (Drive::Marks, _) => {
                "no law explains the marks: the curve goes through them as they are"
            }
        }),
    );
    let with_units = |part: f64, head: String| {
        let units = travel_in_units(ring, part);
        match units.is_empty() {
            true => head,
            false => format!("{head} ({})", units.join(", ")),
        }
    };
    facts.add(
        "reading error",
        Some(with_units(
            report.reading_error,
            format!(
                "{} of travel, one standard deviation",
                two_digits(report.reading_error)
            ),
        )),
    );
    if ring.quantity == ScaleQuantity::FocusDistance {
        facts.add("infinity", Some(infinity(report)));
        let past = past_infinity(report);
        facts.add(
            "past infinity",
            past.map(|part| with_units(part, format!("{} of travel", two_digits(part)))),
        );
    }
    facts.add(
        "depth of field",
        report.depth.as_ref().map(|depth| match depth {
            Ok(basis) => basis.clone(),
            Err(why) => format!("not known: {why}"),
        }),
    );
    facts
}

fn infinity(report: &ScaleReport) -> String {
    match report.infinity {
        None => "no mark is near enough to tell where it lies".to_owned(),
        Some(infinity) => format!(
            "at {} ± {}{}",
            position(infinity.position),
            two_digits(infinity.band),
            match infinity.extrapolated {
                true => ", extrapolated: no mark says so",
                false => "",
            }
        ),
    }
}

/// How far the ring turns past infinity, if infinity lies inside its travel.
fn past_infinity(report: &ScaleReport) -> Option<f64> {
    let at = report.infinity?.position;
    // The near end of the scale is on the other side of it.
    let near = report
        .curve
        .iter()
        .filter(|point| point.value.is_finite())
        .min_by(|a, b| a.value.total_cmp(&b.value))?;
    let past = if near.position < at { 1.0 - at } else { at };
    (0.0 < past && past < 1.0).then_some(past)
}

/// Columns of the table of marks that a narrow terminal does without, the first to go first.
const MARKS_DROPPED: [usize; 3] = [6, 1, 2];

/// The marks of a ring, with how far each is off the curve.
pub(crate) fn marks(ring: &Ring, report: Option<&ScaleReport>) -> Table {
    let value_head = match ring.quantity {
        ScaleQuantity::FocusDistance => "metres",
        ScaleQuantity::TStop => "T-stop",
        ScaleQuantity::FNumber => "f-number",
        ScaleQuantity::FocalLength => "focal length",
    };
    let units = match (ring.encoder.and_then(|e| e.scale()), ring.rotation) {
        (Some(_), _) => "counts",
        (None, Some(_)) => "degrees",
        (None, None) => "",
    };
    let mut table = Table::new([
        "position", "raw", "engraved", value_head, "feet", "off by", units, "of depth",
    ]);
    for (index, mark) in ring.marks.iter().enumerate() {
        let imperial = match ring.quantity {
            ScaleQuantity::FocusDistance => print::imperial(mark.value),
            _ => String::new(),
        };
        let value = match ring.quantity {
            ScaleQuantity::FocusDistance => print::metric(mark.value),
            quantity => engraved(quantity, System::Metric, mark.value),
        };
        let residual = report.and_then(|report| report.marks.get(index));
        let off = residual.map_or(f64::NAN, |residual| residual.travel);
        let in_units = match (ring.encoder.and_then(|e| e.scale()), ring.rotation) {
            _ if !off.is_finite() => String::new(),
            (Some(scale), _) => signed(off * (scale.high() - scale.low()), 0, ""),
            (None, Some(rotation)) => signed(off * rotation.degrees(), 2, "°"),
            (None, None) => String::new(),
        };
        let depths = residual.map_or(f64::NAN, |residual| residual.depths);
        table.row([
            print::position(mark.position),
            mark.raw
                .map(|raw| print::value(raw, Unit::One))
                .unwrap_or_default(),
            mark.engraved
                .as_deref()
                .map(|e| safe(e).into_owned())
                .unwrap_or_default(),
            value,
            imperial,
            travel(off),
            in_units,
            match depths.is_finite() {
                true => signed(depths, 2, ""),
                false => String::new(),
            },
        ]);
    }
    table
}

/// A number with its sign; `0` has none.
fn signed(number: f64, places: usize, unit: &str) -> String {
    let text = format!("{number:+.places$}");
    match text.contains(|digit: char| ('1'..='9').contains(&digit)) {
        true => text + unit,
        false => "0".to_owned(),
    }
}

/// Round values and where the ring stands for them: distances once in metres and once in feet.
fn rounds(
    out: &mut dyn Write,
    ring: &Ring,
    report: &ScaleReport,
    options: ShowOptions,
) -> fmt::Result {
    let (metric, imperial) = match ring.quantity {
        ScaleQuantity::FocusDistance => ("metres", "feet"),
        ScaleQuantity::TStop => ("T-stop", ""),
        ScaleQuantity::FNumber => ("f-number", ""),
        ScaleQuantity::FocalLength => ("focal length", ""),
    };
    for (points, head, system) in [
        (&report.metric, metric, System::Metric),
        (&report.imperial, imperial, System::Imperial),
    ] {
        if points.is_empty() {
            continue;
        }
        let mut table = Table::new([
            head,
            "position",
            "degrees",
            "counts",
            "95 % band",
            "sharp from",
            "to",
            "",
        ]);
        for point in points {
            let sharp = |limit: fn((f64, f64)) -> f64| {
                point.sharp.map_or(String::new(), |limits| {
                    fine(ring.quantity, system, limit(limits))
                })
            };
            table.row([
                engraved(ring.quantity, system, point.value),
                position(point.position),
                degrees(ring, point.position),
                counts(ring, point.position),
                band(ring.quantity, system, point),
                sharp(|limits| limits.0),
                sharp(|limits| limits.1),
                footnote(point.standing).to_owned(),
            ]);
        }
        writeln!(out)?;
        table.fitting(options.width, &[2, 3]).write(out, 2)?;
        if points
            .iter()
            .any(|point| !footnote(point.standing).is_empty())
        {
            writeln!(out, "  * {}", standing(Standing::Extrapolated))?;
        }
    }
    Ok(())
}

/// A narrow table has no room for words at its end. Past infinity stands no round value but infinity itself.
fn footnote(standing: Standing) -> &'static str {
    match standing {
        Standing::Extrapolated => "*",
        Standing::Marked | Standing::PastInfinity => "",
    }
}

/// Writes what the scales of a lens say to questions, in metric and imperial; questions without an answer are left out.
pub fn show_answers(
    out: &mut dyn Write,
    lens: &Lens,
    answers: &[ScaleAnswer],
    options: ShowOptions,
) -> fmt::Result {
    let title = format!("Lens {}", safe(&lens.label()));
    writeln!(out, "{}", options.paint().bold(title))?;
    let mut table = Table::new([
        "asked",
        "ring",
        "position",
        "degrees",
        "counts",
        "value",
        "feet",
        "95 % band",
        "in feet",
        "sharp from",
        "to",
        "",
    ]);
    for ScaleAnswer { asked, answer } in answers {
        if let Ok((ring, point)) = answer
            && let Some(ring) = lens.rings.get(*ring)
        {
            table.row(answer_row(safe(asked).into_owned(), ring, point));
        }
    }
    if answers.iter().any(|answer| answer.answer.is_ok()) {
        table.without_empty_columns().write(out, 2)?;
    }
    Ok(())
}

fn answer_row(asked: String, ring: &Ring, point: &ScalePoint) -> [String; 12] {
    let focus = ring.quantity == ScaleQuantity::FocusDistance;
    let in_feet = |text: &dyn Fn() -> String| if focus { text() } else { String::new() };
    let sharp = |limit: fn((f64, f64)) -> f64| {
        point.sharp.map_or(String::new(), |limits| {
            fine(ring.quantity, System::Metric, limit(limits))
        })
    };
    [
        asked,
        ring.axis.name().to_owned(),
        position(point.position),
        degrees(ring, point.position),
        counts(ring, point.position),
        fine(ring.quantity, System::Metric, point.value),
        in_feet(&|| print::imperial(point.value)),
        band(ring.quantity, System::Metric, point),
        in_feet(&|| band(ring.quantity, System::Imperial, point)),
        sharp(|limits| limits.0),
        sharp(|limits| limits.1),
        standing(point.standing).to_owned(),
    ]
}
