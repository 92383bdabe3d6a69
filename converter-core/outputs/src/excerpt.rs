//! A place in the source as people see it: the line with a caret, or bytes in hexadecimal where there are no lines.

use std::fmt::Write;
use std::ops::Range;

use annotate_snippets::renderer::DEFAULT_LINE_NUM_STYLE;
use annotate_snippets::{Annotation, AnnotationKind, Group, Level, Renderer, Snippet};
use anstyle::Style;
use ringmark_model::{Place, Severity};

use crate::delimited::column_name;
use crate::hex;
use crate::safe::{push_safe, safe};
use crate::sources::{SourceFiles, looks_like_text};

/// Lines longer than this many bytes are cut around the caret.
const LONG_LINE: usize = 200;
/// Bytes shown before the caret of a cut line.
const BEFORE_CARET: usize = 80;
/// How far from a place the ends of its line are looked for.
const REACH: u64 = 4096;
/// Lines between two places up to which they share one excerpt.
const NEAR: u64 = 3;

/// `file:line:column` of a place, or `file, byte N, field` where there are no lines.
pub fn location(sources: &SourceFiles, place: &Place) -> String {
    let name = safe(sources.name(place.input).unwrap_or("unknown input")).into_owned();
    match sources.position(place) {
        Some((line, column)) => format!("{name}:{line}:{column}"),
        None => name + &byte_location(place),
    }
}

/// `, byte N, field`.
pub(crate) fn byte_location(place: &Place) -> String {
    let mut text = format!(", byte {}", place.offset);
    if let Some(field) = &place.field {
        let _ = write!(text, ", {}", safe(field));
    }
    text
}

/// The lines around a place with a caret under it, and under further places with what stands there. Without a line
/// break at the end; the colours are terminal escapes.
pub fn excerpt(
    sources: &SourceFiles,
    place: &Place,
    also: &[(Place, String)],
    severity: Severity,
    colour: bool,
) -> String {
    let mut spots = Vec::new();
    let mut without_lines = Vec::new();
    for (index, (place, label)) in std::iter::once((place, None))
        .chain(
            also.iter()
                .map(|(place, text)| (place, Some(text.as_str()))),
        )
        .enumerate()
    {
        match Spot::find(sources, place, label, index == 0) {
            Some(spot) => spots.push(spot),
            None => without_lines.push(hex::excerpt(sources, place, label)),
        }
    }
    let mut parts = Vec::new();
    if !spots.is_empty() {
        parts.push(render(sources, spots, severity, colour));
    }
    parts.extend(without_lines);
    parts.join("\n")
}

/// A place found in its line.
struct Spot {
    primary: bool,
    input: u32,
    line: u64,
    column: u64,
    label: Option<String>,
    /// Offset in the file of the first byte of `text`.
    start: u64,
    /// The line, or the part of a long one that is shown.
    text: String,
    /// The place in `text`.
    span: Range<usize>,
    cut_before: bool,
    cut_after: bool,
}

impl Spot {
    /// `None` for inputs without lines, places past the end and bytes that are no text.
    fn find(
        sources: &SourceFiles,
        place: &Place,
        label: Option<&str>,
        primary: bool,
    ) -> Option<Spot> {
        let (line, column) = sources.position(place)?;
        let from = place.offset.saturating_sub(REACH);
        let at = (place.offset - from) as usize;
        let length = at + (place.length.min(REACH) + REACH) as usize;
        let mut bytes = sources.window(place.input, from, length)?;
        let reached_end = bytes.len() < length;
        let before = bytes.get(..at)?;
        let (first, open_before) = match before.iter().rposition(|&b| b == b'\n') {
            Some(newline) => (newline + 1, false),
            None => (0, from > 0),
        };
        let after = bytes.iter().skip(at).position(|&b| b == b'\n');
        let open_after = after.is_none() && !reached_end;
        bytes.truncate(after.map_or(bytes.len(), |n| at + n));
        let (text, skipped) = text_between(&bytes, first, open_before, open_after)?;
        let first = first + skipped;
        let mut text = text.strip_suffix('\r').unwrap_or(text);
        let mut start = from + first as u64;
        if start == 0 && line == 1 {
            let without = text.strip_prefix('\u{feff}').unwrap_or(text);
            start += (text.len() - without.len()) as u64;
            text = without;
        }
        let at = (place.offset.saturating_sub(start) as usize).min(text.len());
        let span = span_in(text, at, place.length);
        let label = label.map(str::to_owned).or_else(|| {
            let column = || column_of(sources, place, text, &span, open_before);
            place.field.clone().or_else(column)
        });
        let spot = Spot {
            primary,
            input: place.input,
            line,
            column,
            label: label.map(|l| safe(&l).into_owned()),
            start,
            text: text.to_owned(),
            span,
            cut_before: open_before,
            cut_after: open_after,
        };
        Some(spot.shortened())
    }

    fn is_cut(&self) -> bool {
        self.cut_before || self.cut_after
    }

    fn end(&self) -> u64 {
        self.start + self.text.len() as u64
    }

    /// A long line cut around the caret, on borders of characters.
    fn shortened(mut self) -> Self {
        if self.text.len() <= LONG_LINE {
            return self;
        }
        let from = floor_boundary(&self.text, self.span.start.saturating_sub(BEFORE_CARET));
        let to = floor_boundary(&self.text, (from + LONG_LINE).max(self.span.start + 8));
        self.cut_before |= from > 0;
        self.cut_after |= to < self.text.len();
        self.span = self.span.start - from..self.span.end.min(to) - from;
        self.start += from as u64;
        self.text = self.text.get(from..to).unwrap_or_default().to_owned();
        self
    }
}

/// The text from `first` on, without characters broken by the ends of the window, and the bytes left out at its start.
fn text_between(
    bytes: &[u8],
    first: usize,
    open_before: bool,
    open_after: bool,
) -> Option<(&str, usize)> {
    let bytes = bytes.get(first..)?;
    let broken = if open_before {
        bytes.iter().take_while(|&&b| b & 0xC0 == 0x80).count()
    } else {
        0
    };
    let bytes = bytes.get(broken..)?;
    if !looks_like_text(bytes) {
        return None;
    }
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) if open_after => std::str::from_utf8(bytes.get(..error.valid_up_to())?).ok()?,
        Err(_) => return None,
    };
    Some((text, broken))
}

/// The place within its line; a place without a length is the rest of the line.
fn span_in(text: &str, at: usize, length: u64) -> Range<usize> {
    let start = floor_boundary(text, at);
    let rest = text.get(start..).unwrap_or_default();
    let end = match usize::try_from(length).unwrap_or(usize::MAX) {
        0 => start + rest.trim_end().len(),
        length => at.saturating_add(length).min(text.len()),
    };
    let end = (end..=text.len())
        .find(|&e| text.is_char_boundary(e))
        .unwrap_or(text.len());
    start..end.max(start)
}

fn column_of(
    sources: &SourceFiles,
    place: &Place,
    text: &str,
    span: &Range<usize>,
    open_before: bool,
) -> Option<String> {
    // A whole record is in no column, and a line whose start is out of reach cannot be counted through.
    if place.length == 0 || open_before {
        return None;
    }
    let header = sources.header_line(place.input)?;
    column_name(&header, text, span.start).map(|name| format!("column: {name}"))
}

fn floor_boundary(text: &str, at: usize) -> usize {
    text.floor_char_boundary(at.min(text.len()))
}

/// Spots that are shown in one piece of source.
struct Block {
    first_line: u64,
    text: String,
    spots: Vec<(Range<usize>, Option<String>, bool)>,
    path: String,
    /// Line and column of the place a block is named after.
    named: (u64, u64),
}

fn render(sources: &SourceFiles, spots: Vec<Spot>, severity: Severity, colour: bool) -> String {
    let renderer = if colour {
        Renderer::styled().hyperlink(false)
    } else {
        Renderer::plain()
    };
    // Lines are cut here already; the renderer must not cut them again.
    let renderer = renderer.term_width(2 * LONG_LINE + 80);
    let gutter = if colour {
        DEFAULT_LINE_NUM_STYLE
    } else {
        Style::new()
    };
    let mut out = String::new();
    for (index, block) in into_blocks(sources, spots).iter().enumerate() {
        let annotations = block.spots.iter().map(|(span, label, primary)| {
            let kind = if *primary {
                AnnotationKind::Primary
            } else {
                AnnotationKind::Context
            };
            let annotation = kind.span(span.clone());
            match label {
                Some(label) => annotation.label(label.as_str()),
                None => annotation,
            }
        });
        let snippet: Snippet<'_, Annotation<'_>> = Snippet::source(block.text.as_str())
            .line_start(usize::try_from(block.first_line).unwrap_or(usize::MAX))
            .annotations(annotations);
        let body = renderer.render(&[Group::with_level(level(severity)).element(snippet)]);
        // The place is written here: the renderer would count columns in the cut and cleaned line.
        let (line, column) = block.named;
        let width = (block.first_line + block.text.matches('\n').count() as u64)
            .to_string()
            .len();
        let (before, arrow) = if index == 0 {
            ("", "-->")
        } else {
            ("\n ", ":::")
        };
        let path = &block.path;
        let body = body.trim_end();
        let _ = write!(
            out,
            "{before}{:width$}{gutter}{arrow}{gutter:#} {path}:{line}:{column}\n{body}",
            ""
        );
    }
    out
}

fn level(severity: Severity) -> Level<'static> {
    match severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Note => Level::NOTE,
    }
}

/// The block of the primary place first, then the others in the order of the file.
fn into_blocks(sources: &SourceFiles, mut spots: Vec<Spot>) -> Vec<Block> {
    spots.sort_by_key(|s| (s.input, s.line, s.start));
    let mut groups: Vec<Vec<Spot>> = Vec::new();
    for spot in spots {
        match groups.last_mut() {
            Some(group) if group.last().is_some_and(|last| can_share(last, &spot)) => {
                group.push(spot)
            }
            _ => groups.push(vec![spot]),
        }
    }
    groups.sort_by_key(|group| !group.iter().any(|s| s.primary));
    groups
        .into_iter()
        .map(|group| block(sources, group))
        .collect()
}

fn can_share(a: &Spot, b: &Spot) -> bool {
    !a.is_cut()
        && !b.is_cut()
        && a.input == b.input
        && b.line - a.line <= NEAR
        && b.end() - a.start <= REACH
}

fn block(sources: &SourceFiles, group: Vec<Spot>) -> Block {
    let start = group.first().map_or(0, |s| s.start);
    let first_line = group.first().map_or(1, |s| s.line);
    let named = group
        .iter()
        .find(|s| s.primary)
        .or(group.first())
        .map_or((1, 1), |s| (s.line, s.column));
    let input = group.first().map_or(0, |s| s.input);
    let path = safe(sources.name(input).unwrap_or("unknown input")).into_owned();
    let (cut_before, cut_after) = group
        .first()
        .map_or((false, false), |s| (s.cut_before, s.cut_after));
    let source = match group.as_slice() {
        [one] => one.text.clone(),
        many => {
            between(sources, input, start, many.last().map_or(start, Spot::end)).unwrap_or_default()
        }
    };
    let mut spans: Vec<Range<usize>> = group
        .iter()
        .map(|s| {
            let offset = (s.start - start) as usize;
            s.span.start + offset..s.span.end + offset
        })
        .collect();
    let text = harmless(&source, &mut spans, cut_before, cut_after);
    let spots = spans
        .into_iter()
        .zip(group)
        .map(|(span, spot)| (span, spot.label, spot.primary))
        .collect();
    Block {
        first_line,
        text,
        spots,
        path,
        named,
    }
}

/// The source of lines that share a block.
fn between(sources: &SourceFiles, input: u32, start: u64, end: u64) -> Option<String> {
    let bytes = sources.window(input, start, (end - start) as usize)?;
    let mut text = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        // One sign a byte: the places of what follows stay where they are.
        text.extend(std::iter::repeat_n('?', chunk.invalid().len()));
    }
    Some(text)
}

/// The source with nothing in it that acts on a terminal, marks where it was cut, and spans moved along.
fn harmless(source: &str, spans: &mut [Range<usize>], cut_before: bool, cut_after: bool) -> String {
    let mut text = String::with_capacity(source.len() + 8);
    if cut_before {
        text.push('…');
    }
    let mut moved: Vec<Range<usize>> = spans.iter().map(|_| 0..0).collect();
    for (at, c) in source
        .char_indices()
        .map(|(at, c)| (at, Some(c)))
        .chain([(source.len(), None)])
    {
        for (span, moved) in spans.iter().zip(&mut moved) {
            if span.start == at {
                moved.start = text.len();
            }
            if span.end == at {
                moved.end = text.len();
            }
        }
        match c {
            Some('\n') => text.push('\n'),
            Some('\t') => text.push_str("    "),
            // Carriage returns are dropped at the end of a line and shown elsewhere.
            Some('\r')
                if source
                    .get(at + 1..)
                    .is_some_and(|rest| rest.starts_with('\n')) => {}
            Some(c) => push_safe(&mut text, c),
            None => {}
        }
    }
    if cut_after {
        text.push('…');
    }
    spans.clone_from_slice(&moved);
    text
}

#[cfg(test)]
#[path = "excerpt_tests.rs"]
mod tests;
