//! Parts of drawings to print: lengths are millimetres.

use svg::node::element::{Group, Line, Rectangle, Text};

use crate::safe;

/// Length of the line that proves the scale of a print.
const PROOF: f64 = 50.0;

/// Coordinates to a thousandth of a millimetre.
pub(crate) fn number(mm: f64) -> String {
    let text = format!("{mm:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

pub(crate) fn line(x1: f64, y1: f64, x2: f64, y2: f64) -> Line {
    Line::new()
        .set("x1", number(x1))
        .set("y1", number(y1))
        .set("x2", number(x2))
        .set("y2", number(y2))
        .set("stroke", "black")
}

pub(crate) fn frame(x: f64, y: f64, width: f64, height: f64) -> Rectangle {
    Rectangle::new()
        .set("x", number(x))
        .set("y", number(y))
        .set("width", number(width))
        .set("height", number(height))
        .set("fill", "none")
        .set("stroke", "black")
}

/// Text from anywhere, harmless; the crate escapes what is markup.
pub(crate) fn text(x: f64, y: f64, content: &str) -> Text {
    Text::new(safe(content))
        .set("x", number(x))
        .set("y", number(y))
}

/// A line of 50 mm between two ticks.
pub(crate) fn proof(from: f64, y: f64) -> Group {
    let to = from + PROOF;
    Group::new()
        .add(line(from, y, to, y))
        .add(line(from, y - 1.5, from, y + 1.5))
        .add(line(to, y - 1.5, to, y + 1.5))
}
