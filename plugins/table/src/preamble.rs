//! Everything above the rows: skipped lines, `# key: value` lines, and the header.

use ringmark_sdk::bytes::Window;
use ringmark_sdk::{Failure, failure};

use crate::header::detect_delimiter;
use crate::mapping::{Mapping, mapping_failure};
use crate::records::{Cell, LONGEST_LINE, lone_cr, nul, record, too_long, utf8};
use crate::say::place;
use crate::statics::Line;

/// Most columns of a table.
pub const MOST_COLUMNS: usize = 4096;

/// What stands above the rows.
#[derive(Debug)]
pub struct Preamble {
    /// The `# key: value` lines.
    pub lines: Vec<Line>,
    /// The header; `column N` where the mapping says that there is none.
    pub header: Vec<Cell>,
    /// Byte between cells.
    pub delimiter: u8,
}

/// Reads up to the first row. The window stands there afterwards.
pub fn read(window: &mut Window, mapping: &Mapping) -> Result<Preamble, Failure> {
    window.more();
    skip_byte_order_mark(window)?;
    for skipped in 0..mapping.skip_lines {
        let Some(line) = whole_line(window)? else {
            return Err(mapping_failure(
                format!(
                    "skip_lines is {}, but the file has {skipped} lines",
                    mapping.skip_lines
                ),
                "correct skip_lines",
            ));
        };
        window.advance(line.with_end);
    }
    let mut lines = Vec::new();
    let mut size = 0;
    loop {
        let Some(line) = whole_line(window)? else {
            return Err(no_header(window, !lines.is_empty()));
        };
        let offset = window.offset();
        let bytes = window.bytes().get(..line.content).unwrap_or_default();
        if bytes.is_empty() {
            window.advance(line.with_end);
            continue;
        }
        let Some(comment) = bytes.strip_prefix(b"#") else {
            break;
        };
        if let Some(at) = bytes.iter().position(|&byte| byte == b'\r') {
            return Err(lone_cr(offset + at as u64));
        }
        size += line.with_end;
        if size > LONGEST_LINE {
            return Err(failure(
                "the lines that start with # are longer than 1 MiB together",
                "check that it is the right file",
                place(offset, line.content),
            ));
        }
        let text = utf8(comment, offset + 1, comment.len())?;
        lines.extend(Line::parse(text, offset));
        window.advance(line.with_end);
    }
    let (header, delimiter) = read_header(window, mapping)?;
    Ok(Preamble {
        lines,
        header,
        delimiter,
    })
}

fn read_header(window: &mut Window, mapping: &Mapping) -> Result<(Vec<Cell>, u8), Failure> {
    let delimiter = match mapping.delimiter()? {
        Some(stated) => stated,
        None => detect_delimiter(window.bytes()).unwrap_or(b','),
    };
    let (cells, used) = loop {
        match record(window.bytes(), window.offset(), delimiter, window.ended())? {
            Some(found) => break found,
            None if window.bytes().len() > LONGEST_LINE => {
                return Err(too_long(window.offset(), window.bytes()));
            }
            None => {
                window.more();
            }
        }
    };
    if cells.len() > MOST_COLUMNS {
        return Err(failure(
            format!(
                "the header has {} columns, more than the {MOST_COLUMNS} that are read",
                cells.len()
            ),
            "check that it is the right file and that the delimiter is a comma, a semicolon or a tab",
            place(window.offset(), 0),
        ));
    }
    if mapping.header == Some(false) {
        let names = (1..=cells.len()).map(|number| Cell {
            text: format!("column {number}"),
            quoted: false,
            at: None,
        });
        return Ok((names.collect(), delimiter));
    }
    window.advance(used);
    Ok((cells, delimiter))
}

fn skip_byte_order_mark(window: &mut Window) -> Result<(), Failure> {
    let start = window.bytes();
    if start.starts_with(&[0xEF, 0xBB, 0xBF]) {
        window.advance(3);
    } else if start.starts_with(&[0xFF, 0xFE]) || start.starts_with(&[0xFE, 0xFF]) {
        return Err(failure(
            "the file is UTF-16 text",
            "save it as UTF-8",
            place(0, 2),
        ));
    }
    Ok(())
}

#[cold]
fn no_header(window: &Window, has_lines: bool) -> Failure {
    let (message, help) = if has_lines {
        (
            "the file ends before the header",
            "below the lines that start with # stands a header such as `frame,timecode,focus distance [m]`, then one row a frame",
        )
    } else {
        (
            "the file is empty",
            "export it again: a table has a header such as `frame,timecode,focus distance [m]`, then one row a frame",
        )
    };
    failure(message, help, place(window.offset(), 0))
}

/// The line at the start of the window.
struct WholeLine {
    /// Bytes without the line end.
    content: usize,
    /// Bytes with it.
    with_end: usize,
}

/// The next line, all of whose bytes are then in the window. `None` at the end of the file.
fn whole_line(window: &mut Window) -> Result<Option<WholeLine>, Failure> {
    let mut seen = 0;
    loop {
        let bytes = window.bytes();
        let fresh = bytes.get(seen..).unwrap_or_default();
        if let Some(at) = fresh.iter().position(|&byte| byte == b'\n' || byte == 0) {
            let end = seen + at;
            if fresh.get(at) == Some(&0) {
                return Err(nul(window.offset() + end as u64));
            }
            if end > LONGEST_LINE {
                return Err(too_long(window.offset(), bytes));
            }
            let line = bytes.get(..end).unwrap_or_default();
            return Ok(Some(WholeLine {
                content: line.strip_suffix(b"\r").unwrap_or(line).len(),
                with_end: end + 1,
            }));
        }
        seen = bytes.len();
        if seen > LONGEST_LINE {
            return Err(too_long(window.offset(), bytes));
        }
        if window.ended() {
            let line = window.bytes();
            return Ok((seen > 0).then(|| WholeLine {
                content: line.strip_suffix(b"\r").unwrap_or(line).len(),
                with_end: seen,
            }));
        }
        window.more();
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use ringmark_sdk::native::MemoryInput;

    fn preamble(text: &str, mapping: &str) -> Result<(Preamble, String), Failure> {
        let mut window = Window::new(MemoryInput::boxed("t.csv", text.as_bytes()));
        let mapping = Mapping::from_options(mapping).unwrap();
        let found = read(&mut window, &mapping)?;
        let rest = String::from_utf8(window.bytes().to_vec()).unwrap();
        Ok((found, rest))
    }

    #[test]
    fn stops_at_the_first_row() {
        let (found, rest) = preamble(
            "\u{feff}# a: b\r\n\r\n# just words\n\"frame\n\";x\r\n1;2\n",
            "",
        )
        .unwrap();
        assert_eq!(found.lines.len(), 1);
        assert_eq!(found.lines[0].at, place(8, 1));
        assert_eq!(found.delimiter, b';');
        assert_eq!(found.header[0].text, "frame\n");
        assert_eq!(rest, "1;2\n");
    }

    #[test]
    fn without_header_and_with_lines_to_skip() {
        let (found, rest) = preamble(
            "x\ny\n1\t2",
            r#"{"mapping":{"skip_lines":2,"header":false}}"#,
        )
        .unwrap();
        assert_eq!(found.header[1].text, "column 2");
        assert_eq!(rest, "1\t2");
        let error = preamble("x\n", r#"{"mapping":{"skip_lines":2}}"#).unwrap_err();
        assert!(error.message.contains("1 lines"), "{}", error.message);
    }

    #[test]
    fn nothing_there() {
        assert!(preamble("", "").unwrap_err().message.contains("empty"));
        assert!(preamble("\n\n", "").unwrap_err().message.contains("empty"));
        let error = preamble("# a: b\n", "").unwrap_err();
        assert!(error.message.contains("before the header"));
        assert!(
            preamble("# a\rb: c\nx\n", "")
                .unwrap_err()
                .message
                .contains("CR")
        );
    }
}
