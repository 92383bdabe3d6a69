//! The sheet as text.

use std::fmt::{self, Write};

use ringmark_quantity::print;

use super::{ADVICE, PlanReport, widest};
use crate::safe;
use crate::table::Table;

/// Room to write a reading.
const BOX: &str = "[            ]";

/// Writes the sheet.
pub fn write_plan_text(out: &mut dyn Write, report: &PlanReport) -> fmt::Result {
    for line in report.head() {
        writeln!(out, "{}", safe(&line))?;
    }
    if report.marks.is_empty() {
        return Ok(());
    }
    writeln!(out)?;
    let mut table = Table::new([
        "",
        "set",
        "feet",
        "expect",
        "",
        "count",
        "reading",
        "95 % band then, at its widest",
    ]);
    for (index, mark) in report.marks.iter().enumerate() {
        let [position, degrees, count] = report.expected(mark);
        table.row([
            (index + 1).to_string(),
            print::metric(mark.metres),
            print::imperial(mark.metres),
            position,
            degrees,
            count,
            BOX.to_owned(),
            widest(&mark.after),
        ]);
    }
    table.without_empty_columns().write(out, 2)?;
    writeln!(out)?;
    for line in ADVICE {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::samples;
    use super::*;

    #[test]
    fn sheets() {
        for (name, report) in samples::all() {
            let mut text = String::new();
            write_plan_text(&mut text, &report).unwrap();
            insta::assert_snapshot!(name, text);
        }
    }
}
