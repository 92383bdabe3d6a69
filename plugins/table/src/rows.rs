//! The rows of a take: one pass over the bytes, column by column, without an allocation a cell.

use ringmark_sdk::batch::NumberColumn;
use ringmark_sdk::{Column as Numbers, Failure, Labels, failure};

use crate::cells::{COMMENT_HELP, Reading};
use crate::columns::{Column, Target};
use crate::form::Form;
use crate::number;
use crate::records::{self, Behind, LONGEST_LINE, Span, ends_cell, too_long, utf8};
use crate::say::{place, quoted};
use crate::texts::Texts;

/// Cells of one column while a batch is filled.
#[derive(Debug)]
enum Cells {
    Numbers {
        column: NumberColumn,
        reading: Reading,
        /// Whether a plain decimal is a value without a closer look.
        plain: bool,
    },
    Texts {
        texts: Texts,
        /// Whether `""` is a text, and not 'not recorded'.
        keeps_empty: bool,
        /// Whether a plain text is a value without a closer look.
        plain: bool,
    },
    Ignored,
    Nameless,
}

/// One column with its header for messages.
#[derive(Debug)]
struct Slot {
    header: String,
    cells: Cells,
}

/// Rows while a batch is filled.
#[derive(Debug)]
pub struct Rows {
    form: Form,
    slots: Vec<Slot>,
    offsets: Vec<u64>,
    /// Lines that ended with LF, and with CRLF: the offset of the first of each.
    pub line_ends: [Option<u64>; 2],
}

/// Why filling stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Filled {
    /// Bytes of whole rows.
    pub used: usize,
    /// Whether more bytes are wanted.
    pub wants_more: bool,
}

/// What a batch holds.
#[derive(Debug)]
pub struct Batch {
    /// Columns of numbers.
    pub numbers: Vec<Numbers>,
    /// Columns of texts.
    pub labels: Vec<Labels>,
    /// Where the rows start.
    pub offsets: Vec<u64>,
}

impl Rows {
    /// No rows yet.
    pub fn new(columns: Vec<Column>, form: Form) -> Self {
        // A number that means 'not recorded' must not pass as a number.
        let point = form.point();
        let numeric = |text: &String| number::plain(text.as_bytes(), 0, point).is_some();
        let plain = !form.missing.iter().any(numeric);
        let unlisted = form.missing.is_empty();
        let slots = columns
            .into_iter()
            .map(|column| Slot::new(column, plain, unlisted))
            .collect();
        Rows {
            form,
            slots,
            offsets: Vec::new(),
            line_ends: [None, None],
        }
    }

    /// Rows in the batch.
    pub fn len(&self) -> usize {
        self.offsets.len()
    }

    /// The batch, which is empty afterwards.
    pub fn take(&mut self) -> Result<Batch, Failure> {
        let room = self.offsets.len();
        let mut batch = Batch {
            numbers: Vec::new(),
            labels: Vec::new(),
            offsets: std::mem::replace(&mut self.offsets, Vec::with_capacity(room)),
        };
        for slot in &mut self.slots {
            match &mut slot.cells {
                Cells::Numbers { column, .. } => batch.numbers.push(column.take()),
                Cells::Texts { texts, .. } => batch.labels.push(texts.take()?),
                Cells::Ignored | Cells::Nameless => {}
            }
        }
        Ok(batch)
    }

    /// Reads whole rows from `bytes`, which start at a row and at offset `base` of the file, until
    /// the batch has `limit` rows. `ended`: nothing follows the bytes.
    // A function of its own: inlined into all that surrounds it, its values would lie in memory
    // instead of registers.
    #[inline(never)]
    pub fn fill(
        &mut self,
        bytes: &[u8],
        base: u64,
        ended: bool,
        limit: usize,
    ) -> Result<Filled, Failure> {
        let mut start = 0;
        while self.offsets.len() < limit {
            if !self.form.blank_lines_are_frames {
                if bytes.get(start) == Some(&b'\n') {
                    start += 1;
                    continue;
                }
                if bytes.get(start) == Some(&b'\r')
                    && (bytes.get(start + 1) == Some(&b'\n') || (ended && start + 1 == bytes.len()))
                {
                    start = (start + 2).min(bytes.len());
                    continue;
                }
            }
            if start == bytes.len() {
                return Ok(Filled {
                    used: start,
                    wants_more: true,
                });
            }
            match self.row(bytes, start, base, ended)? {
                Some((next, crlf)) => {
                    if next - start > LONGEST_LINE {
                        return Err(too_long(base + start as u64, &bytes[start..]));
                    }
                    self.offsets.push(base + start as u64);
                    if let Some(seen @ None) = self.line_ends.get_mut(usize::from(crlf)) {
                        *seen = Some(base + next as u64 - 1);
                    }
                    start = next;
                }
                None => {
                    self.forget_cut_row();
                    if bytes.len() - start > LONGEST_LINE {
                        return Err(too_long(base + start as u64, &bytes[start..]));
                    }
                    return Ok(Filled {
                        used: start,
                        wants_more: true,
                    });
                }
            }
        }
        Ok(Filled {
            used: start,
            wants_more: false,
        })
    }

    /// Reads the row at `start`: where the next one starts, and whether it ends with CRLF. `None`
    /// if its end is not among the bytes; some columns then have a cell too many.
    #[inline]
    fn row(
        &mut self,
        bytes: &[u8],
        start: usize,
        base: u64,
        ended: bool,
    ) -> Result<Option<(usize, bool)>, Failure> {
        let delimiter = self.form.delimiter;
        let point = self.form.point();
        let mut at = start;
        let mut left = self.slots.len();
        for slot in &mut self.slots {
            left -= 1;
            let fast = match &mut slot.cells {
                Cells::Numbers { column, plain, .. } if *plain => {
                    match number::short(bytes, at, point) {
                        Some((value, end)) if ends_cell(bytes, end, delimiter) => {
                            column.values.push(value);
                            Some(end)
                        }
                        _ => long_number(column, bytes, at, point, delimiter),
                    }
                }
                Cells::Texts { texts, plain, .. } if *plain => {
                    texts.read_plain(bytes, at, delimiter)
                }
                _ => None,
            };
            let end = match fast {
                Some(end) => end,
                None => match slot.read(bytes, at, base, ended, &self.form)? {
                    Some(end) => end,
                    None => return Ok(None),
                },
            };
            match records::behind(bytes, end, delimiter, ended) {
                Behind::Cell(next) if left > 0 => at = next,
                Behind::Line(next, crlf) if left == 0 => return Ok(Some((next, crlf))),
                Behind::Line(..) if self.form.blank_lines_are_frames && end == start => {
                    return Ok(self.blank_row(bytes, end, ended));
                }
                Behind::More => return Ok(None),
                _ => return self.ragged(bytes, start, base, ended).map(|()| None),
            }
        }
        Ok(None)
    }

    /// A frame in which nothing was recorded: its first cell was read already.
    #[cold]
    fn blank_row(&mut self, bytes: &[u8], end: usize, ended: bool) -> Option<(usize, bool)> {
        for slot in self.slots.iter_mut().skip(1) {
            match &mut slot.cells {
                Cells::Numbers { column, .. } => column.values.push(f64::NAN),
                Cells::Texts { texts, .. } => texts.push_absent(),
                Cells::Ignored | Cells::Nameless => {}
            }
        }
        match records::behind(bytes, end, self.form.delimiter, ended) {
            Behind::Line(next, crlf) => Some((next, crlf)),
            _ => None,
        }
    }

    /// Forgets the cells of a row whose end was not there.
    #[cold]
    fn forget_cut_row(&mut self) {
        let rows = self.offsets.len();
        for slot in &mut self.slots {
            match &mut slot.cells {
                Cells::Numbers { column, .. } => column.values.truncate(rows),
                Cells::Texts { texts, .. } => texts.truncate(rows),
                Cells::Ignored | Cells::Nameless => {}
            }
        }
    }

    /// Fails on a row that has more or fewer cells than the header; no failure while its end
    /// is not among the bytes.
    #[cold]
    fn ragged(&self, bytes: &[u8], start: usize, base: u64, ended: bool) -> Result<(), Failure> {
        let rest = bytes.get(start..).unwrap_or_default();
        let offset = base + start as u64;
        let Some((cells, used)) = records::record(rest, offset, self.form.delimiter, ended)? else {
            return Ok(());
        };
        let line = rest.get(..used).unwrap_or_default().trim_ascii_end();
        let wanted = self.slots.len();
        let help = if rest.starts_with(b"#") {
            COMMENT_HELP
        } else if cells.len() > wanted && self.form.delimiter == b',' {
            "put quotes around a cell that holds a comma; a table with decimal commas needs semicolons or tabs between the cells"
        } else if ended && used == rest.len() && !rest.ends_with(b"\n") {
            "the file ends in this row: it may be cut short"
        } else {
            "give each row as many cells as the header; an empty cell means 'not recorded'"
        };
        Err(failure(
            format!(
                "this row has {} cell{}, the header has {wanted}",
                cells.len(),
                if cells.len() == 1 { "" } else { "s" }
            ),
            help,
            place(offset, line.len()),
        ))
    }
}

/// The end of a plain decimal that is not a short one, if the cell ends there.
#[cold]
#[inline(never)]
fn long_number(
    column: &mut NumberColumn,
    bytes: &[u8],
    at: usize,
    point: u8,
    delimiter: u8,
) -> Option<usize> {
    let (value, end) = number::long(bytes, at, point)?;
    if !ends_cell(bytes, end, delimiter) {
        return None;
    }
    column.values.push(value);
    Some(end)
}

impl Slot {
    /// `plain`: plain decimals need no closer look; `unlisted`: no text does.
    fn new(column: Column, plain: bool, unlisted: bool) -> Self {
        let cells = match column.target {
            Target::Numbers {
                channel,
                unit,
                reference,
                reading,
            } => Cells::Numbers {
                column: NumberColumn::new(channel, unit, reference),
                reading,
                plain: plain && reading.takes_bare_numbers(),
            },
            Target::Texts { channel, form } => Cells::Texts {
                texts: Texts::new(channel, form),
                keeps_empty: !column.known,
                plain: unlisted,
            },
            Target::Ignored => Cells::Ignored,
            Target::Nameless => Cells::Nameless,
        };
        Slot {
            header: column.header,
            cells,
        }
    }

    /// Reads any cell: where it ends, `None` if its end is not among the bytes.
    fn read(
        &mut self,
        bytes: &[u8],
        at: usize,
        base: u64,
        ended: bool,
        form: &Form,
    ) -> Result<Option<usize>, Failure> {
        let Some(span) = records::cell(bytes, at, base, form.delimiter, ended)? else {
            return Ok(None);
        };
        let content = span.content(bytes);
        let offset = base + at as u64;
        let length = span.end - span.start;
        match &mut self.cells {
            Cells::Numbers {
                column, reading, ..
            } => {
                let value = if form.is_missing(&content) {
                    f64::NAN
                } else {
                    let text = utf8(&content, offset, length)?;
                    reading.read(text).map_err(|error| {
                        failure(
                            Reading::message(text, &self.header, &error),
                            error.help.as_str(),
                            place(offset, length),
                        )
                    })?
                };
                column.values.push(value);
            }
            Cells::Texts {
                texts, keeps_empty, ..
            } => {
                let empty_text = span.quoted && *keeps_empty && content.is_empty();
                if form.is_missing(&content) && !empty_text {
                    texts.push_absent();
                } else {
                    if !content.is_ascii() {
                        utf8(&content, offset, length)?;
                    }
                    texts.push(&content, span.quoted);
                }
            }
            Cells::Ignored => {
                utf8(&content, offset, length)?;
            }
            Cells::Nameless if content.is_empty() => {}
            Cells::Nameless => return Err(nameless(&content, offset, span)),
        }
        Ok(Some(span.end))
    }
}

#[cold]
fn nameless(content: &[u8], offset: u64, span: Span) -> Failure {
    failure(
        format!(
            "{} stands in a column that has no name",
            quoted(&String::from_utf8_lossy(content))
        ),
        "name the column in the header",
        place(offset, span.end - span.start),
    )
}
