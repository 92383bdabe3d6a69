//! A lens: who it is, what it can do, and the scale of each ring.

use std::fmt::{self, Write};

use ringmark_model::Lens;
use ringmark_quantity::{Unit, print};

use super::scale::show_ring;
use super::scale_report::ScaleReport;
use super::{Facts, ShowOptions, distance, reference_words};
use crate::report::number;
use crate::safe::safe;

/// Writes a lens. `scales` holds the curve of each ring, or why its marks give none, in the order of the rings.
pub fn show_lens(
    out: &mut dyn Write,
    lens: &Lens,
    scales: &[Result<ScaleReport, String>],
    options: ShowOptions,
) -> fmt::Result {
    writeln!(
        out,
        "{}",
        options
            .paint()
            .bold(format!("Lens {}", safe(&lens.label())))
    )?;
    facts(lens).write(out)?;
    for (index, ring) in lens.rings.iter().enumerate() {
        writeln!(out)?;
        show_ring(out, ring, scales.get(index), options)?;
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

/// What is known of a lens.
pub(crate) fn facts(lens: &Lens) -> Facts {
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

#[cfg(test)]
#[path = "lens_tests.rs"]
mod tests;
