//! Cells and records of delimited text, as RFC 4180 quotes them.

use std::borrow::Cow;

use ringmark_sdk::{Failure, Place, failure};

use crate::say::{place, quoted};

/// Longest line or record in bytes.
pub const LONGEST_LINE: usize = 1 << 20;

/// Where one cell stands in the bytes at hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// First byte, the quote included.
    pub start: usize,
    /// The delimiter, line end or end of file behind it.
    pub end: usize,
    /// Whether it is quoted.
    pub quoted: bool,
}

impl Span {
    /// The bytes of the cell without its quotes.
    pub fn content<'a>(&self, bytes: &'a [u8]) -> Cow<'a, [u8]> {
        if !self.quoted {
            return Cow::Borrowed(bytes.get(self.start..self.end).unwrap_or_default());
        }
        let inner = bytes
            .get(self.start + 1..self.end.saturating_sub(1))
            .unwrap_or_default();
        if !inner.contains(&b'"') {
            return Cow::Borrowed(inner);
        }
        let mut single = Vec::with_capacity(inner.len());
        let mut rest = inner.iter();
        while let Some(&byte) = rest.next() {
            single.push(byte);
            if byte == b'"' {
                rest.next();
            }
        }
        Cow::Owned(single)
    }
}

/// The cell that starts at `start`. `None`: its end is not among the bytes, and the file goes on.
/// `base` is the offset in the file of the first byte.
///
/// Fails on a quote that is not closed, text behind a closing quote, a line end of CR
/// alone, and NUL.
pub fn cell(
    bytes: &[u8],
    start: usize,
    base: u64,
    delimiter: u8,
    ended: bool,
) -> Result<Option<Span>, Failure> {
    if bytes.get(start) == Some(&b'"') {
        return quoted_cell(bytes, start, base, delimiter, ended);
    }
    let mut end = start;
    loop {
        let Some(&byte) = bytes.get(end) else {
            if !ended {
                return Ok(None);
            }
            break;
        };
        if byte == delimiter || byte == b'\n' {
            break;
        }
        if byte == b'\r' {
            match bytes.get(end + 1) {
                Some(b'\n') => break,
                None if ended => break,
                None => return Ok(None),
                Some(_) => return Err(lone_cr(base + end as u64)),
            }
        }
        if byte == 0 {
            return Err(nul(base + end as u64));
        }
        end += 1;
    }
    Ok(Some(Span {
        start,
        end,
        quoted: false,
    }))
}

fn quoted_cell(
    bytes: &[u8],
    start: usize,
    base: u64,
    delimiter: u8,
    ended: bool,
) -> Result<Option<Span>, Failure> {
    let mut at = start + 1;
    loop {
        match bytes.get(at) {
            None if ended => {
                return Err(failure(
                    "a quoted cell is not closed before the end of the file",
                    "close it with \", and double each quote inside; a cell that only holds inches is written without quotes around it",
                    place(base + start as u64, 1),
                ));
            }
            None => return Ok(None),
            Some(0) => return Err(nul(base + at as u64)),
            Some(b'"') if bytes.get(at + 1) == Some(&b'"') => at += 2,
            Some(b'"') => break,
            Some(_) => at += 1,
        }
    }
    let end = at + 1;
    match bytes.get(end) {
        None if !ended => Ok(None),
        Some(b'\r') if bytes.get(end + 1).is_none() && !ended => Ok(None),
        Some(b'\r') if !matches!(bytes.get(end + 1), Some(b'\n') | None) => {
            Err(lone_cr(base + end as u64))
        }
        Some(&byte) if byte != delimiter && byte != b'\n' && byte != b'\r' => Err(failure(
            "text follows the closing quote of a cell",
            "double each quote inside a quoted cell, and put the delimiter right behind the closing one",
            place(base + end as u64, 1),
        )),
        _ => Ok(Some(Span {
            start,
            end,
            quoted: true,
        })),
    }
}

/// What stands behind a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Behind {
    /// Another cell, which starts there.
    Cell(usize),
    /// The next line, which starts there; whether the line end was CRLF.
    Line(usize, bool),
    /// Not known yet.
    More,
}

/// Whether a cell that needs no closer look ends at `end`: a delimiter or a whole line end stands there.
#[inline(always)]
pub fn ends_cell(bytes: &[u8], end: usize, delimiter: u8) -> bool {
    match bytes.get(end) {
        Some(&byte) if byte == delimiter || byte == b'\n' => true,
        Some(b'\r') => bytes.get(end + 1) == Some(&b'\n'),
        _ => false,
    }
}

/// What stands at `end`, which is the end of a cell.
#[inline(always)]
pub fn behind(bytes: &[u8], end: usize, delimiter: u8, ended: bool) -> Behind {
    match bytes.get(end) {
        Some(&byte) if byte == delimiter => Behind::Cell(end + 1),
        Some(b'\n') => Behind::Line(end + 1, false),
        Some(_) => match bytes.get(end + 1) {
            Some(_) => Behind::Line(end + 2, true),
            None if ended => Behind::Line(end + 1, false),
            None => Behind::More,
        },
        None if ended => Behind::Line(end, false),
        None => Behind::More,
    }
}

/// One cell of a record that was read whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Its text, quotes removed.
    pub text: String,
    /// Whether it was quoted.
    pub quoted: bool,
    /// Where it stands.
    pub at: Option<Place>,
}

/// The record at the start of `bytes`, and the bytes it takes with its line end. `None`: the
/// file goes on and the record does not end here.
pub fn record(
    bytes: &[u8],
    base: u64,
    delimiter: u8,
    ended: bool,
) -> Result<Option<(Vec<Cell>, usize)>, Failure> {
    let mut cells = Vec::new();
    let mut start = 0;
    loop {
        let Some(span) = cell(bytes, start, base, delimiter, ended)? else {
            return Ok(None);
        };
        let content = span.content(bytes);
        let text = utf8(&content, base + start as u64, span.end - start)?;
        cells.push(Cell {
            text: text.to_owned(),
            quoted: span.quoted,
            at: place(base + start as u64, span.end - start),
        });
        match behind(bytes, span.end, delimiter, ended) {
            Behind::Cell(next) => start = next,
            Behind::Line(next, _) => return Ok(Some((cells, next))),
            Behind::More => return Ok(None),
        }
    }
}

/// `bytes` as text. `offset` and `length` are those of the cell or line in the file.
pub fn utf8(bytes: &[u8], offset: u64, length: usize) -> Result<&str, Failure> {
    std::str::from_utf8(bytes).map_err(|error| {
        let good = error.valid_up_to();
        let wrong = bytes.get(good).copied().unwrap_or_default();
        failure(
            format!("byte 0x{wrong:02X} is not UTF-8 text"),
            "save the file as UTF-8",
            // Doubled quotes move the place inside a quoted cell: then the cell is the place.
            if bytes.len() == length {
                place(offset + good as u64, 1)
            } else {
                place(offset, length)
            },
        )
    })
}

/// A line end that old systems wrote.
#[cold]
pub fn lone_cr(offset: u64) -> Failure {
    failure(
        "a line ends with CR alone",
        "save the file with LF or CRLF line ends, or put quotes around the cell if the CR belongs to its text",
        place(offset, 1),
    )
}

/// A byte that no text has.
#[cold]
pub fn nul(offset: u64) -> Failure {
    failure(
        "a NUL byte: this is not delimited text in UTF-8",
        "check that it is the right file, and save it as UTF-8",
        place(offset, 1),
    )
}

/// A line that never ends.
#[cold]
pub fn too_long(offset: u64, start: &[u8]) -> Failure {
    let shown = String::from_utf8_lossy(start.get(..40).unwrap_or(start)).into_owned();
    failure(
        format!(
            "the line that starts with {} is longer than 1 MiB",
            quoted(&shown)
        ),
        "check that it is the right file; a quote that is not closed joins lines too",
        place(offset, 0),
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn texts(line: &str) -> Vec<String> {
        let (cells, used) = record(line.as_bytes(), 0, b',', true).unwrap().unwrap();
        assert_eq!(used, line.len());
        cells.into_iter().map(|cell| cell.text).collect()
    }

    /// Examples of RFC 4180 section 2, rules 5 to 7.
    #[test]
    fn quoting() {
        assert_eq!(
            texts("\"aaa\",\"b \r\nbb\",\"ccc\"\r\n"),
            ["aaa", "b \r\nbb", "ccc"]
        );
        assert_eq!(
            texts("\"aaa\",\"b\"\"bb\",\"ccc\""),
            ["aaa", "b\"bb", "ccc"]
        );
        assert_eq!(texts("\"\",,\"\"\"\"\n"), ["", "", "\""]);
        // Quotes inside a cell that does not start with one stand for themselves.
        assert_eq!(texts("focus,1'9\"\n"), ["focus", "1'9\""]);
    }

    #[test]
    fn places_are_those_of_the_cells() {
        let (cells, _) = record(b"ab,\"c\"\n", 100, b',', true).unwrap().unwrap();
        assert_eq!(cells[1].at, place(103, 3));
    }

    #[test]
    fn wants_more_until_the_end_is_seen() {
        let line = b"a,\"b\"\"\",c\r\n";
        for cut in 0..line.len() {
            assert_eq!(record(&line[..cut], 0, b',', false).unwrap(), None, "{cut}");
        }
        assert!(record(line, 0, b',', false).unwrap().is_some());
    }

    #[test]
    fn damaged_cells_name_their_place() {
        for (line, offset, words) in [
            (&b"a,\"bc"[..], 2, "not closed"),
            (b"a,\"b\"c", 5, "closing quote"),
            (b"a\rb", 1, "CR alone"),
            (b"\"a\"\rb", 3, "CR alone"),
            (b"a,b\0", 3, "NUL"),
            (b"a,\"\0\"", 3, "NUL"),
            (b"a,b\xff", 3, "UTF-8"),
        ] {
            let error = record(line, 0, b',', true).unwrap_err();
            assert_eq!(error.at.unwrap().offset, offset, "{}", error.message);
            assert!(error.message.contains(words), "{}", error.message);
        }
    }
}
