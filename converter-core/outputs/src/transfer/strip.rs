//! The best ring as a strip to print at 1:1, with the targets under its marks.

use std::io;

use ringmark_model::PrintedMark;
use svg::Document;
use svg::node::element::{Group, Polygon, Text};
use thiserror::Error;

use super::{CAUTION, TransferReport, TransferRing, TransferTarget};
use crate::drawing::{frame, line, number, proof, text};
use crate::safe;

/// Margin around everything, in mm; printers need about 5 (common practice, no source).
const MARGIN: f64 = 10.0;
/// Paper of the strip beyond its first and last place.
const OVERHANG: f64 = 8.0;
/// Height of the strip that is put on the ring.
const STRIP: f64 = 14.0;
/// Height of a line of small text.
const LINE: f64 = 4.0;
/// Marks closer together than this have their texts turned.
const CROWDED: f64 = 13.0;
/// The least paper that the texts below the strip need.
const NARROWEST: f64 = 150.0;

/// Why there is no strip.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum StripError {
    /// No ring in the report.
    #[error("there is no ring to draw")]
    NoRing,
    /// Nothing says how long the strip is.
    #[error(
        "{ring} states no length: a strip at 1:1 needs length_mm, from position 0 to 1 along the edge of the ring"
    )]
    NoLength {
        /// The ring.
        ring: String,
    },
    /// It could not be written.
    #[error(transparent)]
    Io(#[from] io::Error),
}

/// Writes the first ring of the report as SVG, a user unit a millimetre.
pub fn write_transfer_svg(
    out: &mut dyn io::Write,
    report: &TransferReport,
) -> Result<(), StripError> {
    let ring = report.rings.first().ok_or(StripError::NoRing)?;
    let length = ring.ring.length.ok_or_else(|| StripError::NoLength {
        ring: safe(&ring.ring.label()).into_owned(),
    })?;
    write!(out, "{}", Sheet::new(report, ring, length.mm()).document())?;
    out.write_all(b"\n")?;
    Ok(())
}

struct Sheet<'a> {
    report: &'a TransferReport,
    ring: &'a TransferRing,
    /// Length of the strip in mm.
    length: f64,
    crowded: bool,
}

impl<'a> Sheet<'a> {
    fn new(report: &'a TransferReport, ring: &'a TransferRing, length: f64) -> Self {
        let marks = &ring.ring.marks;
        let gaps = marks.iter().zip(marks.iter().skip(1));
        let narrowest = gaps.fold(f64::INFINITY, |gap, (a, b)| {
            gap.min((b.position - a.position) * length)
        });
        Sheet {
            report,
            ring,
            length,
            crowded: narrowest < CROWDED,
        }
    }

    /// Where a place on the knob is drawn.
    fn x(&self, position: f64) -> f64 {
        MARGIN + OVERHANG + position * self.length
    }

    fn document(&self) -> Document {
        let top = MARGIN + LINE;
        // Turned texts are as long as they were wide.
        let rows = if self.crowded { 30.0 } else { 3.0 * LINE };
        let below = top + STRIP + rows;
        let width = (self.length + 2.0 * OVERHANG).max(NARROWEST) + 2.0 * MARGIN;
        let height = below + 34.0 + MARGIN;
        let mm = |size: f64| format!("{}mm", number(size));
        let mut document = Document::new()
            .set("width", mm(width))
            .set("height", mm(height))
            .set(
                "viewBox",
                format!("0 0 {} {}", number(width), number(height)),
            )
            .set("font-family", "sans-serif")
            .set("font-size", "2.6")
            .set("fill", "black")
            .set("stroke-width", "0.2");
        let title = format!("{} for {}", self.ring.ring.label(), self.report.lens);
        document = document
            .add(svg::node::element::Title::new(safe(&title)))
            .add(frame(MARGIN, top, self.length + 2.0 * OVERHANG, STRIP))
            .add(text(MARGIN, top - 1.5, &title));
        for (printed, target) in self.ring.ring.marks.iter().zip(&self.ring.targets) {
            document = document.add(self.mark(printed, target.as_ref().ok(), top));
        }
        document.add(self.foot(below))
    }

    /// A mark on the strip, and its target below.
    fn mark(&self, printed: &PrintedMark, target: Option<&TransferTarget>, top: f64) -> Group {
        let x = self.x(printed.position);
        let bottom = top + STRIP;
        let mut tick = line(x, bottom - 5.0, x, bottom).set("stroke-width", "0.3");
        if target.is_none() {
            tick = tick.set("stroke-dasharray", "0.6 0.6");
        }
        let label = match printed.metres.is_infinite() {
            true => "∞".to_owned(),
            false => printed.text.trim().to_owned(),
        };
        let label = self
            .beside(x, bottom - 6.0, &label, 0, true)
            .set("font-size", "3.2")
            .set("font-weight", "bold");
        let mut group = Group::new().add(tick).add(label);
        for (row, line) in self.rows(target).iter().enumerate() {
            group = group.add(self.beside(x, bottom + 1.0, line, row, false));
        }
        group
    }

    /// What stands below a mark: ring position, degrees and encoder count, as far as they are known.
    fn rows(&self, target: Option<&TransferTarget>) -> Vec<String> {
        let Some(target) = target else {
            return vec!["out of reach".to_owned()];
        };
        let mut rows = vec![format!("{:.4}", target.position)];
        let degrees = self.report.degrees(target.position);
        rows.extend(degrees.map(|degrees| format!("{degrees:.1}°")));
        rows.extend(
            self.report
                .count(target.position)
                .map(|count| count.to_string()),
        );
        rows
    }

    /// A text at a mark, over or under `y`; turned where marks are crowded, several of them then in one line.
    fn beside(&self, x: f64, y: f64, content: &str, row: usize, over: bool) -> Text {
        if !self.crowded {
            let y = if over {
                y
            } else {
                y + LINE * (row + 1) as f64 - 1.0
            };
            return text(x, y, content).set("text-anchor", "middle");
        }
        let y = if over { y } else { y + 10.0 * row as f64 };
        let anchor = if over { "start" } else { "end" };
        text(x + 0.9, y, content).set("text-anchor", anchor).set(
            "transform",
            format!("rotate(-90 {} {})", number(x + 0.9), number(y)),
        )
    }

    /// The index, the proof of the scale and what to know.
    fn foot(&self, top: f64) -> Group {
        let (left, middle) = (MARGIN, MARGIN + 9.0);
        let index = Group::new()
            .add(frame(left, top, 18.0, 12.0))
            .add(line(middle, top, middle, top + 6.0).set("stroke-width", "0.3"))
            .add(Polygon::new().set(
                "points",
                format!(
                    "{middle},{top} {},{y} {},{y}",
                    middle - 1.2,
                    middle + 1.2,
                    y = top + 3.0
                ),
            ))
            .add(text(middle, top + 10.0, "index").set("text-anchor", "middle"));
        let proof = proof(MARGIN + 30.0, top + 5.0).add(text(
            MARGIN + 30.0,
            top + 10.0,
            "50 mm: print at 100 % and measure before you cut",
        ));
        let encoder = self.report.ring.encoder.map_or(String::new(), |range| {
            format!(", encoder count at {} and {}", range.low, range.high)
        });
        let marks = format!(
            "Under each mark: ring position of the lens from 0 to 1{}{encoder}. Marks of {}.",
            if self.report.ring.rotation.is_some() {
                ", degrees"
            } else {
                ""
            },
            self.report.calibration,
        );
        Group::new()
            .add(index)
            .add(proof)
            .add(text(left, top + 20.0, &marks))
            .add(text(left, top + 24.0, CAUTION))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::samples;
    use super::*;

    fn drawn(report: &TransferReport) -> Result<String, StripError> {
        let mut bytes = Vec::new();
        write_transfer_svg(&mut bytes, report)?;
        Ok(String::from_utf8(bytes).unwrap())
    }

    #[test]
    fn marks_stand_where_the_ring_has_them_at_one_to_one() {
        let text = drawn(&samples::report()).unwrap();
        // 120 mm of strip: 10 + 8 mm of paper before it, then 0, 0.4 and 1 of 120 mm.
        for x in ["x1=\"18\"", "x1=\"66\"", "x1=\"138\""] {
            assert!(text.contains(x), "{x}: {text}");
        }
        assert!(
            text.contains("width=\"170mm\"") && text.contains("viewBox=\"0 0 170 "),
            "{text}"
        );
        // Target, degrees, count of the mark in the middle.
        for row in ["0.3123", "87.5°", "41260", "out of reach"] {
            assert!(text.lines().any(|line| line == row), "{row}: {text}");
        }
        assert!(
            text.contains("Sund &amp; &lt;Co&gt; S1") && !text.contains('\u{1b}'),
            "{text}"
        );
        assert!(text.contains("before a motor goes there"));
    }

    #[test]
    fn crowded_marks_are_turned() {
        let mut report = samples::report();
        report.rings[0].ring.length = Some(ringmark_quantity::Length::from_mm(20.0));
        assert!(drawn(&report).unwrap().contains("rotate(-90"));
        assert!(!drawn(&samples::report()).unwrap().contains("rotate"));
    }

    #[test]
    fn without_a_length_or_a_ring_nothing_is_drawn() {
        let error = drawn(&samples::bare()).unwrap_err();
        assert!(error.to_string().contains("length_mm"), "{error}");
        let mut report = samples::report();
        report.rings.clear();
        assert!(matches!(drawn(&report), Err(StripError::NoRing)));
    }
}
