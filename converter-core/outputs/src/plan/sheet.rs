//! The sheet to print: A4, with a box for each reading.

use std::io;

use ringmark_quantity::print;
use svg::Document;
use svg::node::element::{Group, Title};

use super::{ADVICE, PlanReport};
use crate::drawing::{frame, line, number, proof, text};
use crate::safe;

/// Paper, in mm.
const PAPER: (f64, f64) = (210.0, 297.0);
/// Margin around everything.
const MARGIN: f64 = 15.0;
/// Height of a line of text, and of a row with its box.
const LINE: f64 = 5.0;
const ROW: f64 = 7.2;
/// Where the columns begin.
const COLUMNS: [f64; 6] = [15.0, 25.0, 55.0, 85.0, 105.0, 125.0];
/// The box for a reading.
const BOX: (f64, f64) = (150.0, 45.0);
/// The longest line that fits at this size of letters: about half as wide as they are high.
const LETTERS: usize = 105;

/// Writes the sheet as SVG, a user unit a millimetre.
pub fn write_plan_svg(out: &mut dyn io::Write, report: &PlanReport) -> io::Result<()> {
    let (width, height) = PAPER;
    let mut y = MARGIN + LINE;
    let mut document = Document::new()
        .set("width", format!("{}mm", number(width)))
        .set("height", format!("{}mm", number(height)))
        .set(
            "viewBox",
            format!("0 0 {} {}", number(width), number(height)),
        )
        .set("font-family", "sans-serif")
        .set("font-size", "3.2")
        .set("fill", "black")
        .set("stroke-width", "0.2")
        .add(Title::new(safe(&report.lens)));
    for (index, said) in report
        .head()
        .iter()
        .flat_map(|said| wrapped(said))
        .enumerate()
    {
        let said = text(MARGIN, y, &said);
        let weight = if index == 0 { "bold" } else { "normal" };
        document = document.add(said.set("font-weight", weight));
        y += LINE;
    }
    if !report.marks.is_empty() {
        y += LINE;
        document = document.add(head(y));
        for (index, _) in report.marks.iter().enumerate() {
            document = document.add(row(report, index, y + ROW * (index + 1) as f64));
        }
        y += ROW * (report.marks.len() + 1) as f64;
        for said in ADVICE.iter().flat_map(|said| wrapped(said)) {
            document = document.add(text(MARGIN, y, &said));
            y += LINE;
        }
    }
    for (index, label) in ["read by", "date", "mount, camera"].into_iter().enumerate() {
        let x = MARGIN + 60.0 * index as f64;
        document = document
            .add(text(x, height - MARGIN - 12.0, label))
            .add(line(
                x,
                height - MARGIN - 5.0,
                x + 50.0,
                height - MARGIN - 5.0,
            ));
    }
    document = document.add(proof(MARGIN, height - MARGIN + 2.0)).add(text(
        MARGIN + 54.0,
        height - MARGIN + 3.0,
        "50 mm at 100 %",
    ));
    write!(out, "{document}")?;
    out.write_all(b"\n")
}

fn head(y: f64) -> Group {
    let names = ["", "set", "feet", "expect", "degrees", "count"];
    let named = names
        .into_iter()
        .zip(COLUMNS)
        .fold(Group::new(), |group, (name, x)| group.add(text(x, y, name)));
    named
        .add(text(BOX.0, y, "reading"))
        .add(line(MARGIN, y + 1.5, PAPER.0 - MARGIN, y + 1.5))
}

/// A mark with its box; `y` is the line its text stands on.
fn row(report: &PlanReport, index: usize, y: f64) -> Group {
    let Some(mark) = report.marks.get(index) else {
        return Group::new();
    };
    let [position, degrees, count] = report.expected(mark);
    let cells = [
        (index + 1).to_string(),
        print::metric(mark.metres),
        print::imperial(mark.metres),
        position,
        degrees,
        count,
    ];
    let written = cells.iter().zip(COLUMNS).enumerate();
    let group = written.fold(Group::new(), |group, (column, (cell, x))| {
        let weight = if column == 1 || column == 2 {
            "bold"
        } else {
            "normal"
        };
        group.add(text(x, y, cell).set("font-weight", weight))
    });
    group.add(frame(BOX.0, y - 4.2, BOX.1, ROW - 1.2))
}

/// Lines of a text that fit on the paper, broken at spaces.
fn wrapped(said: &str) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in said.split(' ') {
        match lines.last_mut() {
            Some(last) if last.is_empty() => last.push_str(word),
            Some(last) if last.chars().count() + 1 + word.chars().count() <= LETTERS => {
                last.push(' ');
                last.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::samples;
    use super::*;

    #[test]
    fn every_mark_has_a_box_and_nothing_leaves_the_paper() {
        for (name, mut report) in samples::all() {
            if let Some(mark) = report.marks.first().copied() {
                // The most that are planned.
                report.marks.resize(24, mark);
            }
            let mut bytes = Vec::new();
            write_plan_svg(&mut bytes, &report).unwrap();
            let drawn = String::from_utf8(bytes).unwrap();
            assert_eq!(drawn.matches("<rect").count(), report.marks.len(), "{name}");
            assert!(!drawn.contains('\u{1b}') && drawn.contains("viewBox=\"0 0 210 297\""));
            let values = drawn.split(" y=\"").skip(1);
            let ys: Vec<f64> = values
                .map(|rest| rest.split('"').next().unwrap().parse().unwrap())
                .collect();
            assert!(
                !ys.is_empty() && ys.iter().all(|y| (0.0..297.0).contains(y)),
                "{name}"
            );
            let table = ys.iter().filter(|y| **y < 297.0 - MARGIN - 13.0).count();
            assert!(
                table + 4 >= ys.len(),
                "{name}: the table runs into the foot"
            );
        }
    }

    #[test]
    fn long_lines_are_broken_at_spaces() {
        let long = "word ".repeat(60);
        let lines = wrapped(long.trim());
        assert!(lines.len() == 3 && lines.iter().all(|line| line.chars().count() <= LETTERS));
        assert_eq!(lines.join(" "), long.trim());
    }
}
