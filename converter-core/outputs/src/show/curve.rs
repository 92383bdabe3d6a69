//! The curve of a ring with its marks, and below it how far the marks are off.

use std::fmt::{self, Write};

use ringmark_model::{Ring, ScaleQuantity};
use ringmark_quantity::print;
use unicode_width::UnicodeWidthStr;

use super::round::{System, round_values, spaced};
use super::scale_report::{ScalePoint, ScaleReport};
use super::scale_words::{engraved, travel};
use super::{Scale, ShowOptions, Span};
use crate::plot::Canvas;

/// Rows of a curve by what it reads: focus scales have the most to tell.
const FOCUS_ROWS: usize = 14;
const OTHER_ROWS: usize = 8;

/// Rows of the residuals: one above the curve, the curve itself, one below.
const RESIDUAL_ROWS: usize = 3;

/// What the residuals are.
const RESIDUALS: &str = "marks off the curve, in ring travel";

/// Labels of the axis stand this many rows apart at least.
const LABEL_ROWS: f64 = 2.0;

/// Dots that a band must be tall to be seen beside the line.
const VISIBLE: f64 = 2.5;

/// Dots of a character, upwards.
const DOTS: f64 = 4.0;

/// A row of the axis: its labels, from left to right.
type Labels = Vec<[String; 2]>;

pub(super) fn write_curve(
    out: &mut dyn Write,
    ring: &Ring,
    report: &ScaleReport,
    options: ShowOptions,
) -> fmt::Result {
    let distance = ring.quantity == ScaleQuantity::FocusDistance;
    let scale = Scale::of(ring.quantity.unit(), distance);
    let rows = if distance { FOCUS_ROWS } else { OTHER_ROWS };
    let height = |point: &ScalePoint| scale.height(point.value);
    let marks = || {
        ring.marks
            .iter()
            .filter(|mark| mark.position.is_finite())
            .filter_map(|mark| Some((mark.position, scale.height(mark.value)?)))
    };
    let x = Span::around(
        report
            .curve
            .iter()
            .filter(|point| point.value > 0.0)
            .map(|point| point.position)
            .chain(marks().map(|mark| mark.0))
            .chain([0.0, 1.0]),
    );
    let y = Span::around(
        report
            .curve
            .iter()
            .filter_map(height)
            .chain(marks().map(|mark| mark.1)),
    );
    let (Some(x), Some(y)) = (x, y) else {
        return Ok(());
    };
    let labels = axis(ring.quantity, scale, y, rows);
    let widths = [0, 1].map(|column| {
        let cells = labels.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.width()).max().unwrap_or(0)
    });
    let ends = residual_ends(report);
    let across = ends.iter().map(|end| end.width()).max().unwrap_or(0);
    let gap = usize::from(widths[1] > 0) * 2;
    let label_width = (widths[0] + gap + widths[1]).max(across);
    let columns = options.width.saturating_sub(label_width + 5).max(20);

    let mut canvas = Canvas::new(columns, rows);
    let banded = draw_band(&mut canvas, &report.curve, scale, (x, y), rows);
    for (a, b) in report.curve.iter().zip(report.curve.iter().skip(1)) {
        if let (Some(from), Some(to)) = (height(a), height(b)) {
            canvas.line(
                (x.part(a.position), y.part(from)),
                (x.part(b.position), y.part(to)),
            );
        }
    }
    for (position, height) in marks() {
        canvas.mark(x.part(position), y.part(height), 'o');
    }
    let title = scale.title();
    writeln!(out, "  {} over ring position{title}", ring.axis.name())?;
    let band = match banded {
        true => "dots",
        false => "no wider than the line",
    };
    writeln!(out, "  o mark; 95 % band: {band}")?;
    for (row, cells) in canvas.rows().zip(&labels) {
        let text = pair(cells, widths, gap);
        write_row(out, &text, label_width, &row)?;
    }
    if let Some(off) = residuals(ring, report, x, columns) {
        let rest = columns.saturating_sub(RESIDUALS.width() + 3);
        let line = "─".repeat(rest);
        writeln!(out, "  {:label_width$} ├─ {RESIDUALS} {line}", "")?;
        for (row, end) in off.rows().zip(&ends) {
            write_row(out, end, label_width, &row)?;
        }
    }
    write_ticks(out, x, label_width, columns)
}

fn write_row(out: &mut dyn Write, label: &str, width: usize, row: &str) -> fmt::Result {
    let pad = width.saturating_sub(label.width());
    let tick = if label.is_empty() { '│' } else { '┤' };
    let line = format!("  {:pad$}{label} {tick}{row}", "");
    writeln!(out, "{}", line.trim_end())
}

/// Two labels, each at the right of its column.
fn pair(cells: &[String; 2], widths: [usize; 2], gap: usize) -> String {
    if cells.iter().all(String::is_empty) {
        return String::new();
    }
    let mut text = String::new();
    for (column, (cell, width)) in cells.iter().zip(widths).enumerate() {
        let pad = width - cell.width() + if column == 1 { gap } else { 0 };
        text.extend(std::iter::repeat_n(' ', pad));
        text.push_str(cell);
    }
    text
}

/// Round values at the rows where they stand, metric and imperial for distances.
fn axis(quantity: ScaleQuantity, scale: Scale, y: Span, rows: usize) -> Labels {
    let mut labels: Labels = vec![[String::new(), String::new()]; rows];
    let row_of = |value: f64| {
        let part = y.part(scale.height(value)?);
        // As the canvas rounds: to dots, then to characters.
        let dots = rows as f64 * DOTS - 1.0;
        let inside = (-0.5 / dots..=1.0 + 0.5 / dots).contains(&part);
        inside.then(|| ((dots - (part.clamp(0.0, 1.0) * dots).round()) / DOTS).floor())
    };
    let systems: &[System] = match quantity {
        ScaleQuantity::FocusDistance => &[System::Metric, System::Imperial],
        _ => &[System::Metric],
    };
    for (column, &system) in systems.iter().enumerate() {
        for value in spaced(round_values(quantity, system), LABEL_ROWS, row_of) {
            let row = row_of(value).map(|row| row as usize);
            if let Some(cell) = row.and_then(|row| labels.get_mut(row)?.get_mut(column)) {
                *cell = engraved(quantity, system, value);
            }
        }
    }
    labels
}

/// Shades the 95 % band where it is tall enough to be seen; whether it was anywhere.
fn draw_band(
    canvas: &mut Canvas,
    curve: &[ScalePoint],
    scale: Scale,
    (x, y): (Span, Span),
    rows: usize,
) -> bool {
    let dots = rows as f64 * DOTS;
    let mut drawn = false;
    for point in curve {
        let end = |value: f64| match scale {
            // No distance is too near to be possible: the band leaves the plot at its top.
            Scale::Reciprocal if value == 0.0 => Some(f64::MAX),
            _ => scale.height(value),
        };
        if let (Some(a), Some(b)) = (end(point.low), end(point.high)) {
            let (low, high) = (y.part(a.min(b)).max(0.0), y.part(a.max(b)).min(1.0));
            if (high - low) * dots >= VISIBLE {
                canvas.shade(x.part(point.position), low, high);
                drawn = true;
            }
        }
    }
    drawn
}

/// The largest residual, and its reading on the axis: up, none, down.
fn residual_ends(report: &ScaleReport) -> [String; RESIDUAL_ROWS] {
    let most = most(report);
    [travel(most), "0".to_owned(), travel(-most)]
}

fn most(report: &ScaleReport) -> f64 {
    let off = report.marks.iter().map(|mark| mark.travel.abs());
    // A perfect fit still needs an axis.
    off.filter(|off| off.is_finite()).fold(1e-4, f64::max)
}

/// Marks above or below the curve, in ring travel; `None` if no mark has a residual.
fn residuals(ring: &Ring, report: &ScaleReport, x: Span, columns: usize) -> Option<Canvas> {
    let most = most(report);
    let mut canvas = Canvas::new(columns, RESIDUAL_ROWS);
    canvas.line((0.0, 0.5), (1.0, 0.5));
    let mut any = false;
    for (mark, residual) in ring.marks.iter().zip(&report.marks) {
        if residual.travel.is_finite() && mark.position.is_finite() {
            let (across, up) = (x.part(mark.position), 0.5 + 0.5 * residual.travel / most);
            canvas.line((across, 0.5), (across, up));
            canvas.mark(across, up, 'o');
            any = true;
        }
    }
    any.then_some(canvas)
}

/// Ring positions below the plot: its ends, and quarters between them.
fn write_ticks(out: &mut dyn Write, x: Span, label_width: usize, columns: usize) -> fmt::Result {
    let ends = [x.low, x.high];
    let quarters = [0.0, 0.25, 0.5, 0.75, 1.0];
    let mut last_end = 0;
    // The ends first: a quarter that would touch one is left out.
    let mut places: Vec<(usize, String)> = Vec::new();
    for value in ends.into_iter().chain(quarters) {
        let text = print::position(value);
        let centre = x.part(value) * (columns.saturating_sub(1)) as f64;
        let start = (centre - (text.width() as f64 - 1.0) / 2.0)
            .round()
            .max(0.0) as usize;
        let start = start.min(columns.saturating_sub(text.width()));
        let clear = places
            .iter()
            .all(|(at, other)| start > at + other.width() || *at > start + text.width());
        if clear && (x.low..=x.high).contains(&value) {
            places.push((start, text));
        }
    }
    places.sort();
    let mut text = String::new();
    for (start, place) in places {
        text.extend(std::iter::repeat_n(' ', start.saturating_sub(last_end)));
        text.push_str(&place);
        last_end = start + place.width();
    }
    writeln!(out, "  {:label_width$}  {text}", "")
}
