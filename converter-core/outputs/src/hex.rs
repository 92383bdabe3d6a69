//! Bytes around a place in a file without lines.

use std::fmt::Write;

use ringmark_model::Place;

use crate::excerpt::{byte_location, location};
use crate::safe::safe;
use crate::sources::SourceFiles;

const ROW: u64 = 16;
/// Rows shown of a long place.
const ROWS: u64 = 2;

/// File, byte offset and field, then up to two rows of bytes with carets under those of the place.
pub(crate) fn excerpt(sources: &SourceFiles, place: &Place, label: Option<&str>) -> String {
    let mut out = format!("  --> {}", location(sources, place));
    // Broken text has a line as well, but the bytes are what matters.
    if sources.position(place).is_some() {
        out.push_str(&byte_location(place));
    }
    if let Some(label) = label {
        let _ = write!(out, ": {}", safe(label));
    }
    let start = place.offset - place.offset % ROW;
    let length = place.length.max(1);
    let end = place.offset.saturating_add(length);
    let rows = (end - start).div_ceil(ROW).min(ROWS);
    let Some(window) = sources.window(place.input, start, (rows * ROW) as usize) else {
        return out;
    };
    let at = (place.offset - start) as usize;
    if at >= window.len() {
        let place = if at == window.len() {
            " (the end of the file)"
        } else {
            " (past the end of the file)"
        };
        out.push_str(place);
        return out;
    }
    out.push_str("\n   |");
    for (index, row) in window.chunks(ROW as usize).enumerate() {
        let first = start + index as u64 * ROW;
        let offset = format!("{first:08x}");
        let _ = write!(out, "\n   | {offset} ");
        for byte in row {
            let _ = write!(out, " {byte:02x}");
        }
        let pad = (ROW as usize - row.len()) * 3;
        let shown: String = row
            .iter()
            .map(|&b| {
                if (0x20..0x7f).contains(&b) {
                    b as char
                } else {
                    '.'
                }
            })
            .collect();
        let _ = write!(out, "{:pad$}  {shown}", "");
        let marks: String = (first..first + row.len() as u64)
            .map(|at| match () {
                () if !(place.offset..end).contains(&at) => "   ",
                () if at == place.offset || at == first => " ^^",
                () => "^^^",
            })
            .collect();
        let _ = write!(
            out,
            "\n   | {:width$} {}",
            "",
            marks.trim_end(),
            width = offset.len()
        );
    }
    if end > start + rows * ROW {
        let _ = write!(out, "\n   = {length} bytes in all");
    }
    out
}
