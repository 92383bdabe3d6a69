//! Rings side by side, and the targets of the best one.

use std::fmt::{self, Write};

use ringmark_model::ScaleQuantity;
use ringmark_quantity::{DistanceReference, print};

use super::{CAUTION, LargestError, TransferReport, TransferRing, TransferTarget, Unreached};
use crate::safe;
use crate::show::{ScalePoint, Standing, System, scale_words as words};
use crate::table::Table;

/// Writes the table of rings, and that of the targets of the first one.
pub fn write_transfer_text(out: &mut dyn Write, report: &TransferReport) -> fmt::Result {
    writeln!(
        out,
        "Lens {}, marks of {}",
        safe(&report.lens),
        safe(&report.calibration)
    )?;
    let from = match report.ring.reference.unwrap_or_default() {
        DistanceReference::Unstated => "an unstated point",
        DistanceReference::ImagePlane => "the image plane",
        DistanceReference::EntrancePupil => "the entrance pupil",
        DistanceReference::FrontVertex => "the front vertex",
    };
    writeln!(
        out,
        "printed distances are read as measured from {from}, as the marks are"
    )?;
    match &report.depth {
        Ok(words) => writeln!(out, "full depth of field {}", safe(words))?,
        Err(why) => writeln!(out, "no depth of field: {}", safe(why))?,
    }
    writeln!(out)?;
    rings(report).write(out, 2)?;
    let Some(best) = report.rings.first() else {
        return Ok(());
    };
    writeln!(out, "\nTargets for {}", safe(&best.ring.label()))?;
    targets(report, best).write(out, 2)?;
    out_of_reach(out, report, best)?;
    writeln!(
        out,
        "Between marks the print is read as a smooth scale, and the lens goes in straight lines from target to target."
    )?;
    writeln!(out, "{CAUTION}")
}

fn rings(report: &TransferReport) -> Table {
    let error = "largest error between marks";
    // Over the first column that is there.
    let (of_depths, of_metres) = match report.rings.iter().any(|r| r.largest_depths.is_some()) {
        true => (error, ""),
        false => ("", error),
    };
    let mut table = Table::new([
        "",
        "ring",
        "out of reach",
        "travel used",
        of_depths,
        of_metres,
    ]);
    for (index, ring) in report.rings.iter().enumerate() {
        table.row([
            (index + 1).to_string(),
            safe(&ring.ring.label()).into_owned(),
            format!("{} of {}", ring.out_of_reach(), ring.targets.len()),
            format!("{:.0} %", 100.0 * ring.travel_share),
            ring.largest_depths.map_or(String::new(), |largest| {
                let depths = words::two_digits(largest.error.abs());
                format!(
                    "{depths} depths of field at {}",
                    words::both(largest.metres)
                )
            }),
            ring.largest_metres.map_or(String::new(), in_metres),
        ]);
    }
    table.without_empty_columns()
}

fn in_metres(largest: LargestError) -> String {
    let size = largest.error.abs();
    let way = if largest.error < 0.0 { "near" } else { "far" };
    let metric = match size < 0.995 {
        true => format!("{} mm", words::two_digits(size * 1000.0)),
        false => format!("{} m", words::two_digits(size)),
    };
    let inches = match size < 0.3 {
        true => format!("{}\"", words::two_digits(size / 0.0254)),
        false => print::imperial(size),
    };
    format!(
        "{metric} ({inches}) too {way} at {}",
        words::both(largest.metres)
    )
}

fn targets(report: &TransferReport, ring: &TransferRing) -> Table {
    let mut table = Table::new([
        "printed",
        "metric",
        "feet",
        "on the knob",
        "",
        "target",
        "",
        "count",
        "± travel",
        "95 % band",
        "in feet",
    ]);
    for (printed, target) in ring.ring.marks.iter().zip(&ring.targets) {
        let knob = ring.ring.rotation;
        let mut row = vec![
            safe(&printed.text).into_owned(),
            print::metric(printed.metres),
            print::imperial(printed.metres),
            words::position(printed.position),
            knob.map_or(String::new(), |turn| {
                format!("{:.1}°", turn.degrees() * printed.position)
            }),
        ];
        row.extend(match target {
            Ok(target) => cells(report, printed.metres, target),
            Err(_) => [
                "–".to_owned(),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
            ],
        });
        table.row(row);
    }
    table.without_empty_columns()
}

fn cells(report: &TransferReport, metres: f64, target: &TransferTarget) -> [String; 6] {
    let point = ScalePoint {
        position: target.position,
        value: metres,
        low: target.low,
        high: target.high,
        standing: Standing::Marked,
        sharp: None,
    };
    let band = |system| words::band(ScaleQuantity::FocusDistance, system, &point);
    [
        words::position(target.position),
        words::degrees(&report.ring, target.position),
        words::counts(&report.ring, target.position),
        words::two_digits(target.band),
        band(System::Metric),
        band(System::Imperial),
    ]
}

/// Names the marks that the lens does not reach.
fn out_of_reach(out: &mut dyn Write, report: &TransferReport, ring: &TransferRing) -> fmt::Result {
    let (near, far) = report.ends();
    for (why, reason) in [
        (
            Unreached::NearerThanScale,
            format!(
                "nearer than {}, where the scale of the lens begins",
                words::both(near)
            ),
        ),
        (
            Unreached::EndStop,
            "past an end stop of the lens".to_owned(),
        ),
        (
            Unreached::BeyondMarks,
            format!(
                "beyond {}, the last mark of the lens: take a mark farther out first",
                words::both(far)
            ),
        ),
    ] {
        let marks = ring.ring.marks.iter().zip(&ring.targets);
        let named: Vec<_> = marks
            .filter(|(_, target)| target.as_ref().err() == Some(&why))
            .map(|(printed, _)| safe(&printed.text))
            .collect();
        if !named.is_empty() {
            writeln!(out, "out of reach: {} ({reason})", named.join(", "))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::samples;
    use super::*;

    #[test]
    fn with_all_there_is() {
        let mut text = String::new();
        write_transfer_text(&mut text, &samples::report()).unwrap();
        insta::assert_snapshot!(text);
    }

    #[test]
    fn with_nothing_in_reach() {
        let mut text = String::new();
        write_transfer_text(&mut text, &samples::bare()).unwrap();
        insta::assert_snapshot!(text);
    }
}
